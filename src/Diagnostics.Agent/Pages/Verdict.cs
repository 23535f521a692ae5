using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Pages;

/// <summary>The first sentence of the report, and whether the tool itself can see.</summary>
/// <param name="Severity">fault, warning, note, or good, or blind where nothing can be said.</param>
/// <param name="Sentence">The answer to "is it the bus?".</param>
/// <param name="Sight">What was not seen, one sentence a line; empty where nothing was missed.</param>
/// <param name="Limits">What this set-up can't see at all, one sentence a line.</param>
internal sealed record Verdict(string Severity, string Sentence, IReadOnlyList<string> Sight, IReadOnlyList<string> Limits)
{
    /// <summary>What doesn't work in the tool or its board, one sentence a line. Nothing is unheard for that.</summary>
    public IReadOnlyList<string> Troubles { get; private init; } = [];

    /// <summary>A live analysis ticks once a second, and a gap that lasts grows with each tick.</summary>
    private const double TickSeconds = 1;

    /// <summary>Ten missed ticks are no hiccup.</summary>
    private const double StalledSeconds = 10 * TickSeconds;

    private const int GapsShown = 5;

    /// <summary>Findings that say what errors mean.</summary>
    private static readonly string[] OfErrors =
        [.. new[] { Catalogue.ErrorRate, Catalogue.ErrorBurst, Catalogue.ErrorPassive, Catalogue.BusOff, Catalogue.NoAcknowledge, Catalogue.BitRateMismatch, Catalogue.NodeErrors, Catalogue.DuplicateAddress }.Select(kind => kind.Name)];

    /// <summary>A gap shorter than this has no length worth naming: a clock step, a record that could not be read.</summary>
    private const double LeastGapSeconds = 0.001;

    /// <summary>Whether this tool can see, in a word and a sentence.</summary>
    public static (string Word, string Sentence) SightOf(Report report, Verdict verdict) =>
        report.Buses.Count == 0 ? ("Not yet.", "There is no interface to listen to.")
        : Ongoing(report) is not null ? ("Not now.", "What is sent now is not heard here:")
        : IsSilent(report) ? ("That can’t be told.", "Nothing at all was heard. A plug that is out, a bus without supply or a wrong bit rate would look the same from here.")
        : report.Buses.Any(bus => bus.ControllerState == "bus-off") ? ("Not any more.", "Our own adapter has gone off the bus; what came after that was not heard.")
        : verdict.Sight.Count > 0 ? ("Only in part.", "In these times, silence proves nothing:")
        : report.Buses.FirstOrDefault(bus => bus.Frames == 0) is { } deaf ? ("That can’t be told.", $"Not one whole frame was heard on {deaf.Interface}.")
        : report.Source.Kind == "trace" ? ("As far as the recorder tells:", "it reports no loss.")
        : ("Yes.", "Nothing that was sent here was missed on our side.");

    /// <summary>Where there is nothing to judge, nothing wrong means nothing.</summary>
    public static string NoFindings(Report report) => IsSilent(report) ? "Nothing can be said: nothing was heard." : "Nothing.";

    public static Verdict Of(PageModel model)
    {
        Report report = model.Report;
        List<string> sight = Missed(model);
        string span = report.Source.Start is { } start && report.Source.End is { } end ? Times.Span(end.SecondsSince(start)) : "no time";
        ToldFinding[] things = ToldFinding.Of(report).Where(told => told.ExplainedBy is null).ToArray();
        ToldFinding[] open = things.Where(thing => !thing.IsOver && thing.Finding.Severity is "fault" or "warning").OrderBy(thing => Hurt(thing.Finding)).ToArray();
        ToldFinding[] past = things.Where(thing => thing.IsOver && thing.Finding.Severity is "fault" or "warning").ToArray();

        string[] errors = [.. report.Buses.Select(bus => ErrorsWithoutFinding(report, bus)).OfType<string>()];
        string unjudged = string.Concat(errors.Select(line => " " + line));

        (string severity, string sentence) = (open, past) switch
        {
            _ when model.ReadFrom is { HasNoReport: true } => ("blind", "This log holds no report, so nothing is said here of how the bus stood at its end. What was found stands below."),
            ([var worst, ..], _) => (worst.Finding.Severity, $"{What(model, worst.Finding)} {Seen(model, worst.Finding)}{Others(open[1..])}{CameAndWent(past)}"),
            _ when IsSilent(report) && Ongoing(report) is { } gap => ("blind", $"Nothing was heard in {span}, as {gap.Why.TrimEnd('.')}{(gap.Interface is { } name ? $" ({name})" : string.Empty)}. So nothing can be said about the bus."),
            _ when IsSilent(report) => ("blind", $"Nothing was heard in {span}, so nothing can be said about the bus."),
            (_, [var worst, ..]) => ("warning", $"Nothing is wrong at the end, but: {What(model, worst.Finding)} {Seen(model, worst.Finding)}{CameAndWent(past[1..])}"),
            _ when things.Length > 0 => ("note", $"Nothing wrong was found in {span} of listening to {Watched(report)}.{unjudged}{NotJudged(report)} Worth knowing: {What(model, things[0].Finding)}{(things.Length > 1 ? $" {Words.Capital(Amount(things.Length - 1, "more note"))} below." : string.Empty)}"),
            _ => ("good", $"Nothing wrong was found in {span} of listening to {Watched(report)}.{unjudged}{NotJudged(report)}"),
        };
        if (sight.Count > 0 && severity is "good" or "note")
        {
            sentence += " But part of the traffic was not seen.";
        }

        return new(severity, sentence, sight, [.. model.Times.Remark is { } remark ? (string[])[remark] : [], .. Blindness(report), .. severity is "good" or "note" ? [] : errors, .. model.Remarks])
        {
            Troubles = [.. model.Troubles.Select(trouble => $"Since {model.Times.Short(trouble.Since)}: {trouble.Text}")],
        };
    }

