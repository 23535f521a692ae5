using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Simulation;
using Diagnostics.Tests.History;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Chronicles;

/// <summary>What happened between two moments: which rows are taken, what is a gap, who was there, what stood.</summary>
public sealed class ChronicleTests
{
    private static readonly Instant Day = Instant.FromDateTime(new(2026, 3, 2, 0, 0, 0, TimeSpan.Zero));

    private static Instant At(double seconds) => Day + TimeSpan.FromSeconds(seconds);

    private static TrafficRow Row(double start, double seconds, double load = 0.1, long errors = 0, int nodes = 0, double? heard = null) =>
        new(At(start), seconds, "can0", load, 2 * load, 10, errors, nodes) { HeardSeconds = heard ?? seconds, ErrorEpisodes = errors, Restarts = 0 };

    private static FindingReport Finding(string key, double start, double? end, int count, string severity = "fault") => new()
    {
        Key = key,
        Finding = "node.silent",
        Severity = severity,
        Start = At(start),
        Raised = At(start),
        End = end is double over ? At(over) : null,
        Count = count,
        Confidence = 1,
        Summary = "It happened.",
        Measurements = [],
        Evidence = [],
        Causes = [],
    };

    private static NodeEvent Node(double time, int address, NodeEventKind kind) => new(At(time), "can0", address, kind, kind == NodeEventKind.Appeared ? "door" : null);

    [Theory]
    [InlineData(60, 600, 1)]
    [InlineData(599, 600, 1)]
    [InlineData(3600, 600, 10)]
    [InlineData(86_400, 600, 300)]
    [InlineData(7 * 86_400, 600, 1800)]
    [InlineData(365 * 86_400, 600, 86_400)]
    [InlineData(3650.0 * 86_400, 600, 604_800)]
    [InlineData(3650.0 * 86_400, 10, 68 * 604_800)]
    public void ColumnsAreTheShortestOfWhichThereAreFewEnough(double span, int columns, double step)
    {
        TimeSpan found = Chronicle.StepFor(TimeSpan.FromSeconds(span), columns);
        Assert.True(found.TotalSeconds <= step, $"{found.TotalSeconds}");
        Assert.True(span / found.TotalSeconds <= columns - 1);
        Stretch stretch = new Chronicle(new Source()).Of(At(7.3), At(7.3 + span), columns);
        Assert.InRange(stretch.Count, 1, columns);
        Assert.True(stretch.From <= At(7.3) && stretch.To >= At(7.3 + span));
    }

    /// <summary>Each tier says the same of a day, so whichever is read, nothing is counted twice or lost.</summary>
    [Theory]
    [InlineData(20)]
    [InlineData(40)]
    [InlineData(120)]
    [InlineData(600)]
    public void WhateverTheColumnsTheErrorsAreTheSame(int columns)
    {
        Source source = new();
        for (int minute = 0; minute < 1440; minute++)
        {
            long errors = minute % 7;
            source.Rows[StoreSeries.Minutes].Add(Row(minute * 60, 60, errors: errors));
        }

        Join(source, StoreSeries.Quarters, 15);
        Join(source, StoreSeries.Hours, 60);
        Stretch stretch = new Chronicle(source).Of(Day, At(86_400), columns);
        Assert.Equal(source.Rows[StoreSeries.Minutes].Sum(row => row.Errors), stretch.Buses[0].Columns.Sum(column => column.Errors));
        Assert.Equal(86_400, stretch.Buses[0].Columns.Sum(column => column.CoveredSeconds), 1.0);
        Assert.Empty(stretch.NotSeen());
        Assert.DoesNotContain(stretch.Buses[0].Columns, column => column.IsCoarse);
    }

