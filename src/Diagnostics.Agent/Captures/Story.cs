using System.Text.Json.Serialization;
using Diagnostics.Agent.Pages;
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

    /// <summary>Letters of their summaries together: so the whole stays below what a page shows of one text, in a language of longer words as well.</summary>
    private const int MostFindingsLength = 300;

    /// <summary>Fewer are told one by one: their moments say more than their number.</summary>
    private const int LeastFolded = 4;

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
            Counted([BusEventKind.State], count => Say(count, $"one change of a node’s state", $"{count:N0} changes of nodes’ states")),
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

        // As the page orders them, but for what follows from another: where there is room for few, each should be a thing of its own.
        IEnumerable<FindingReport> inOrder = ToldFinding.Of(report).OrderBy(told => told.ExplainedBy is not null).Select(told => told.Finding);
        FindingReport[] open = [.. inOrder.Where(finding => finding.Start <= request.Time + CapturePlan.After && (finding.End is not { } end || end >= request.From) && finding.Severity != "note")];
        int length = 0;
        FindingReport[] named = [.. open.Take(MostFindings).TakeWhile((finding, place) => (length += finding.Summary.Length) <= MostFindingsLength || place == 0)];
        if (named.Length > 0)
        {
            sentences.Add(Say($"What was wrong then: {Join(named.Select(finding => finding.SummarySaid))}"));
        }

        if (open.Length > named.Length)
        {
            sentences.Add(Say($"And {open.Length - named.Length} more."));
        }

        List<EvidenceReport> rows = Folded(request.Time, events);
        if (rows.Count < events.Count)
        {
            sentences.Add(Say($"What repeats most is told in one line."));
        }

        if (rows.Count > MostEvents)
        {
            sentences.Add(Say($"The {MostEvents} nearest are told here."));
        }

        Sentence all = Join(sentences);
        return new(
            all.English,
            [.. rows.OrderBy(near => Distance(near.Time)).Take(MostEvents).OrderBy(near => near.Time.Nanoseconds)])
        {
            SummaryWording = all.WhereNeeded,
        };

        long Distance(Instant time) => Math.Abs(time.NanosecondsSince(request.Time));

        Sentence? Counted(BusEventKind[] kinds, Func<int, Sentence> say) => events.Count(entry => kinds.Contains(entry.Kind)) is > 0 and int count ? say(count) : null;
    }

    /// <summary>How far a moment lies from the mark.</summary>
    public static Sentence Beside(double seconds) => seconds <= 0 ? Say($"{-seconds:0.00} s before") : Say($"{seconds:0.00} s after");

    /// <summary>
    /// A thing that goes on changing, as the state of an address that two devices use, would push everything else out of what is told. So where there isn't room for
    /// all, what repeats most becomes one row, then the next, until there is.
    /// </summary>
    private static List<EvidenceReport> Folded(Instant mark, IReadOnlyList<BusEvent> events)
    {
        List<EvidenceReport> rows = [];
        int left = events.Count;
        foreach (BusEvent[] alike in events.GroupBy(ThingOf).Select(thing => thing.ToArray()).OrderByDescending(alike => alike.Length))
        {
            if (rows.Count + left > MostEvents && alike.Length >= LeastFolded)
            {
                rows.Add(Repeated(mark, alike));
            }
            else
            {
                rows.AddRange(alike.Select(happened => EvidenceReport.Of(happened.Time, happened.Text)));
            }

            left -= alike.Length;
        }

        return rows;
    }

    /// <summary>What changes there and back is one thing: on and off, or one state and another.</summary>
    private static (string Interface, BusEventKind Kind, int Node, int Number) ThingOf(BusEvent happened) => happened.Kind switch
    {
        BusEventKind.InputOff => (happened.Interface, BusEventKind.InputOn, happened.Node, happened.Number),
        BusEventKind.OutputOff => (happened.Interface, BusEventKind.OutputOn, happened.Node, happened.Number),
        BusEventKind.OutputReportedOff => (happened.Interface, BusEventKind.OutputReportedOn, happened.Node, happened.Number),
        BusEventKind.State => (happened.Interface, BusEventKind.State, happened.Node, 0),
        _ => (happened.Interface, happened.Kind, happened.Node, happened.Number),
    };

    /// <summary>Stands where the nearest of them does.</summary>
    private static EvidenceReport Repeated(Instant mark, BusEvent[] alike)
    {
        Sentence[] texts = [.. alike.Select(happened => happened.Text).DistinctBy(text => text.English)];
        Sentence what = texts.Length == 1 ? texts[0] : Say($"by turns {List(texts)}");
        Sentence first = Beside(alike.Min(happened => happened.Time).SecondsSince(mark));
        Sentence last = Beside(alike.Max(happened => happened.Time).SecondsSince(mark));
        Instant nearest = alike.MinBy(happened => Math.Abs(happened.Time.NanosecondsSince(mark)))!.Time;
        return EvidenceReport.Of(nearest, Say($"{what}: {alike.Length:N0} times from {first} to {last}, the nearest here"));
    }
}
