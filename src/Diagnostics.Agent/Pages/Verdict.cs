using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The first sentence of the report, and whether the tool itself can see.</summary>
/// <param name="Severity">fault, warning, note, or good, or blind where nothing can be said.</param>
/// <param name="Sentence">The answer to "is it the bus?".</param>
/// <param name="Sight">What was not seen, one sentence a line; empty where nothing was missed.</param>
/// <param name="Limits">What this set-up can't see at all, one sentence a line.</param>
internal sealed record Verdict(string Severity, Sentence Sentence, IReadOnlyList<Sentence> Sight, IReadOnlyList<Sentence> Limits)
{
    /// <summary>What the sentence speaks of first; null where nothing was found.</summary>
    public FindingReport? Finding { get; private init; }

    /// <summary>What doesn't work in the tool or its board, one sentence a line. Nothing is unheard for that.</summary>
    public IReadOnlyList<Sentence> Troubles { get; private init; } = [];

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
    public static (Sentence Word, Sentence Sentence) SightOf(Report report, Verdict verdict) =>
        IsEmptyTrace(report) ? (Say($"No."), verdict.Sight.Count > 0 ? Say($"What came before the first frame of this trace was damaged or broke off:") : Say($"This trace holds no frames."))
        : report.Buses.Count == 0 ? (Say($"Not yet."), Say($"There is no interface to listen to."))
        : Ongoing(report) is not null ? (Say($"Not now."), Say($"What is sent now is not heard here:"))
        : IsSilent(report) ? (Say($"That can’t be told."), Say($"Nothing at all was heard. A plug that is out, a bus without supply or a wrong bit rate would look the same from here."))
        : report.Buses.Any(bus => bus.ControllerState == "bus-off") ? (Say($"Not any more."), Say($"Our own adapter has gone off the bus; what came after that was not heard."))
        : verdict.Sight.Count > 0 ? (Say($"Only in part."), Say($"In these times, silence proves nothing:"))
        : report.Buses.FirstOrDefault(bus => bus.Frames == 0) is { } deaf ? (Say($"That can’t be told."), Say($"Not one whole frame was heard on {deaf.Interface}."))
        : report.Source.Kind == "trace" ? (Say($"As far as the recorder tells:"), Say($"it reports no loss."))
        : (Say($"Yes."), Say($"Nothing that was sent here was missed on our side."));

    /// <summary>Where there is nothing to judge, nothing wrong means nothing.</summary>
    public static Sentence NoFindings(Report report) => IsSilent(report) ? Say($"Nothing can be said: nothing was heard.") : Say($"Nothing.");

