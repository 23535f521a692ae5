using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Can;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>A stretch of time in words: a summary in sentences, and what happened, thing by thing. Who can't see the figure misses nothing of it.</summary>
internal static class TimeTold
{
    /// <summary>Restarts and silences are told one by one up to so many.</summary>
    private const int OneByOne = 20;

    /// <summary>Time without a value that is told, seconds: the minute that is going on has none yet, and the one before may stand in two columns.</summary>
    private const double Blank = 180;

    /// <summary>Parts that the table of loads has.</summary>
    private const int Parts = 12;

    /// <param name="stretch">What is told.</param>
    /// <param name="times">How times are said.</param>
    public static IReadOnlyList<Sentence> Summary(Stretch stretch, Times times)
    {
        List<Sentence> told = [];
        if (stretch.Reach is not { First: { } begin, Last: { } end })
        {
            return [Say($"Nothing is kept yet.")];
        }

        if (stretch.From >= end)
        {
            return [Say($"This has not happened yet: what is known ends at {times.Full(end)}.")];
        }

        if (stretch.To <= begin)
        {
            return [Say($"Nothing is kept of this time: what is known begins at {times.Full(begin)}.")];
        }

        if (stretch.Buses.All(bus => bus.Columns.All(column => !column.IsSeen)))
        {
            return [Say($"Nothing was seen in this time: the tool did not run, or could not listen. That proves nothing about the bus.")];
        }

        foreach (BusStretch bus in stretch.Buses)
        {
            told.Add(stretch.Buses.Count == 1 ? Load(stretch, bus, times) : Say($"{bus.Interface}: {Load(stretch, bus, times)}"));
            long errors = bus.Columns.Sum(column => column.Errors);
            told.Add(errors > 0 ? Say(errors, $"There was one error on the wire.", $"There were {errors:N0} errors on the wire.")
                : bus.SeesErrors ? Say($"No error was seen on the wire.")
                : Say($"Whether there were errors can’t be told: the adapter reported none, and none may mean that it can’t."));
            if (bus.Columns.Any(column => column.IsCoarse))
            {
                told.Add(Say($"Part of this is kept only in longer rows, so counts may lie a little beside where they belong."));
            }
        }

        told.AddRange(stretch.Measured.Select(measured => Measured(stretch, measured, times)));
        long restarts = stretch.Nodes.Sum(node => (long)node.Restarts.Count);
        told.Add(restarts == 0 ? Say($"No node restarted.") : Say(restarts, $"One node restarted, once.", $"Nodes restarted {restarts:N0} times."));
        Instant known = Instant.Min(stretch.To, end);
        int mute = stretch.Nodes.Count(node => node.Silences.Any(silence => silence.From <= stretch.From && (silence.To is not { } to || to >= known)));
        if (mute > 0)
        {
            told.Add(Say(mute, $"One node was silent all the time.", $"{mute:N0} nodes were silent all the time."));
        }

        int silent = stretch.Nodes.Count(node => node.Silences.Count > 0) - mute;
        if (silent > 0)
        {
            told.Add(Say(silent, $"One node was silent for a part of it.", $"{silent:N0} nodes were silent for a part of it."));
        }

        NodeStretch[] untold = [.. stretch.Nodes.Where(node => node.Cells.Contains(Presence.CannotTell))];
        int shared = untold.Count(node => stretch.Findings.Any(episode => episode.Key == Catalogue.DuplicateAddress.KeyOfNode(node.Interface, node.Address)));
        if (Words.WhyUnnoticed(shared, untold.Length - shared) is { } why)
        {
            told.Add(Join(Say(untold.Length, $"Of one node presence can’t be told all the time.", $"Of {untold.Length:N0} nodes presence can’t be told all the time."), why));
        }

        int findings = stretch.Findings.Where(episode => episode.Severity != "note").Select(episode => episode.Key).Distinct(StringComparer.Ordinal).Count();
        told.Add(findings == 0 ? Say($"No fault or warning stood.") : Say(findings, $"One fault or warning stood.", $"{findings:N0} faults and warnings stood."));
        double blind = stretch.BlindSpans().Sum(span => span.To.SecondsSince(span.From));
        if (blind > 0)
        {
            told.Add(Say($"Not seen: {Times.Span(blind)} in all. What happened then is not known."));
        }

        double holes = stretch.Buses.Sum(bus => bus.Columns.Where(column => column.HasHole).Sum(column => column.CoveredSeconds - column.HeardSeconds));
        if (holes >= 1)
        {
            told.Add(Say($"Of what was watched, {Times.Span(holes)} could not be heard (hatched along the top of the load)."));
        }

        return told;
    }