    /// <summary>The hour that goes on has no hour row yet; its minutes and seconds stand for it.</summary>
    [Fact]
    public void WhatTheCoarseRowsDoNotHaveYetIsTakenFromFinerOnes()
    {
        Source source = new();
        for (int hour = 0; hour < 48; hour++)
        {
            source.Rows[StoreSeries.Hours].Add(Row(hour * 3600, 3600, errors: 5));
        }

        source.Rows[StoreSeries.Quarters].Add(Row(48 * 3600, 900, errors: 1));
        source.Rows[StoreSeries.Minutes].Add(Row((48 * 3600) + 900, 60, errors: 1));
        source.Rows[StoreSeries.Seconds].Add(Row((48 * 3600) + 960, 1, errors: 1));
        source.Last = At((48 * 3600) + 961);
        Stretch stretch = new Chronicle(source).Of(Day, At(50 * 3600), 60);
        Assert.Equal(TimeSpan.FromHours(1), stretch.Step);
        Assert.Equal((48 * 5) + 3, stretch.Buses[0].Columns.Sum(column => column.Errors));
        Assert.Equal(961, stretch.Buses[0].Columns[48].CoveredSeconds, 0.01);
        Assert.False(stretch.IsWithinReach(49));
        Assert.Empty(stretch.NotSeen());
    }

    [Fact]
    public void WhereFineRowsHaveBeenLetGoTheLongerOnesAreShownAndSaidToBeCoarse()
    {
        Source source = new();
        source.Rows[StoreSeries.Minutes].Add(Row(0, 60, load: 0.25, errors: 4));
        Stretch stretch = new Chronicle(source).Of(At(0), At(60), 600);
        Assert.Equal(TimeSpan.FromSeconds(1), stretch.Step);
        Assert.All(stretch.Buses[0].Columns.Take(60), column => Assert.Equal((0.25, true), (column.LoadMean!.Value, column.IsCoarse)));
        Assert.Equal(4, stretch.Buses[0].Columns.Sum(column => column.Errors));
    }

    [Fact]
    public void WhatNoRowCoversIsNotSeenAndNeverZero()
    {
        Source source = new();
        for (int minute = 0; minute < 60; minute++)
        {
            if (minute is < 20 or >= 30)
            {
                source.Rows[StoreSeries.Minutes].Add(Row(minute * 60, 60, heard: minute == 40 ? 20 : 60));
            }
        }

        Stretch stretch = new Chronicle(source).Of(Day, At(3600), 62);
        (int first, int last) = Assert.Single(stretch.NotSeen());
        Assert.Equal((20, 29), (first, last));
        Assert.Null(stretch.Buses[0].Columns[25].LoadMean);
        Assert.False(stretch.Buses[0].Columns[25].IsSeen);
        Assert.True(stretch.Buses[0].Columns[40].HasHole);
        Assert.False(stretch.Buses[0].Columns[41].HasHole);
    }

    [Fact]
    public void BeforeTheLogAndAfterItIsNeitherSeenNorNotSeen()
    {
        Source source = new();
        source.Rows[StoreSeries.Minutes].Add(Row(600, 60));
        Stretch stretch = new Chronicle(source).Of(Day, At(3600), 62);
        Assert.Empty(stretch.NotSeen());
        Assert.False(stretch.IsWithinReach(5));
        Assert.True(stretch.IsWithinReach(10));
        Stretch nothing = new Chronicle(new Source { First = null, Last = null }).Of(Day, At(3600), 62);
        Assert.Empty(nothing.Buses);
        Assert.Empty(nothing.NotSeen());
    }

    [Fact]
    public void ANodeIsHeardSilentAndHeardAgain()
    {
        Source source = Hour(nodes: 1);
        source.Runs.Add(new(Day, [], [Node(10, 5, NodeEventKind.Appeared), Node(1200, 5, NodeEventKind.Silent), Node(1800, 5, NodeEventKind.Returned), Node(2400, 5, NodeEventKind.Restarted)]));
        NodeStretch node = Assert.Single(new Chronicle(source).Of(Day, At(3600), 62).Nodes);
        Assert.Equal("door", node.Name);
        Assert.Equal(Presence.Heard, node.Cells[10]);
        Assert.Equal(Presence.Silent, node.Cells[25]);
        Assert.Equal(Presence.Heard, node.Cells[31]);
        Assert.Equal((At(1200), (Instant?)At(1800)), Assert.Single(node.Silences));
        Assert.Equal(At(2400), Assert.Single(node.Restarts));
    }