    public static Verdict Of(PageModel model)
    {
        Report report = model.Report;
        List<Sentence> sight = Missed(model);
        Sentence span = report.Source.Start is { } start && report.Source.End is { } end ? Times.Span(end.SecondsSince(start)) : Say($"no time");
        // Only what was heard is clean. An older document doesn't say how much that was.
        Sentence listened = report.Buses.Select(bus => bus.HeardSeconds).DefaultIfEmpty(0).Max() is > 0 and double heard ? Times.Span(heard) : span;
        ToldFinding[] things = ToldFinding.Of(report).Where(told => told.ExplainedBy is null).ToArray();
        ToldFinding[] open = things.Where(thing => !thing.IsOver && thing.Finding.Severity is "fault" or "warning").ToArray();
        ToldFinding[] past = things.Where(thing => thing.IsOver && thing.Finding.Severity is "fault" or "warning").ToArray();

        Sentence[] errors = [.. report.Buses.Select(bus => ErrorsWithoutFinding(report, bus)).OfType<Sentence>()];

        (string severity, FindingReport? told, Sentence sentence) = (open, past) switch
        {
            _ when model.ReadFrom is { HasNoReport: true } => ("blind", null, Say($"This log holds no report, so nothing is said here of how the bus stood at its end. What was found stands below.")),
            ([var worst, ..], _) => (worst.Finding.Severity, worst.Finding, Join(What(model, worst.Finding), Seen(model, worst.Finding), Others(open[1..]), CameAndWent(past))),
            _ when IsSilent(report) && Ongoing(report) is { } gap => ("blind", null, Deaf(span, gap)),
            _ when IsEmptyTrace(report) => ("blind", null, Say($"This trace holds no frames, so nothing can be said about the bus.")),
            _ when IsSilent(report) => ("blind", null, Say($"Nothing was heard in {span}, so nothing can be said about the bus.")),
            (_, [var worst, ..]) => ("warning", worst.Finding, Join(Say($"Nothing is wrong at the end, but something was."), What(model, worst.Finding), Seen(model, worst.Finding), CameAndWent(past[1..]))),
            _ when things.Length > 0 => ("note", things[0].Finding, Join([Clean(), Say($"Worth knowing: {What(model, things[0].Finding)}"), MoreNotes(things.Length - 1)])),
            _ => ("good", null, Clean()),
        };
        if (sight.Count > 0 && severity is "good" or "note")
        {
            sentence = !IsOnlyDoubt(report) ? Join(sentence, Say($"But part of the traffic was not seen."))
                : told?.Finding == Catalogue.BusNotSeen.Name ? sentence
                : Join(sentence, Say($"But for part of the time silence proves nothing."));
        }

        return new(severity, sentence, sight, [.. model.Times.Remark is { } remark ? (Sentence[])[remark] : [], .. Blindness(report), .. severity is "good" or "note" ? [] : errors, .. model.Remarks])
        {
            Finding = told,
            Troubles = [.. model.Troubles.Select(trouble => Say($"Since {model.Times.Short(trouble.Since)}: {trouble.Text}"))],
        };

        Sentence Clean() => Join([Say($"Nothing wrong was found in {listened} of listening to {Watched(report)}."), .. errors, NotJudged(report)]);

        static Sentence MoreNotes(int count) => count == 0 ? Sentence.Empty : Say(count, $"One more note below.", $"{count:N0} more notes below.");

        static Sentence Deaf(Sentence span, GapReport gap) => gap.Interface is { } name
            ? Say($"Nothing was heard in {span}, as {Reason(gap)} ({name}). So nothing can be said about the bus.")
            : Say($"Nothing was heard in {span}, as {Reason(gap)}. So nothing can be said about the bus.");
    }

    /// <summary>Nothing is known to be lost: the recorder's clock stepped, or may have.</summary>
    private static bool IsOnlyDoubt(Report report)
    {
        FindingReport[] losses = [.. report.Findings.Where(finding => finding.Finding == Catalogue.BusNotSeen.Name)];
        return report.Source.NotSeen is { KernelDropped: 0, QueueDropped: 0, DamagedRecords: 0 } && losses.Length > 0
            && losses.All(finding => finding.Measurements.All(measured => measured.Name == "unknownTime"));
    }

    /// <summary>Why something was not heard, as a part of a sentence.</summary>
    private static Sentence Reason(GapReport gap) => WithoutPoint(gap.WhySaid);

    private static Sentence WithoutPoint(Sentence sentence) => sentence.Template.EndsWith('.') ? new(sentence.Template.TrimEnd('.'), sentence.Parameters) : sentence;

    /// <summary>A trace that names no interface, let alone a frame.</summary>
    private static bool IsEmptyTrace(Report report) => report.Source.Kind == "trace" && report.Buses.Count == 0;

    private static bool IsSilent(Report report) => report.Buses.All(bus => bus.Frames == 0 && (bus.ErrorMessages == 0 || report.Findings.Count == 0));

    /// <summary>Why nothing is heard at this moment, on our own side; null where everything is, or where it is only a hiccup.</summary>
    private static GapReport? Ongoing(Report report) => report.Source.Kind == "live" && report.Source.End is { } end
        ? report.Source.NotSeen.Gaps.LastOrDefault(gap => end.SecondsSince(gap.End) < 2 * TickSeconds && gap.End.SecondsSince(gap.Start) > StalledSeconds)
        : null;

    /// <summary>The finding's own sentence, with the interface where there are several and it isn't named.</summary>
    private static Sentence What(PageModel model, FindingReport finding) =>
        model.Report.Buses.Count > 1 && finding.Interface is { } name && !finding.Summary.Contains(name, StringComparison.Ordinal)
            ? Say($"On {name}: {finding.SummarySaid}")
            : Capital(finding.SummarySaid);