    /// <param name="stretch">What is told.</param>
    /// <param name="report">Whose cards are linked to, and whose gaps say why.</param>
    /// <param name="times">How times are said.</param>
    /// <param name="left">Things that found no room.</param>
    public static IReadOnlyList<Happening> Happenings(Stretch stretch, Report? report, Times times, out int left)
    {
        List<Happening> all = [];
        HashSet<Capture> told = [];
        foreach (FindingEpisode episode in stretch.Findings)
        {
            all.Add(OfFinding(stretch, episode, report, times, told));
        }

        foreach (Capture capture in stretch.Captures.Where(capture => !told.Contains(capture)))
        {
            all.Add(new(capture.Time, capture.IsMark ? 0 : 3, capture.IsMark ? "⚑" : "○", capture switch
            {
                { IsMark: true, Why.Length: 0 } => Say($"A mark without a note"),
                { IsMark: true } => Say($"A mark: {capture.WhySaid}"),
                _ => Say($"Frames were kept around a finding"),
            }) { HasFrames = capture.File is not null });
        }

        OfNodes(stretch, times, all);
        foreach ((Instant from, Instant to) in stretch.BlindSpans())
        {
            all.Add(new(from, 2, "▨", Say($"Not seen for {Times.Span(to.SecondsSince(from))}: the tool did not run, or could not listen")));
        }

        foreach (GapReport gap in report?.Source.NotSeen.Gaps.Where(gap => gap.End > stretch.From && gap.Start < stretch.To) ?? [])
        {
            all.Add(new(Instant.Max(gap.Start, stretch.From), 2, "▨", Say($"Part of the traffic was not seen, for {Times.Span(gap.End.SecondsSince(gap.Start))}: {gap.Why}")));
        }

        all.AddRange(stretch.Starts.Select(start => new Happening(start, 3, "▷", Say($"This tool began to listen"))));
        all.AddRange(stretch.Board.Select(happened => new Happening(happened.Time, 2, "□", Named(happened.Text))));
        foreach (Core.Soak.SoakRecord soak in stretch.Soaks)
        {
            string card = SoakPages.RecordFolder + soak.Id;
            if (soak.Started >= stretch.From)
            {
                all.Add(new(soak.Started, 2, "▷", Say($"The soak test “{soak.Name}” began")) { Card = card });
            }

            if (soak.End is not null && soak.LastSeen < stretch.To)
            {
                all.Add(new(soak.LastSeen, 2, "▷", Say($"The soak test “{soak.Name}” ended")) { Card = card });
            }
        }

        Happening[] shown = [.. all.OrderBy(happened => happened.Rank).ThenByDescending(happened => happened.Time).Take(Limits.HappeningsShown).OrderBy(happened => happened.Time)];
        left = all.Count - shown.Length;
        return shown;
    }

