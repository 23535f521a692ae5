using Diagnostics.Can;
using Diagnostics.Core.Findings;
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

    /// <summary>
    /// This side with the silences of the whole record that began in it. Silence is told by a habit, and a side that begins at a cut has yet to learn it; what else is looked for
    /// shows by itself, or is laid to the work at that moment (restarts, another module).
    /// </summary>
    /// <param name="before">The other side of the cut.</param>
    /// <param name="whole">Both sides in one analysis.</param>
    public ObservedPeriod WithSilencesOf(ObservedPeriod before, Report whole)
    {
        List<ObservedFinding> findings = [.. Findings];
        foreach (FindingReport silence in whole.Findings.Where(finding => finding.Finding == Catalogue.NoTraffic.Name || finding.Finding == Catalogue.NodeSilent.Name))
        {
            ObservedFinding? earlier = before.Findings.FirstOrDefault(finding => finding.Report.Key == silence.Key);
            int own = findings.FindIndex(finding => finding.Report.Key == silence.Key);
            long began = silence.Count - (earlier?.Report.Count ?? 0);
            long here = began + (earlier is { Lasts: true } ? 1 : 0);
            EvidenceReport[] evidence = [.. silence.Evidence.Where(row => row.Time >= Start)];
            Instant? first = earlier is null ? silence.Start : evidence.FirstOrDefault()?.Time;
            if (began > 0 && first >= Start && (own < 0 || findings[own].Report.Count < here))
            {
                ObservedFinding found = new(silence with { Start = own < 0 ? first.Value : findings[own].Report.Start, Count = (int)here, Evidence = evidence }, here, silence.End is null);
                if (own < 0)
                {
                    findings.Add(found);
                }
                else
                {
                    findings[own] = found;
                }
            }
        }

        return this with { Findings = [.. findings.OrderBy(finding => Comparer.Rank(finding.Report.Severity))] };
    }

    private static long Bounded(long count) => ObservedBus.Bounded(count)!.Value;
}
