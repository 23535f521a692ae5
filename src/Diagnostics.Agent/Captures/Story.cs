using System.Text.Json.Serialization;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Captures;

/// <summary>What the bus did around a moment, in words.</summary>
/// <param name="Summary">One or two sentences.</param>
/// <param name="Events">The events nearest to the moment, in order of time.</param>
internal sealed record Story(string Summary, IReadOnlyList<EvidenceReport> Events)
{
    /// <summary>What <see cref="Summary"/> is made from; null in logs of an older version.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? SummaryWording { get; init; }

    [JsonIgnore]
    public Sentence Said => SummaryWording ?? Sentence.Plain(Summary);

    /// <summary>What a person reads; the frames have all of it.</summary>
    public const int MostEvents = 24;

    private const int MostFindings = 6;

    /// <param name="request">The moment.</param>
    /// <param name="events">What happened within its stretch.</param>
    /// <param name="isWhole">Nothing of the stretch had to make room.</param>
    /// <param name="report">Of the time.</param>
    public static Story Of(CaptureRequest request, IReadOnlyList<BusEvent> events, bool isWhole, Report report)
    {
        bool canTell = report.Buses.Any(bus => bus.Protocol == "canopen");
        Sentence[] counted = [.. new[]
        {
            Counted([BusEventKind.InputOn, BusEventKind.InputOff], count => Say(count, $"one change of inputs", $"{count:N0} changes of inputs")),
            Counted([BusEventKind.OutputOn, BusEventKind.OutputOff], count => Say(count, $"one command to outputs", $"{count:N0} commands to outputs")),
            Counted([BusEventKind.Started], count => Say(count, $"one start of a node", $"{count:N0} starts of nodes")),
            Counted([BusEventKind.Command], count => Say(count, $"one network command", $"{count:N0} network commands")),
            Counted([BusEventKind.Emergency], count => Say(count, $"one emergency message", $"{count:N0} emergency messages")),
            Counted([BusEventKind.Error], count => Say(count, $"one error on the wire", $"{count:N0} errors on the wire")),
        }.OfType<Sentence>()];
        Sentence happened = counted.Length > 0 ? Listed(counted)
            : canTell ? Say($"no change of an input or an output, no start of a node, no error on the wire")
            : Say($"no error on the wire");
        List<Sentence> sentences = [Say($"From {CapturePlan.Before.TotalSeconds:0} s before to {CapturePlan.After.TotalSeconds:0} s after: {happened}.")];
        if (!canTell)
        {
            sentences.Add(Say($"The protocol isn’t recognised, so inputs and outputs can’t be told."));
        }

        if (!isWhole)
        {
            sentences.Add(Say($"More happened than is remembered one by one; the frames have it."));
        }

        FindingReport[] open = [.. report.Findings.Where(finding => finding.Start <= request.Time + CapturePlan.After && (finding.End is not { } end || end >= request.From) && finding.Severity != "note")];
        if (open.Length > 0)
        {
            sentences.Add(Say($"What was wrong then: {Join(open.Take(MostFindings).Select(finding => finding.SummarySaid))}"));
        }

        if (open.Length > MostFindings)
        {
            sentences.Add(Say($"And {open.Length - MostFindings} more."));
        }

        if (events.Count > MostEvents)
        {
            sentences.Add(Say($"The {MostEvents} nearest are told here."));
        }

        Sentence all = Join(sentences);
        return new(
            all.English,
            [.. events.OrderBy(near => Math.Abs(near.Time.NanosecondsSince(request.Time))).Take(MostEvents).OrderBy(near => near.Time.Nanoseconds).Select(near => EvidenceReport.Of(near.Time, near.Text))])
        {
            SummaryWording = all.WhereNeeded,
        };

        Sentence? Counted(BusEventKind[] kinds, Func<int, Sentence> say) => events.Count(entry => kinds.Contains(entry.Kind)) is > 0 and int count ? say(count) : null;
    }
}