    /// <summary>The stretch in a few equal parts: columns, and what lies in them of one bus.</summary>
    public static IEnumerable<(Instant Time, TimeColumn Sum, double ExpectedSeconds)> PartsOf(Stretch stretch, BusStretch bus)
    {
        int length = Math.Max(1, (stretch.Count + Parts - 1) / Parts);
        for (int first = 0; first < stretch.Count; first += length)
        {
            int last = Math.Min(stretch.Count, first + length);
            TimeColumn[] columns = [.. bus.Columns.Skip(first).Take(last - first)];
            TimeColumn[] known = [.. columns.Where(column => column.LoadMean is not null)];
            double seconds = known.Sum(column => column.CoveredSeconds);
            Instant begin = stretch.StartOf(first);
            yield return (
                begin,
                new(
                    columns.Sum(column => column.CoveredSeconds),
                    columns.Sum(column => column.HeardSeconds),
                    seconds > 0 ? known.Sum(column => column.LoadMean!.Value * column.CoveredSeconds) / seconds : null,
                    known.Length > 0 ? known.Max(column => column.LoadPeak) : null,
                    columns.Sum(column => column.Errors),
                    null,
                    columns.Max(column => column.NodesPresent),
                    columns.Any(column => column.IsCoarse)),
                stretch.Reach is { First: { } known0, Last: { } known1 } ? Math.Max(0, Instant.Min(known1, stretch.StartOf(last)).SecondsSince(Instant.Max(known0, begin))) : 0);
        }
    }

    /// <summary>The stretch in a few equal parts: what was measured in each; null = nothing.</summary>
    public static IEnumerable<(Instant Time, MeasuredColumn? Sum)> PartsOf(Stretch stretch, MeasuredStretch measured)
    {
        int length = Math.Max(1, (stretch.Count + Parts - 1) / Parts);
        for (int first = 0; first < stretch.Count; first += length)
        {
            yield return (stretch.StartOf(first), Sum([.. measured.Columns.Skip(first).Take(length).OfType<MeasuredColumn>()]));
        }
    }

    private static MeasuredColumn? Sum(MeasuredColumn[] known)
    {
        double seconds = known.Sum(column => column.Seconds);
        return seconds > 0 ? new(known.Min(column => column.Lowest), known.Sum(column => column.Mean * column.Seconds) / seconds, known.Max(column => column.Highest), seconds) : null;
    }

    private static Sentence Measured(Stretch stretch, MeasuredStretch measured, Times times)
    {
        MeasuredColumn sum = Sum([.. measured.Columns.OfType<MeasuredColumn>()])!.Value;
        int lowest = Enumerable.Range(0, stretch.Count).Where(column => measured.Columns[column] is not null).MinBy(column => measured.Columns[column]!.Value.Lowest);
        Sentence name = MeasuredPart.NameOf(measured.Quantity);
        Sentence told = Say($"{name}: {Value(sum.Mean)} on average, from {Value(sum.Lowest)} (near {times.Short(stretch.StartOf(lowest))}) to {Value(sum.Highest)}.");
        double missing = Enumerable.Range(0, stretch.Count).Where(column => measured.Columns[column] is null).Sum(column => stretch.Buses.Max(bus => (double?)bus.Columns[column].CoveredSeconds) ?? 0);
        return missing >= Blank ? Join(told, Say($"For {Times.Span(missing)} of the time that was watched there is no value.")) : told;

        Sentence Value(double value) => MeasuredPart.Value(measured.Quantity, value);
    }

    private static Sentence Load(Stretch stretch, BusStretch bus, Times times)
    {
        (int Column, TimeColumn Value)[] known = [.. bus.Columns.Select((value, column) => (column, value)).Where(pair => pair.value.LoadMean is not null)];
        if (known.Length == 0)
        {
            return Say($"The load is not known without a bit rate.");
        }

        double seconds = known.Sum(pair => pair.Value.CoveredSeconds);
        double mean = known.Sum(pair => pair.Value.LoadMean!.Value * pair.Value.CoveredSeconds) / seconds;
        (int column, TimeColumn busiest) = known.MaxBy(pair => pair.Value.LoadPeak);
        Sentence usual = Words.Percent(mean);
        Sentence most = Words.Percent(busiest.LoadPeak);
        return usual.English == most.English
            ? Say($"The bus was busy for {usual} of this time, and at no time noticeably more than that.")
            : Say($"The bus was busy for {usual} of this time. In the busiest second, near {times.Short(stretch.StartOf(column))}, it was busy for {most} of it.");
    }