    /// <summary>
    /// Which of several faults that last is said first: where nothing works at all the others can wait, then what is missing or can't be trusted, then the rest
    /// in the order of the document. The oldest is often the least of them.
    /// </summary>
    private static int Hurt(FindingReport finding) => (finding.Severity, finding.Finding) switch
    {
        (not "fault", _) => 3,
        (_, "bus.no-traffic" or "bus.bit-rate-mismatch" or "bus.flood" or "bus.no-acknowledge") => 0,
        (_, "bus.off") => finding.Node is null ? 0 : 1,
        (_, "node.silent" or "node.duplicate-address" or "node.unstable") => 1,
        _ => 2,
    };

    private static bool IsSilent(Report report) => report.Buses.All(bus => bus.Frames == 0 && (bus.ErrorMessages == 0 || report.Findings.Count == 0));

    /// <summary>Why nothing is heard at this moment, on our own side; null where everything is, or where it is only a hiccup.</summary>
    private static GapReport? Ongoing(Report report) => report.Source.Kind == "live" && report.Source.End is { } end
        ? report.Source.NotSeen.Gaps.LastOrDefault(gap => end.SecondsSince(gap.End) < 2 * TickSeconds && gap.End.SecondsSince(gap.Start) > StalledSeconds)
        : null;

    public static string Amount(long count, string what) => count == 1 ? $"one {what}" : $"{Words.Count(count)} {what}s";

    /// <summary>The finding's own sentence, with the interface where there are several and it isn't named.</summary>
    private static string What(PageModel model, FindingReport finding) =>
        model.Report.Buses.Count > 1 && finding.Interface is { } name && !finding.Summary.Contains(name, StringComparison.Ordinal)
            ? $"On {name}: {finding.Summary}"
            : Words.Capital(finding.Summary);

    private static string Seen(PageModel model, FindingReport finding)
    {
        string often = finding.Count > 1 ? $" {Words.Count(finding.Count)} times," : string.Empty;
        return finding.End is { } end
            ? $"Seen{often} {model.Times.Moments(finding.Start, end, finding.Count > 1)}."
            : $"Seen{often.TrimEnd(',')} since {model.Times.Moment(finding.Start)}.";
    }

    private static string Others(IReadOnlyList<ToldFinding> others)
    {
        int faults = others.Count(thing => thing.Finding.Severity == "fault");
        string[] parts = new[] { (Count: faults, What: "fault"), (Count: others.Count - faults, What: "warning") }.Where(part => part.Count > 0).Select(part => Amount(part.Count, part.What)).ToArray();
        return parts.Length == 0 ? string.Empty : $" Besides: {string.Join(" and ", parts)}.";
    }

    private static string CameAndWent(IReadOnlyCollection<ToldFinding> past) =>
        past.Count == 0 ? string.Empty : $" {Words.Capital(Amount(past.Count, "other trouble"))} came and went.";

    private static string Watched(Report report) => string.Join(" and ", report.Buses.Select(bus =>
        bus.Nodes.Count > 0 ? $"{Amount(bus.Nodes.Count, "module")} on {bus.Interface}" : $"{Amount(bus.Identifiers.Count, "identifier")} on {bus.Interface}"));

    /// <summary>What a good verdict doesn't cover.</summary>
    private static string NotJudged(Report report)
    {
        List<string> parts = [];
        if (report.Buses.Any(bus => bus.ErrorReporting != true && bus.ErrorMessages == 0))
        {
            parts.Add("errors on the wire");
        }

        if (report.Buses.Any(bus => bus.BitRate is null))
        {
            parts.Add("the load");
        }

        if (report.Buses.Any(bus => Words.IsUnknownProtocol(bus.Protocol)))
        {
            parts.Add("what the messages mean");
        }

        if (report.Buses.Sum(bus => bus.Nodes.Count(node => node.SilenceNoticedWithinSeconds is null)) is > 0 and int mute)
        {
            parts.Add($"the silence of {Amount(mute, "module")}");
        }

        return parts.Count == 0 ? string.Empty : $" Not judged: {string.Join(", ", parts)}.";
    }

