using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.History;

/// <summary>Stretches of a log: what is counted in them, what was found in them, who was heard.</summary>
public sealed class ObservedLogTests : IDisposable
{
    private const long Cap = 64L * 1024 * 1024;

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("observed");

    public void Dispose() => _directory.Delete(recursive: true);

    private static Instant At(double minutes) => Morning + Minutes(minutes);

    private static Site From(double minutes, params Fault[] faults) => Library(faults) with { Start = At(minutes) };

    private void Write(double fromMinutes, double minutes, params Fault[] faults) => SimulatedLog.Write(_directory.FullName, From(fromMinutes, faults), Minutes(minutes));

    private T Read<T>(Func<ObservedLog, T> read)
    {
        using StoredHistory log = StoredHistory.OpenReadOnly(_directory.FullName, TimeProvider.System);
        return read(new(log, "log", "test"));
    }

    private ComparisonReport CompareAt(double minutes, double? from = null, double? until = null) => Read(log => Comparer.Compare(
        log.Of(from is double begin ? At(begin) : null, At(minutes)), log.Of(At(minutes), until is double end ? At(end) : null), sameRecorder: true));

    private StoredHistory Open(double minutes = 0) => StoredHistory.Open(_directory.FullName, Cap, At(minutes), TimeProvider.System);

    private static (StoreSeries, TrafficRow) Row(StoreSeries tier, double minute, double minutes, long frames, long? errors = 0, string name = "can0") =>
        (tier, new(At(minute), minutes * 60, name, 0.1, 0.2, frames, errors ?? 0, 0) { HeardSeconds = minutes * 60, Bits = frames * 100, ErrorEpisodes = errors, Restarts = 0 });

    private static FindingReport Finding(FindingKind kind, int node, double start, double? end, int count) => new()
    {
        Key = $"{kind.Name}/can0/node-{node}",
        Finding = kind.Name,
        Severity = "fault",
        Interface = "can0",
        Node = node,
        Start = At(start),
        Raised = At(start + 0.5),
        End = end is double over ? At(over) : null,
        Count = count,
        Confidence = 1,
        Summary = "It happened.",
        Measurements = [],
        Evidence = [],
        Causes = [],
    };

    private static HistoryBatch Batch(double minute, params FindingReport[] findings) => new(findings, [], []) { Time = At(minute) };

    [Fact]
    public void TheLogCountsWhatTheTraceCounts()
    {
        BadDrop fault = new(9, 2e-3) { End = Minutes(13) };
        Write(0, 27, fault);
        ObservedPeriod trace = ObservedPeriod.Of(
            System.Text.Json.JsonSerializer.Deserialize(OfBytes(TraceOf(From(0, fault), Minutes(27)), "--bit-rate", "125000").Report.GetRawText(), ReportJson.Default.Report)!, "trace", "t");
        ObservedPeriod whole = Read(log => log.Of(null, null));
        ObservedBus bus = Assert.Single(whole.Buses);

        // The trace ends with its last frame, the log with its last second.
        Assert.Equal(trace.Buses[0].Totals.Frames, bus.Totals.Frames);
        Assert.Equal(trace.Buses[0].Totals.ErrorEpisodes, bus.Totals.ErrorEpisodes);
        Assert.InRange(bus.Totals.Bits!.Value, trace.Buses[0].Totals.Bits!.Value - 40, trace.Buses[0].Totals.Bits!.Value + 40);
        Assert.Equal(27 * 60, bus.Totals.HeardSeconds, 1.0);
        Assert.Equal(trace.Buses[0].Nodes.Select(node => node.Address), bus.Nodes.Select(node => node.Address));

        // Wherever it is cut at a full minute, both parts add up: none is counted twice.
        foreach (double cut in new[] { 1.0, 13, 14.5, 15, 26 })
        {
            (ObservedPeriod first, ObservedPeriod second) = Read(log => (log.Of(null, At(cut)), log.Of(At(cut), null)));
            Assert.Equal(bus.Totals.Frames, first.Buses[0].Totals.Frames + second.Buses[0].Totals.Frames);
            Assert.Equal(bus.Totals.ErrorEpisodes, first.Buses[0].Totals.ErrorEpisodes + second.Buses[0].Totals.ErrorEpisodes);
            Assert.Equal(At(cut), first.End);
            Assert.Equal(At(cut), second.Start);
        }
    }

