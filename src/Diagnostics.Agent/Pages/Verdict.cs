using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Pages;

/// <summary>The first sentence of the report, and whether the tool itself can see.</summary>
/// <param name="Severity">fault, warning, note, or good, or blind where nothing can be said.</param>
/// <param name="Sentence">The answer to "is it the bus?".</param>
/// <param name="Sight">What was not seen, one sentence a line; empty where nothing was missed.</param>
/// <param name="Limits">What this set-up can't see at all, one sentence a line.</param>
internal sealed record Verdict(string Severity, string Sentence, IReadOnlyList<string> Sight, IReadOnlyList<string> Limits)
{
    /// <summary>A live analysis ticks once a second; ten missed ticks are no hiccup.</summary>
    private const double StalledSeconds = 10;

    private const int GapsShown = 5;

    /// <summary>Whether this tool can see, in a word and a sentence.</summary>
    public static (string Word, string Sentence) SightOf(Report report, Verdict verdict) =>
        report.Buses.Count == 0 ? ("Not yet.", "There is no interface to listen to.")
        : IsSilent(report) ? ("That can’t be told.", "Nothing at all was heard. A plug that is out, a bus without supply or a wrong bit rate would look the same from here.")
        : report.Buses.Any(bus => bus.ControllerState == "bus-off") ? ("Not any more.", "Our own adapter has gone off the bus; what came after that was not heard.")
        : verdict.Sight.Count == 0 ? ("Yes.", "Nothing that was sent here was missed on our side.")
        : ("Only in part.", "In these times, silence proves nothing:");

    /// <summary>Where there is nothing to judge, nothing wrong means nothing.</summary>
    public static string NoFindings(Report report) => IsSilent(report) ? "Nothing can be said: nothing was heard." : "Nothing.";

    public static Verdict Of(PageModel model)
    {
        Report report = model.Report;
        List<string> sight = Missed(model);
        string span = report.Source.Start is { } start && report.Source.End is { } end ? Times.Span(end.SecondsSince(start)) : "no time";
        int faults = Open(report, "fault");
        int warnings = Open(report, "warning");
        int past = report.Findings.Count(finding => finding.End is not null && finding.Severity is "fault" or "warning");

        int pastFaults = report.Findings.Count(finding => finding.End is not null && finding.Severity == "fault");
        string earlier = pastFaults > 0 ? $" {Words.Capital(Amount(pastFaults, "fault"))} came and went before." : string.Empty;

        (string severity, string sentence) = (faults, warnings) switch
        {
            ( > 0, _) => ("fault", $"Something is wrong: {Amount(faults, "fault")}{(warnings > 0 ? $" and {Amount(warnings, "warning")}" : string.Empty)}.{earlier}"),
            (0, > 0) => ("warning", $"It works at the moment, but should not be left so: {Amount(warnings, "warning")}.{earlier}"),
            _ when IsSilent(report) => ("blind", $"Nothing was heard in {span}, so nothing can be said about the bus."),
            _ when past > 0 => ("warning", $"Nothing is wrong at the end, but {Amount(past, "trouble")} came and went in {span}."),
            _ when report.Findings.Count > 0 => ("note", $"Nothing wrong was found in {span}; {Amount(report.Findings.Count, "thing")} worth knowing."),
            _ => ("good", $"Nothing wrong was found in {span} of listening."),
        };
        if (sight.Count > 0 && severity is "good" or "note")
        {
            sentence += " But part of the traffic was not seen.";
        }

        return new(severity, sentence, sight, Blindness(report));
    }

    private static bool IsSilent(Report report) => report.Buses.All(bus => bus.Frames == 0 && (bus.ErrorMessages == 0 || report.Findings.Count == 0));

    public static string Amount(long count, string what) => count == 1 ? $"one {what}" : $"{Words.Count(count)} {what}s";

    private static int Open(Report report, string severity) => report.Findings.Count(finding => finding.End is null && finding.Severity == severity);

    private static List<string> Missed(PageModel model)
    {
        NotSeenReport notSeen = model.Report.Source.NotSeen;
        List<string> lines = [];
        if (notSeen.KernelDropped > 0)
        {
            lines.Add($"{Amount(notSeen.KernelDropped, "frame")} lost on our side before this program could read them.");
        }

        if (notSeen.QueueDropped > 0)
        {
            lines.Add($"{Amount(notSeen.QueueDropped, "frame")} lost because this board was too busy.");
        }

        if (notSeen.DamagedRecords > 0)
        {
            lines.Add($"{Amount(notSeen.DamagedRecords, "record")} of the trace could not be read.");
        }

        foreach (GapReport gap in notSeen.Gaps.Take(GapsShown))
        {
            lines.Add($"{gap.Interface ?? "All interfaces"}: not heard from {Times.Short(gap.Start, model.Report.Source.End)} for {Times.Span(gap.End.SecondsSince(gap.Start))} ({gap.Why.TrimEnd('.')}).");
        }

        if (notSeen.Gaps.Count > GapsShown)
        {
            lines.Add($"{notSeen.Gaps.Count - GapsShown} more gaps stand in the report document.");
        }

        if (model.Report.Source.Kind == "live" && model.Asked is { } asked && model.Report.Source.End is { } end && asked.SecondsSince(end) > StalledSeconds)
        {
            lines.Add($"The analysis stands still since {Times.Full(end)}. What follows is old.");
        }

        lines.AddRange(model.Troubles.Select(trouble => $"Since {Times.Short(trouble.Since, model.Report.Source.End)}: {trouble.Text}"));
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
                lines.Add($"{bus.Interface}: {Amount(count, "message")} could not be read as {Words.Protocol(bus.Protocol)} ({string.Join(", ", undecodable.Where(reason => reason.Value > 0).OrderByDescending(reason => reason.Value).Take(4).Select(reason => $"{Words.Spaced(reason.Key)}: {Words.Count(reason.Value)}"))}).");
            }
        }

        return lines;
    }
}