    /// <summary>Presence that goes on from before the stretch is known in it; that of a node which is still silent has no end.</summary>
    [Fact]
    public void WhatBeganBeforeTheStretchIsKnownInIt()
    {
        Source source = Hour(nodes: 1);
        source.Runs.Add(new(Day, [], [Node(10, 5, NodeEventKind.Appeared), Node(20, 6, NodeEventKind.Appeared), Node(100, 6, NodeEventKind.Silent)]));
        IReadOnlyList<NodeStretch> nodes = new Chronicle(source).Of(At(1800), At(3600), 62).Nodes;
        Assert.All(nodes[0].Cells.Take(30), cell => Assert.Equal(Presence.Heard, cell));
        Assert.All(nodes[1].Cells.Take(30), cell => Assert.Equal(Presence.Silent, cell));
        Assert.Null(Assert.Single(nodes[1].Silences).To);
    }

    /// <summary>Three are thought to be there and two were present: of the one whose silence nobody ever noticed it can't be told.</summary>
    [Fact]
    public void OfANodeWithNothingRegularPresenceCannotBeTold()
    {
        Source source = Hour(nodes: 2);
        source.Runs.Add(new(Day, [], [
            Node(1, 5, NodeEventKind.Appeared), Node(1, 6, NodeEventKind.Appeared), Node(1, 7, NodeEventKind.Appeared),
            Node(2, 5, NodeEventKind.Silent), Node(3, 5, NodeEventKind.Returned), Node(2, 6, NodeEventKind.Silent), Node(3, 6, NodeEventKind.Returned)]));
        IReadOnlyList<NodeStretch> nodes = new Chronicle(source).Of(At(600), At(3600), 62).Nodes;
        Assert.Equal([Presence.Heard, Presence.Heard, Presence.CannotTell], nodes.Select(node => node.Cells[20]));
    }

    /// <summary>What is noticed as a minute ends is counted in the row of that minute.</summary>
    [Fact]
    public void InTheMinuteInWhichItCannotBeToldOfOneAnyMoreNobodyElseIsDoubted()
    {
        Source source = Hour(nodes: 2);
        source.Runs.Add(new(Day, [], [
            Node(1, 5, NodeEventKind.Appeared), Node(1, 6, NodeEventKind.Appeared), Node(1, 7, NodeEventKind.Appeared), Node(2, 7, NodeEventKind.CannotTell),
            Node(1200, 7, NodeEventKind.CanTell), Node(1260, 7, NodeEventKind.CannotTell)]));
        IReadOnlyList<NodeStretch> nodes = new Chronicle(source).Of(At(600), At(3600), 62).Nodes;
        Assert.All(nodes, node => Assert.Equal(Presence.Heard, node.Cells[10]));
    }

    /// <summary>The log says of which node it can't be told, so nobody else is doubted for it: one of three isn't counted as present.</summary>
    [Fact]
    public void WhomTheLogNamesIsTheOnlyOneThatCannotBeTold()
    {
        Source source = Hour(nodes: 2);
        source.Runs.Add(new(Day, [], [
            Node(1, 5, NodeEventKind.Appeared), Node(1, 6, NodeEventKind.Appeared), Node(1, 7, NodeEventKind.Appeared),
            Node(600, 7, NodeEventKind.CannotTell), Node(900, 7, NodeEventKind.Restarted), Node(1800, 7, NodeEventKind.CanTell)]));
        IReadOnlyList<NodeStretch> nodes = new Chronicle(source).Of(At(600), At(1800), 62).Nodes;
        Assert.All(nodes.Take(2), node => Assert.All(node.Cells.SkipLast(1), cell => Assert.Equal(Presence.Heard, cell)));
        Assert.All(nodes[2].Cells.SkipLast(1), cell => Assert.Equal(Presence.CannotTell, cell));
        Assert.Equal(Presence.Heard, new Chronicle(source).Of(At(1800), At(3600), 62).Nodes[2].Cells[5]);
    }

    /// <summary>A row counts who is present at its end: a node that was lost in its middle makes nobody doubtful before.</summary>
    [Fact]
    public void ARowThatEndsWithOneNodeLessDoubtsNobody()
    {
        Source source = new();
        source.Rows[StoreSeries.Minutes].AddRange([Row(0, 60, nodes: 2), Row(60, 60, nodes: 1)]);
        source.Runs.Add(new(Day, [], [Node(1, 5, NodeEventKind.Appeared), Node(1, 6, NodeEventKind.Appeared), Node(90, 6, NodeEventKind.Silent)]));
        IReadOnlyList<NodeStretch> nodes = new Chronicle(source).Of(At(10), At(120), 13).Nodes;
        Assert.All(nodes[0].Cells.Take(11), cell => Assert.Equal(Presence.Heard, cell));
        Assert.Contains(Presence.Silent, nodes[1].Cells);
    }

