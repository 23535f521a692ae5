using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>What one side of a comparison shows: a trace, a stretch of a log, a saved report.</summary>
/// <param name="Kind">trace, log, bundle or report.</param>
/// <param name="Name">What the user named.</param>
/// <param name="Start">First moment; null = nothing was heard at all.</param>
/// <param name="End">Last moment.</param>
/// <param name="Buses">One an interface.</param>
/// <param name="Findings">All of the period, the worst first.</param>
public sealed record ObservedPeriod(
    string Kind, string Name, Instant? Start, Instant? End, IReadOnlyList<ObservedBus> Buses, IReadOnlyList<ObservedFinding> Findings)
{
    /// <summary>Frames and records that our own side lost, as far as it counted them.</summary>
    public long Lost { get; init; }

    /// <summary>More findings were raised than are kept, so some may be missing here.</summary>
    public bool FindingsRefused { get; init; }

    /// <summary>A report document as one side.</summary>
    public static ObservedPeriod Of(Report report, string kind, string name)
    {
        double span = report.Source is { Start: { } start, End: { } end } ? end.SecondsSince(start) : 0;
        NotSeenReport notSeen = report.Source.NotSeen;
        return new(
            kind,
            name,
            report.Source.Start,
            report.Source.End,
            [.. report.Buses.DistinctBy(bus => bus.Interface).Take(Limits.Interfaces).Select(bus => ObservedBus.Of(bus, span))],
            [.. report.Findings.Take(Limits.Findings).Select(finding => new ObservedFinding(finding, Math.Max(1, finding.Count), finding.End is null))])
        {
            Lost = Bounded(notSeen.KernelDropped) + Bounded(notSeen.QueueDropped) + Bounded(notSeen.DamagedRecords),
            FindingsRefused = notSeen.FindingsRefused || report.Findings.Count > Limits.Findings,
        };
    }

    private static long Bounded(long count) => ObservedBus.Bounded(count)!.Value;
}
