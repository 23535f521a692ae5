using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Captures;

/// <summary>What the bus did around a moment, in words.</summary>
/// <param name="Summary">One or two sentences.</param>
/// <param name="Events">The events nearest to the moment, in order of time.</param>
internal sealed record Story(string Summary, IReadOnlyList<EvidenceReport> Events)
{
    /// <summary>What a person reads; the frames have all of it.</summary>
    public const int MostEvents = 24;

    private const int MostFindings = 6;

    private static readonly (string Word, BusEventKind[] Kinds)[] Groups =
    [
        ("change of inputs", [BusEventKind.InputOn, BusEventKind.InputOff]),
        ("command to outputs", [BusEventKind.OutputOn, BusEventKind.OutputOff]),
        ("start of a node", [BusEventKind.Started]),
        ("network command", [BusEventKind.Command]),
        ("emergency message", [BusEventKind.Emergency]),
        ("error on the wire", [BusEventKind.Error]),
    ];

    private static readonly Dictionary<string, string> Plurals = new(StringComparer.Ordinal)
    {
        ["change of inputs"] = "changes of inputs",
        ["command to outputs"] = "commands to outputs",
        ["start of a node"] = "starts of nodes",
        ["error on the wire"] = "errors on the wire",
    };

    /// <param name="request">The moment.</param>
    /// <param name="events">What happened within its stretch.</param>
    /// <param name="isWhole">Nothing of the stretch had to make room.</param>
    /// <param name="report">Of the time.</param>
    public static Story Of(CaptureRequest request, IReadOnlyList<BusEvent> events, bool isWhole, Report report)
    {
        bool canTell = report.Buses.Any(bus => bus.Protocol == "canopen");
        string[] counted = [.. Groups
            .Select(group => (group.Word, Count: events.Count(happened => group.Kinds.Contains(happened.Kind))))
            .Where(group => group.Count > 0)
            .Select(group => group.Count == 1 ? Verdict.Amount(1, group.Word) : $"{Words.Count(group.Count)} {Plurals.GetValueOrDefault(group.Word, group.Word + "s")}")];
        string happened = counted.Length > 0 ? string.Join(", ", counted)
            : canTell ? "no change of an input or an output, no start of a node, no error on the wire"
            : "no error on the wire";
        List<string> sentences = [$"From {CapturePlan.Before.TotalSeconds:0} s before to {CapturePlan.After.TotalSeconds:0} s after: {happened}."];
        if (!canTell)
        {
            sentences.Add("The protocol isn’t recognised, so inputs and outputs can’t be told.");
        }

        if (!isWhole)
        {
            sentences.Add("More happened than is remembered one by one; the frames have it.");
        }

        FindingReport[] open = [.. report.Findings.Where(finding => finding.Start <= request.Time + CapturePlan.After && (finding.End is not { } end || end >= request.From) && finding.Severity != "note")];
        if (open.Length > 0)
        {
            sentences.Add("What was wrong then: " + string.Join(' ', open.Take(MostFindings).Select(finding => finding.Summary)) + (open.Length > MostFindings ? $" And {open.Length - MostFindings} more." : string.Empty));
        }

        if (events.Count > MostEvents)
        {
            sentences.Add($"The {MostEvents} nearest are told here.");
        }

        return new(
            string.Join(' ', sentences),
            [.. events.OrderBy(near => Math.Abs(near.Time.NanosecondsSince(request.Time))).Take(MostEvents).OrderBy(near => near.Time.Nanoseconds).Select(near => new EvidenceReport(near.Time, near.Text))]);
    }
}