    /// <summary>The minute that goes on has no row yet: events in it don't make it missed, in a log that is read or in one that is written.</summary>
    [Fact]
    public void WhatHasNoRowYetIsNotMissed()
    {
        Source source = Hour();
        source.Last = At(3640);
        Chronicle chronicle = new(source);
        Assert.Empty(chronicle.Of(At(1800), At(3640), 200).NotSeen());
        Assert.Equal(At(3600), chronicle.Of(At(1800), At(3640), 200).Reach.Last);
        chronicle.OnWritten(new([], [], [Node(3650, 5, NodeEventKind.Appeared)]) { Time = At(3650) });
        Assert.Empty(chronicle.Of(At(1800), At(3650), 200).BlindSpans());

        source.Rows[StoreSeries.Minutes].Add(Row(3660, 60));
        chronicle.OnWritten(new([], [(StoreSeries.Minutes, Row(3660, 60))], []) { Time = At(3720) });
        Assert.Equal([(At(3600), At(3660))], chronicle.Of(At(1800), At(3720), 200).BlindSpans());
    }

    /// <summary>The service was off: nobody knows who was there.</summary>
    [Fact]
    public void WhereNobodyListenedNobodyIsPresent()
    {
        Source source = new();
        source.Rows[StoreSeries.Minutes].Add(Row(0, 60, nodes: 1));
        source.Rows[StoreSeries.Minutes].Add(Row(1800, 60, nodes: 1));
        source.Runs.Add(new(Day, [(At(30), Finding("a", 30, null, 1))], [Node(1, 5, NodeEventKind.Appeared)]));
        source.Runs.Add(new(At(1800), [], [Node(1801, 5, NodeEventKind.Appeared)]));
        Stretch stretch = new Chronicle(source).Of(Day, At(1860), 62);
        NodeStretch node = Assert.Single(stretch.Nodes);
        Assert.Equal([Presence.Heard, Presence.Nothing, Presence.Heard], [node.Cells[0], node.Cells[15], node.Cells[30]]);

        // A finding that lasted when its run ended lasted until then, and nobody knows how much longer.
        FindingEpisode episode = Assert.Single(stretch.Findings);
        Assert.True(episode.EndsWithRun);
        Assert.InRange(episode.To!.Value.SecondsSince(Day), 30, 60);
        Assert.Equal(At(1800), stretch.Starts[^1]);
    }

    [Fact]
    public void AFindingThatComesAndGoesHasAnEpisodeForEachTime()
    {
        Source source = Hour();
        source.Runs.Add(new(Day, [
            (At(100), Finding("a", 90, null, 1)), (At(200), Finding("a", 90, 200, 1)),
            (At(900), Finding("a", 90, null, 2)), (At(1000), Finding("a", 90, 1000, 2)),
            (At(2000), Finding("b", 1990, null, 1, "warning"))], []));
        Chronicle chronicle = new(source);
        Assert.Equal(
            [("a", At(90), (Instant?)At(200)), ("a", At(900), At(1000)), ("b", At(1990), null)],
            chronicle.Of(Day, At(3600), 62).Findings.Select(episode => (episode.Key, episode.From, episode.To)));
        Assert.Equal(["a", "b"], chronicle.Of(At(960), At(3600), 62).Findings.Select(episode => episode.Key));
        Assert.Equal("b", Assert.Single(chronicle.Of(At(1200), At(3600), 62).Findings).Key);
    }