    private static Sentence Seen(PageModel model, FindingReport finding) => (finding.End, finding.Count > 1) switch
    {
        ({ } end, true) => Say($"Seen {finding.Count:N0} times, {model.Times.Moments(finding.Start, end, often: true)}."),
        ({ } end, _) => Say($"Seen {model.Times.Moments(finding.Start, end)}."),
        (_, true) => Say($"Seen {finding.Count:N0} times since {model.Times.Moment(finding.Start)}."),
        _ => Say($"Seen since {model.Times.Moment(finding.Start)}."),
    };

    private static Sentence Others(IReadOnlyList<ToldFinding> others)
    {
        int faults = others.Count(thing => thing.Finding.Severity == "fault");
        Sentence[] parts = new[] { (Count: faults, What: "fault"), (Count: others.Count - faults, What: "warning") }.Where(part => part.Count > 0).Select(part => Words.Amount(part.Count, part.What)).ToArray();
        return parts.Length == 0 ? Sentence.Empty : Say($"Besides: {List(parts)}.");
    }

    private static Sentence CameAndWent(IReadOnlyCollection<ToldFinding> past) =>
        past.Count == 0 ? Sentence.Empty : Say(past.Count, $"One other trouble came and went.", $"{past.Count:N0} other troubles came and went.");

    private static Sentence Watched(Report report) => List([.. report.Buses.Select(bus =>
        Say($"{(bus.Nodes.Count > 0 ? Words.Amount(bus.Nodes.Count, "module") : Words.Amount(bus.Identifiers.Count, "identifier"))} on {bus.Interface}"))]);

    /// <summary>What a good verdict doesn't cover.</summary>
    private static Sentence NotJudged(Report report)
    {
        List<Sentence> parts = [];
        if (report.Buses.Any(bus => bus.ErrorReporting != true && bus.ErrorMessages == 0))
        {
            parts.Add(Say($"errors on the wire"));
        }

        if (report.Buses.Any(bus => bus.BitRate is null))
        {
            parts.Add(Say($"the load"));
        }

        if (report.Buses.Any(bus => Words.IsUnknownProtocol(bus.Protocol)))
        {
            parts.Add(Say($"what the messages mean"));
        }

        if (report.Buses.Sum(bus => bus.Nodes.Count(Words.IsUnnoticed)) is > 0 and int mute)
        {
            parts.Add(Say(mute, $"the silence of one module", $"the silence of {mute:N0} modules"));
        }

        return parts.Count == 0 ? Sentence.Empty : Say($"Not judged: {Listed(parts)}.");
    }

    /// <summary>Errors that no finding speaks of are no reason for one, or too few to tell; null where there are none.</summary>
    private static Sentence? ErrorsWithoutFinding(Report report, BusReport bus)
    {
        long errors = PageRenderer.ErrorsHeard(bus);
        if (errors == 0 || report.Findings.Any(finding => finding.Interface == bus.Interface && OfErrors.Contains(finding.Finding)))
        {
            return null;
        }

        bool isHealthy = report.Assurances.Any(assurance => assurance.Statement == AssuranceReport.FewErrors
            && (report.Buses.Count == 1 || assurance.Subject.StartsWith(bus.Interface + ": ", StringComparison.Ordinal)));
        Sentence frames = Words.Amount(bus.Frames, "frame");
        return isHealthy
            ? Say(
                errors,
                $"On {bus.Interface}, one error was heard in {frames}, no more than a healthy bus shows.",
                $"On {bus.Interface}, {errors:N0} errors were heard in {frames}, no more than a healthy bus shows.")
            : Say(
                errors,
                $"On {bus.Interface}, one error was heard in {frames}, too little to judge.",
                $"On {bus.Interface}, {errors:N0} errors were heard in {frames}, too little to judge.");
    }