    private static Happening OfFinding(Stretch stretch, FindingEpisode episode, Report? report, Times times, HashSet<Capture> told)
    {
        Capture[] kept = [.. stretch.Captures.Where(capture => !capture.IsMark && capture.Why == episode.Key && capture.Time >= episode.From && (episode.To is not { } to || capture.Time <= to + CapturePlan.Before))];
        told.UnionWith(kept);
        Sentence severity = Words.Severity(episode.Severity);
        FindingReport? known = report?.Findings.FirstOrDefault(finding => finding.Key == episode.Key);
        Sentence summary = Capital(episode.Summary);

        // Where a row would stand outside the stretch, it stands at its edge.
        return new(Instant.Max(episode.From, stretch.From), episode.Severity switch { "fault" => 0, "warning" => 1, _ => 4 }, Words.Shape(episode.Severity), episode switch
        {
            { To: null } => Say($"{severity}, since {times.Short(episode.From)}, still so: {summary}"),
            { EndsWithRun: true } => Say($"{severity}, from {times.Short(episode.From)} until the tool stopped: {summary}"),
            { To: { } to } when to.SecondsSince(episode.From) < 1 => Say($"{severity}: {summary}"),
            { To: { } to } => Say($"{severity}, for {Times.Span(to.SecondsSince(episode.From))}: {summary}"),
        })
        {
            HasFrames = kept.Any(capture => capture.File is not null),
            Card = known is null ? null : "/#" + PageRenderer.Anchor(known),
        };
    }

    private static void OfNodes(Stretch stretch, Times times, List<Happening> all)
    {
        int restarts = stretch.Nodes.Sum(node => node.Restarts.Count);
        if (restarts <= OneByOne)
        {
            all.AddRange(stretch.Nodes.SelectMany(node => node.Restarts.Select(restart => new Happening(restart, 2, "△", Say($"{Name(node)} restarted")))));
        }
        else
        {
            NodeStretch[] restarted = [.. stretch.Nodes.Where(node => node.Restarts.Count > 0)];
            all.Add(new(
                restarted.Min(node => node.Restarts.Min()),
                2,
                "△",
                Say($"{restarts:N0} restarts of {Say(restarted.Length, $"one node", $"{restarted.Length:N0} nodes")}, the last at {times.Short(restarted.Max(node => node.Restarts.Max()))}; go nearer to see them one by one")));
        }

        (Instant From, Instant? To, NodeStretch Node)[] silences = [.. stretch.Nodes.SelectMany(node => node.Silences.Select(silence => (silence.From, silence.To, node))).OrderBy(span => span.From)];
        if (silences.Length <= OneByOne)
        {
            all.AddRange(silences.Select(span => new Happening(
                Instant.Max(span.From, stretch.From),
                1,
                "▭",
                span.To is { } to ? Say($"{Name(span.Node)} was silent for {Times.Span(to.SecondsSince(span.From))}") : Say($"{Name(span.Node)} is silent since {times.Short(span.From)}"))));
        }
        else
        {
            int nodes = silences.Select(span => span.Node).Distinct().Count();
            all.Add(new(Instant.Max(silences[0].From, stretch.From), 1, "▭", Say($"{silences.Length:N0} silences of {Say(nodes, $"one node", $"{nodes:N0} nodes")}; go nearer to see them one by one")));
        }
    }

    private static Sentence Name(NodeStretch node) => node.Name is { Length: > 0 } name ? Say($"{Words.Capital(name)} (node {node.Address})") : Say($"Node {node.Address}");
}