    [Fact]
    public void WhatIsWrittenComesIntoWhatWasReadAhead()
    {
        Source source = Hour();
        source.Runs.Add(new(Day, [], []));
        Chronicle chronicle = new(source);
        chronicle.Prepare();
        chronicle.OnWritten(new([Finding("a", 100, null, 1)], [], [Node(100, 5, NodeEventKind.Appeared)]) { Time = At(101) });
        Assert.Equal(1, chronicle.Version);
        Stretch stretch = chronicle.Of(Day, At(3600), 62);
        Assert.Single(stretch.Findings);
        Assert.Single(stretch.Nodes);

        // The board was told the time: all of this run is read anew, and what comes is moved.
        source.Runs[0] = new(Day, [(At(3700), Finding("a", 3700, null, 1))], []);
        chronicle.OnWritten(new([], [], []) { Time = At(110), WallMinusLine = TimeSpan.FromHours(1) });
        Assert.Empty(chronicle.Of(Day, At(3600), 62).Findings);
        chronicle.OnWritten(new([Finding("b", 120, null, 1)], [], []) { Time = At(121) });
        Assert.Equal(At(3720), chronicle.Of(At(3600), At(7200), 62).Findings.Single(episode => episode.Key == "b").From);
    }

    /// <summary>A bundle may hold anything: rows that overlap, that run backwards, that are years long, on a hundred buses.</summary>
    [Fact]
    public void HostileRowsStayWithinBounds()
    {
        Source source = new() { Last = At(1e9) };
        Random random = new(5);
        foreach (StoreSeries tier in source.Rows.Keys)
        {
            for (int place = 0; place < 500; place++)
            {
                source.Rows[tier].Add(new(At(random.NextDouble() * 4000), random.NextDouble() * Math.Pow(10, random.Next(9)), "can" + random.Next(100), random.Next(2) == 0 ? null : random.NextDouble() * 1000, null, -5, random.Next(5) - 2, 200));
            }

            source.Rows[tier].Sort((a, b) => a.Start.CompareTo(b.Start));
        }

        Stretch stretch = new Chronicle(source).Of(Day, At(3600), 100);
        Assert.InRange(stretch.Buses.Count, 1, Agent.Limits.ChronicleBuses);
        Assert.All(stretch.Buses.SelectMany(bus => bus.Columns), column => Assert.True(column.Errors >= 0 && column.HeardSeconds <= column.CoveredSeconds + 1e-6 && double.IsFinite(column.LoadMean ?? 0)));
    }

    /// <summary>The log that the service itself writes, while it is open and read-only afterwards, says the same.</summary>
    [Fact]
    public void AnOpenLogAndAnOpenedOneSayTheSame()
    {
        DirectoryInfo directory = Directory.CreateTempSubdirectory("chronicle");
        try
        {
            Site site = Library(new NodeWithoutPower(9) { Start = TimeSpan.FromMinutes(4), End = TimeSpan.FromMinutes(7) });
            Stretch written;
            using (SimulatedLog run = SimulatedLog.Begin(directory.FullName, site, TimeSpan.FromMinutes(10)))
            {
                written = new Chronicle(run.Log).Of(site.Start, site.Start + TimeSpan.FromMinutes(10), 100);
            }

            using StoredHistory log = StoredHistory.OpenReadOnly(directory.FullName, TimeProvider.System);
            Stretch opened = new Chronicle(log).Of(site.Start, site.Start + TimeSpan.FromMinutes(10), 100);
            Assert.Equal(written.Buses[0].Columns, opened.Buses[0].Columns);
            Assert.Equal(written.Findings, opened.Findings);
            NodeStretch lost = opened.Nodes.Single(node => node.Address == 9);
            Assert.Single(lost.Silences);
            Assert.Contains(Presence.Silent, lost.Cells);
            Assert.Contains(opened.Findings, finding => finding.Finding == "node.silent");
        }
        finally
        {
            directory.Delete(recursive: true);
        }
    }

    private static MeasuredRow Volts(double start, double lowest, double mean, double highest) => new(At(start), [new("supplyVolts", lowest, mean, highest), new("lineHighVolts", 2, 2.5, 3)]);

    /// <summary>Five-minute columns: the lowest of all is kept, the mean is that of the minutes that are there, and ten minutes without a value are none.</summary>
    [Fact]
    public void MeasuredMinutesAreJoinedToColumnsAndGapsStayGaps()
    {
        Source source = Hour();
        for (int minute = 0; minute < 60; minute++)
        {
            if (minute is < 20 or >= 30)
            {
                source.Measured.Add(Volts(minute * 60, minute == 42 ? 19 : 23, 23.5, 24));
            }
        }

        MeasuredStretch volts = Assert.Single(new Chronicle(source).Of(At(0), At(3600), 13).Measured);
        Assert.Equal("supplyVolts", volts.Quantity);
        Assert.Equal(
            Enumerable.Range(0, 12).Select(column => column is 4 or 5 ? (MeasuredColumn?)null : new MeasuredColumn(column == 8 ? 19 : 23, 23.5, 24, 300)),
            volts.Columns.Take(12));
    }