    private static List<Sentence> Missed(PageModel model)
    {
        NotSeenReport notSeen = model.Report.Source.NotSeen;
        List<Sentence> lines = [];
        if (notSeen.KernelDropped > 0)
        {
            lines.Add(Say(notSeen.KernelDropped, $"One frame lost on our side before this program could read it.", $"{notSeen.KernelDropped:N0} frames lost on our side before this program could read them."));
        }

        if (notSeen.QueueDropped > 0)
        {
            lines.Add(Say(notSeen.QueueDropped, $"One frame lost because this board was too busy.", $"{notSeen.QueueDropped:N0} frames lost because this board was too busy."));
        }

        if (notSeen.DamagedRecords > 0)
        {
            lines.Add(Say(notSeen.DamagedRecords, $"One record of the trace could not be read.", $"{notSeen.DamagedRecords:N0} records of the trace could not be read."));
        }

        foreach (GapReport gap in notSeen.Gaps.Take(GapsShown))
        {
            double seconds = gap.End.SecondsSince(gap.Start);
            if (IsEmptyTrace(model.Report))
            {
                lines.Add(gap.WhySaid);
                continue;
            }

            Sentence who = gap.Interface is { } name ? Named(name) : Say($"All interfaces");
            lines.Add(seconds < LeastGapSeconds || IsOnlyDoubt(model.Report)
                ? Say($"{who}, at {model.Times.Short(gap.Start)}: {Reason(gap)}.")
                : Say($"{who}: not heard from {model.Times.Short(gap.Start)} for {Times.Span(seconds)} ({Reason(gap)})."));
        }

        if (notSeen.Gaps.Count > GapsShown)
        {
            lines.Add(Say(notSeen.Gaps.Count - GapsShown, $"1 more gap stands in the report document.", $"{notSeen.Gaps.Count - GapsShown} more gaps stand in the report document."));
        }

        if (notSeen.FindingsRefused)
        {
            lines.Add(Say($"More findings came up than this program keeps; those that came after are not shown."));
        }

        foreach (BusReport bus in model.Report.Buses.Where(bus => bus.UntrackedFrames > 0))
        {
            lines.Add(Say($"{bus.Interface}: more different identifiers were sent than this program keeps apart ({bus.Identifiers.Count:N0}); in {Words.Amount(bus.UntrackedFrames, "frame")} of others nothing was looked for."));
        }

        if (model.Report.Source.Kind == "live" && model.ReadFrom is null && model.Asked is { } asked && model.Report.Source.End is { } end && asked.SecondsSince(end) > StalledSeconds)
        {
            lines.Add(Say($"The analysis stands still since {model.Times.Full(end)}. What follows is old."));
        }

        return lines;
    }

    private static List<Sentence> Blindness(Report report)
    {
        List<Sentence> lines = [];
        foreach (BusReport bus in report.Buses)
        {
            if (bus.BitRate is null)
            {
                lines.Add(Say($"{bus.Interface}: the bit rate is not known, so there is no load; give --bit-rate N."));
            }

            if (bus.ErrorReporting is null && bus.ErrorMessages == 0 && bus.Frames > 0)
            {
                lines.Add(Say($"{bus.Interface}: no error message is in this record, and whether the adapter would have reported any is not known; so nothing is said about errors."));
            }

            if (bus.ErrorReporting == false)
            {
                lines.Add(Say($"{bus.Interface}: this adapter does not report single errors, so none here does not mean none on the bus."));
            }

            if (bus.ControllerState is { } state && state is not "error-active")
            {
                lines.Add(Words.ControllerState(bus.Interface, state, bus.ListenOnly == true));
            }

            if (bus.Undecodable is { Count: > 0 } undecodable && undecodable.Values.Sum() is > 0 and long count)
            {
                Sentence reasons = Listed([.. undecodable.Where(reason => reason.Value > 0).OrderByDescending(reason => reason.Value).Take(4).Select(reason => Say($"{Words.Undecodable(reason.Key)}: {reason.Value:N0}"))]);
                lines.Add(Say($"{bus.Interface}: {Words.Amount(count, "message")} could not be read as {Words.Protocol(bus.Protocol)} ({reasons})."));
            }

            lines.AddRange(bus.RemarksSaid.Select(remark => Say($"{bus.Interface}: {remark}")));
        }

        return lines;
    }
}