    /// <summary>Errors that no finding speaks of are no reason for one, or too few to tell; null where there are none.</summary>
    private static string? ErrorsWithoutFinding(Report report, BusReport bus)
    {
        long errors = PageRenderer.ErrorsHeard(bus);
        if (errors == 0 || report.Findings.Any(finding => finding.Interface == bus.Interface && OfErrors.Contains(finding.Finding)))
        {
            return null;
        }

        bool isHealthy = report.Assurances.Any(assurance => assurance.Statement == AssuranceReport.FewErrors
            && (report.Buses.Count == 1 || assurance.Subject.StartsWith(bus.Interface + ": ", StringComparison.Ordinal)));
        return $"On {bus.Interface}, {Amount(errors, "error")} {(errors == 1 ? "was" : "were")} heard in {Amount(bus.Frames, "frame")}, {(isHealthy ? "no more than a healthy bus shows" : "too little to judge")}.";
    }

    private static List<string> Missed(PageModel model)
    {
        NotSeenReport notSeen = model.Report.Source.NotSeen;
        List<string> lines = [];
        if (notSeen.KernelDropped > 0)
        {
            lines.Add($"{Words.Capital(Amount(notSeen.KernelDropped, "frame"))} lost on our side before this program could read them.");
        }

        if (notSeen.QueueDropped > 0)
        {
            lines.Add($"{Words.Capital(Amount(notSeen.QueueDropped, "frame"))} lost because this board was too busy.");
        }

        if (notSeen.DamagedRecords > 0)
        {
            lines.Add($"{Words.Capital(Amount(notSeen.DamagedRecords, "record"))} of the trace could not be read.");
        }

        foreach (GapReport gap in notSeen.Gaps.Take(GapsShown))
        {
            double seconds = gap.End.SecondsSince(gap.Start);
            string who = gap.Interface ?? "All interfaces";
            string why = gap.Why.TrimEnd('.');
            lines.Add(seconds < LeastGapSeconds
                ? $"{who}, at {model.Times.Short(gap.Start)}: {why}."
                : $"{who}: not heard from {model.Times.Short(gap.Start)} for {Times.Span(seconds)} ({why}).");
        }

        if (notSeen.Gaps.Count > GapsShown)
        {
            lines.Add($"{notSeen.Gaps.Count - GapsShown} more gaps stand in the report document.");
        }

        if (notSeen.FindingsRefused)
        {
            lines.Add("More findings came up than this program keeps; those that came after are not shown.");
        }

        foreach (BusReport bus in model.Report.Buses.Where(bus => bus.UntrackedFrames > 0))
        {
            lines.Add($"{bus.Interface}: more different identifiers were sent than this program keeps apart ({Words.Count(bus.Identifiers.Count)}); in {Amount(bus.UntrackedFrames, "frame")} of others nothing was looked for.");
        }

        if (model.Report.Source.Kind == "live" && model.ReadFrom is null && model.Asked is { } asked && model.Report.Source.End is { } end && asked.SecondsSince(end) > StalledSeconds)
        {
            lines.Add($"The analysis stands still since {model.Times.Full(end)}. What follows is old.");
        }

        return lines;
    }

    private static List<string> Blindness(Report report)
    {
        List<string> lines = [];
        foreach (BusReport bus in report.Buses)
        {
            if (bus.BitRate is null)
            {
                lines.Add($"{bus.Interface}: the bit rate is not known, so there is no load; give --bit-rate N.");
            }

            if (bus.ErrorReporting is null && bus.ErrorMessages == 0 && bus.Frames > 0)
            {
                lines.Add($"{bus.Interface}: no error message is in this record, and whether the adapter would have reported any is not known; so nothing is said about errors.");
            }

            if (bus.ErrorReporting == false)
            {
                lines.Add($"{bus.Interface}: this adapter does not report single errors, so none here does not mean none on the bus.");
            }

            if (bus.ControllerState is { } state && state is not "error-active")
            {
                lines.Add($"{bus.Interface}: our own adapter {Words.ControllerState(state)}"
                    + (bus.ListenOnly == true && state == "error-passive" ? "; in listen-only mode that is no fault." : "."));
            }

            if (bus.Undecodable is { Count: > 0 } undecodable && undecodable.Values.Sum() is > 0 and long count)
            {
                lines.Add($"{bus.Interface}: {Amount(count, "message")} could not be read as {Words.Protocol(bus.Protocol)} ({string.Join(", ", undecodable.Where(reason => reason.Value > 0).OrderByDescending(reason => reason.Value).Take(4).Select(reason => $"{Words.Undecodable(reason.Key)}: {Words.Count(reason.Value)}"))}).");
            }

            lines.AddRange(bus.Remarks.Select(remark => $"{bus.Interface}: {remark}"));
        }

        return lines;
    }
}