    [Fact]
    public void OneLogBeforeAndAfterARepair()
    {
        Write(0, 40, new BadDrop(9, 2e-3) { End = Minutes(15) }, new NodeWithoutPower(13) { Start = Minutes(5), End = Minutes(14) });
        ComparisonReport comparison = CompareAt(15);
        Assert.Equal(ComparedFinding.Gone, Assert.Single(comparison.Findings, finding => finding.Finding == Catalogue.NodeErrors.Name).Outcome);

        // It came back by itself, or so it looks: once in a quarter of an hour, so four hours and three quarters are needed.
        ComparedFinding silence = Assert.Single(comparison.Findings, finding => finding.Finding == Catalogue.NodeSilent.Name);
        Assert.Equal(ComparedFinding.NotSeenAgain, silence.Outcome);
        Assert.Equal(19 * 15 * 60 - (25 * 60), silence.MoreSeconds!.Value, 30.0);
        Assert.Equal(ComparisonReport.CannotTell, comparison.Verdict);

        // With the cut just behind its return it had ended; right at it, it is told how close that is.
        ComparedFinding early = Assert.Single(CompareAt(14).Findings, finding => finding.Finding == Catalogue.NodeSilent.Name);
        Assert.Equal(ComparedFinding.StillThere, early.Outcome);
        Assert.Matches("after: what had begun before, last [0-9.]+ m?s behind the cut\\.$", early.Why);
        Assert.Equal(ComparedFinding.StillThere, Assert.Single(CompareAt(10).Findings, finding => finding.Finding == Catalogue.NodeSilent.Name).Outcome);
        Assert.Equal(ComparedFinding.StillThere, Assert.Single(CompareAt(10).Findings, finding => finding.Finding == Catalogue.NodeErrors.Name).Outcome);
        Assert.Equal(ComparisonReport.Worse, CompareAt(3).Verdict);
    }

    /// <summary>The technician cuts the board's power, repairs, and puts it on again: the fault that was open when the run broke off isn't open behind it.</summary>
    [Fact]
    public void AFaultThatWasOpenWhenTheRunEndedIsNotStillThere()
    {
        Write(0, 15, new NodeWithoutPower(13) { Start = Minutes(5) });
        Write(30, 15);
        ComparisonReport comparison = CompareAt(20);
        Assert.Equal(ComparisonReport.Fixed, comparison.Verdict);
        Assert.Empty(comparison.Nodes);
        Assert.Equal((At(15), At(30)), (comparison.Before.End, comparison.After.Start));

        // Without the cut in the right place it is one long story: silent, and then a new run.
        Assert.Equal(ComparedFinding.StillThere, Assert.Single(CompareAt(10).Findings, finding => finding.Finding == Catalogue.NodeSilent.Name).Outcome);
    }

    [Fact]
    public void AModuleThatIsMissingInTheNextRunIsMissed()
    {
        Write(0, 5);
        Write(10, 12, new OpenDrop(11));
        ComparisonReport comparison = CompareAt(8);
        Assert.Equal((11, ComparedNode.Missing), (Assert.Single(comparison.Nodes).Address, comparison.Nodes[0].Change));
        Assert.Equal(ComparisonReport.Worse, comparison.Verdict);
    }

    [Fact]
    public void ALogThatIsBeingWrittenIsRead()
    {
        using SimulatedLog running = SimulatedLog.Begin(_directory.FullName, From(0, new BadDrop(9, 2e-3) { End = Minutes(12) }), Minutes(24));
        Assert.Contains(CompareAt(12).Findings, finding => finding is { Finding: "node.errors", Outcome: ComparedFinding.Gone });
    }