    [Fact]
    public void AMinuteFillsTheShorterColumnsThatItReachesOver()
    {
        Source source = Hour();
        source.Measured.AddRange([Volts(0, 22, 23, 24), Volts(120, 20, 21, 22)]);
        MeasuredStretch volts = Assert.Single(new Chronicle(source).Of(At(0), At(180), 10).Measured);
        Assert.Equal([.. Enumerable.Repeat<double?>(22, 2), null, null, .. Enumerable.Repeat<double?>(20, 2)], volts.Columns.Take(6).Select(column => column?.Lowest));
    }

    /// <summary>Weeks are drawn from hours that are joined once and kept up to date.</summary>
    [Fact]
    public void WeeksAreDrawnFromHoursToWhichWhatIsWrittenIsAdded()
    {
        Source source = Hour();
        source.Measured.AddRange([Volts(0, 22, 23, 24), Volts(60, 20, 21, 24.5)]);
        Chronicle chronicle = new(source);
        MeasuredColumn first = Assert.Single(chronicle.Of(At(0), At(14 * 86_400), 600).Measured).Columns[0]!.Value;
        Assert.Equal(new(20, 22, 24.5, 120), first);
        chronicle.OnWritten(HistoryBatch.Nothing with { Time = At(200), Measured = [Volts(120, 18, 19, 20)] });
        first = Assert.Single(chronicle.Of(At(0), At(14 * 86_400), 600).Measured).Columns[0]!.Value;
        Assert.Equal((18, 21, 24.5, 180), (first.Lowest, Math.Round(first.Mean, 9), first.Highest, first.Seconds));
    }

    [Fact]
    public void NothingMeasuredGivesNoTrack() => Assert.Empty(new Chronicle(Hour()).Of(At(0), At(3600), 100).Measured);

    private static Source Hour(int nodes = 0)
    {
        Source source = new();
        for (int minute = 0; minute < 60; minute++)
        {
            source.Rows[StoreSeries.Minutes].Add(Row(minute * 60, 60, nodes: nodes));
        }

        return source;
    }

    private static void Join(Source source, StoreSeries tier, int minutes)
    {
        foreach (TrafficRow[] part in source.Rows[StoreSeries.Minutes].Chunk(minutes))
        {
            source.Rows[tier].Add(part.Aggregate((all, row) => all.With(row)));
        }
    }

    private sealed class Source : IChronicleSource
    {
        public Dictionary<StoreSeries, List<TrafficRow>> Rows { get; } = new()
        {
            [StoreSeries.Seconds] = [],
            [StoreSeries.Minutes] = [],
            [StoreSeries.Quarters] = [],
            [StoreSeries.Hours] = [],
        };

        public List<LogRun> Runs { get; } = [];

        public Instant? First { get; init; } = Day;

        public Instant? Last { get; set; } = Instant.MinValue;

        public IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to) => [.. Rows[tier].Where(row => row.Start >= from && row.Start <= to)];

        public IReadOnlyList<LogRun> ReadRuns() => Runs;

        public IReadOnlyList<Capture> ReadCaptures() => [];

        public IReadOnlyList<BoardEvent> ReadBoardEvents() => [];

        public IReadOnlyList<SoakRecord> ReadSoaks() => [];

        public List<MeasuredRow> Measured { get; } = [];

        public IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to) => [.. Measured.Where(row => row.Start >= from && row.Start <= to)];

        /// <summary>Where it isn't told, from the first row to the last.</summary>
        public (Instant? First, Instant? Last) ReadReach()
        {
            TrafficRow[] rows = [.. Rows.Values.SelectMany(tier => tier)];
            return Last == Instant.MinValue && rows.Length > 0 ? (rows.Min(row => row.Start), rows.Max(row => row.End)) : (First, Last);
        }
    }
}