    /// <summary>Two good weeks before the trouble began would make a fault of every hour look like one of every month.</summary>
    [Fact]
    public void WhatLiesBeforeTheTroubleCanBeLeftOut()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], [.. Enumerable.Range(0, 200).Select(hour => Row(StoreSeries.Hours, hour * 60, 60, 1000))], []));
            for (int count = 1; count <= 10; count++)
            {
                log.Write(Batch((180 + count) * 60, Finding(Catalogue.NodeRestarted, 5, 181 * 60, (180 + count) * 60, count)));
            }

            log.Write(new([], [], [new(At(1), "can0", 5, NodeEventKind.Appeared, "workshop buttons")]) { Time = At(1) });
        }

        // 10 times in 191 hours: 66.7 hours are needed, and there are 9. 10 times in 11 hours: 3.8 hours.
        Assert.Equal(ComparedFinding.NotSeenAgain, Assert.Single(CompareAt(191 * 60).Findings).Outcome);
        Assert.Equal(ComparedFinding.Gone, Assert.Single(CompareAt(191 * 60, from: 180 * 60).Findings).Outcome);
        ComparisonReport half = CompareAt(185 * 60, from: 180 * 60);
        Assert.Equal("Before: 5 times in 5 h; after: 5 times in 15 h.", Assert.Single(half.Findings).Why);
        Assert.Equal("Before: 5 times in 5 h; after: 3 times in 3 h.", Assert.Single(CompareAt(185 * 60, from: 180 * 60, until: 188 * 60).Findings).Why);
    }

    [Fact]
    public void TheFinerTiersFillWhatTheCoarserLeave()
    {
        using (StoredHistory log = Open())
        {
            // Two hours; of the third, which broke off, quarters and minutes; of the last minute seconds. Hours and quarters of the first are kept in the finer tiers as well.
            log.Write(new(
                [],
                [
                    Row(StoreSeries.Hours, 0, 60, 6000), Row(StoreSeries.Hours, 60, 60, 6000),
                    .. Enumerable.Range(4, 6).Select(quarter => Row(StoreSeries.Quarters, quarter * 15, 15, 1500)),
                    .. Enumerable.Range(100, 57).Select(minute => Row(StoreSeries.Minutes, minute, 1, 100)),
                    .. Enumerable.Range(156 * 60, 90).Select(second => Row(StoreSeries.Seconds, second / 60.0, 1 / 60.0, 2)),
                ],
                []));
        }

        Assert.Equal(6000 + 6000 + (2 * 1500) + (7 * 100) + (30 * 2), Frames(null, null));
        Assert.Equal(6000, Frames(null, 60));

        // In the middle of an hour: of the first nothing finer is kept, of the second there are quarters and minutes.
        Assert.Equal(0, Frames(null, 45));
        Assert.Equal(6000 + (2 * 1500) + (3 * 100), Frames(null, 93) + Frames(90, 93) - Frames(90, 93) + Frames(100, 103));
        Assert.Equal(3 * 1500 + (7 * 100), Frames(75, 127));
        Assert.Equal(2 * 100, Frames(100.5, 103.5));
        Assert.Equal(100 + (15 * 2), Frames(155, 156.25));

        long Frames(double? from, double? to) => Read(log => log.Of(from is double a ? At(a) : null, to is double b ? At(b) : null)).Buses.Sum(bus => bus.Totals.Frames);
    }

    [Fact]
    public void ManyShortRunsAreCountedOnce()
    {
        for (int day = 0; day < 12; day++)
        {
            using StoredHistory log = Open(day * 1440);
            log.Write(new(
                [],
                [
                    .. Enumerable.Range(0, 2).Select(hour => Row(StoreSeries.Hours, (day * 1440) + (hour * 60), 60, 6000)),
                    .. Enumerable.Range(0, 9).Select(quarter => Row(StoreSeries.Quarters, (day * 1440) + (quarter * 15), 15, 1500)),
                    .. Enumerable.Range(0, 140).Select(minute => Row(StoreSeries.Minutes, (day * 1440) + minute, 1, 100)),
                ],
                []));
        }

        ObservedPeriod whole = Read(log => log.Of(null, null));
        Assert.Equal(12 * 14_000, Assert.Single(whole.Buses).Totals.Frames);
        Assert.Equal(12 * 140 * 60, whole.Buses[0].Totals.HeardSeconds, 1e-6);
    }

    [Fact]
    public void InterfacesAreKeptApart()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], [Row(StoreSeries.Minutes, 0, 1, 100), Row(StoreSeries.Minutes, 0, 1, 30, name: "can1"), Row(StoreSeries.Minutes, 1, 1, 100), Row(StoreSeries.Minutes, 1, 1, 30, name: "can1")], []));
        }

        Assert.Equal([("can0", 200L), ("can1", 60L)], Read(log => log.Of(null, null)).Buses.Select(bus => (bus.Interface, bus.Totals.Frames)));
    }

    /// <summary>Rows of an older version have neither bits nor episodes; rows of this one have no episodes as long as the adapter hasn't shown any.</summary>
    [Fact]
    public void ErrorsAreKnownOnlyWhereTheyCouldBeSeen()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new(
                [],
                [
                    (StoreSeries.Minutes, new(At(0), 60, "can0", 0.1, 0.2, 100, 0, 0)),
                    Row(StoreSeries.Minutes, 1, 1, 100, errors: null), Row(StoreSeries.Minutes, 2, 1, 100, errors: 3), Row(StoreSeries.Minutes, 3, 1, 100, errors: null),
                    Row(StoreSeries.Minutes, 1, 1, 100, errors: null, name: "can1"),
                ],
                []));
        }

        Assert.Null(Bus(0, 4).Totals.ErrorEpisodes);
        Assert.Null(Bus(0, 4).Totals.Bits);
        Assert.Equal(240, Bus(0, 4).Totals.HeardSeconds);
        Assert.Equal(3, Bus(1, 4).Totals.ErrorEpisodes);
        Assert.Equal(0, Bus(3, 4).Totals.ErrorEpisodes);
        Assert.Null(Bus(1, 4, "can1").Totals.ErrorEpisodes);

        ObservedBus Bus(double from, double to, string name = "can0") => Read(log => log.Of(At(from), At(to))).Buses.Single(bus => bus.Interface == name);
    }

    /// <summary>An episode that began before the cut and ended behind it is on both sides, and counts as a beginning on the first only.</summary>
    [Fact]
    public void EpisodesBelongToTheSideInWhichTheyBegan()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], [.. Enumerable.Range(0, 100).Select(minute => Row(StoreSeries.Minutes, minute, 1, 100))], []));
            log.Write(Batch(10, Finding(Catalogue.NodeSilent, 5, 10, null, 1)));
            log.Write(Batch(20, Finding(Catalogue.NodeSilent, 5, 10, 20, 1)));
            log.Write(Batch(40, Finding(Catalogue.NodeSilent, 5, 10, null, 2)));
            log.Write(Batch(60, Finding(Catalogue.NodeSilent, 5, 10, 60, 2)));
        }

        Assert.Equal([(1L, false)], Seen(null, 30));
        Assert.Equal([(2L, true)], Seen(null, 50));
        Assert.Equal([(0L, false)], Seen(50, null));
        Assert.Equal([(1L, false)], Seen(30, 70));
        Assert.Empty(Seen(70, null));
        Assert.Empty(Seen(null, 5));
        Assert.Equal([(0L, false)], Seen(50, 70));
        Assert.Equal([(0L, true)], Seen(50, 55));

        (long, bool)[] Seen(double? from, double? to) =>
            [.. Read(log => log.Of(from is double a ? At(a) : null, to is double b ? At(b) : null)).Findings.Select(finding => (finding.Began, finding.Lasts))];
    }

    [Fact]
    public void RunsOfOneFaultAddUp()
    {
        for (int run = 0; run < 3; run++)
        {
            using StoredHistory log = Open(run * 60);
            log.Write(new([], [.. Enumerable.Range(run * 60, 50).Select(minute => Row(StoreSeries.Minutes, minute, 1, 100))], []));
            log.Write(Batch((run * 60) + 10, Finding(Catalogue.NodeRestarted, 5, (run * 60) + 10, (run * 60) + 10.5, 1)));
            log.Write(Batch((run * 60) + 30, Finding(Catalogue.NodeRestarted, 5, (run * 60) + 10, (run * 60) + 30.5, 2)));
        }

        ObservedFinding found = Assert.Single(Read(log => log.Of(null, null)).Findings);
        Assert.Equal((6, At(10)), (found.Began, found.First));
        Assert.Equal(4, Assert.Single(Read(log => log.Of(At(55), null)).Findings).Began);
        Assert.Equal(1, Assert.Single(Read(log => log.Of(At(140), null)).Findings).Began);
    }

    /// <summary>The demo's simulated site has another date than the board it runs on.</summary>
    [Fact]
    public void TheLineOfARunMayBeAnotherThanTheClockOnTheWall()
    {
        using (StoredHistory log = Open(500_000))
        {
            log.Write(new([], [.. Enumerable.Range(0, 100).Select(minute => Row(StoreSeries.Minutes, minute, 1, 100))], [new(At(0), "can0", 5, NodeEventKind.Appeared, null)]) { Time = At(0) });
            log.Write(Batch(10, Finding(Catalogue.NodeSilent, 5, 10, null, 1)));
        }

        ObservedPeriod before = Read(log => log.Of(null, At(50)));
        Assert.Equal(5, Assert.Single(before.Buses[0].Nodes).Address);
        Assert.True(Assert.Single(before.Findings).Lasts);
    }

    [Fact]
    public void ATimeOutsideOfTheLogHasNothing()
    {
        Write(0, 3);
        Assert.Null(Read(log => log.Of(null, At(-10))).Start);
        Assert.Null(Read(log => log.Of(At(10), null)).Start);
        Assert.Empty(Read(log => log.Of(At(10), null)).Buses);
    }
}
