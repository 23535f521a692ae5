using Diagnostics.Can;

namespace Diagnostics.Core.Reporting;

/// <summary>
/// The same report with other times on it. The analysis counts on a line that never jumps; where the board learned only later what the time is,
/// everything that a person reads is moved at once, what was heard before that moment included.
/// </summary>
public static class Relabelling
{
    public static Report Moved(this Report report, TimeSpan by) => by == TimeSpan.Zero ? report : report with
    {
        Source = report.Source with
        {
            Start = report.Source.Start + by,
            End = report.Source.End + by,
            NotSeen = report.Source.NotSeen with { Gaps = [.. report.Source.NotSeen.Gaps.Select(gap => gap with { Start = gap.Start + by, End = gap.End + by })] },
        },
        Buses = [.. report.Buses.Select(bus => bus with
        {
            BusiestSeconds = [.. bus.BusiestSeconds.Select(second => second with { End = second.End + by })],
            Nodes = [.. bus.Nodes.Select(node => node with { FirstHeard = node.FirstHeard + by, LastHeard = node.LastHeard + by })],
        })],
        Findings = [.. report.Findings.Select(finding => finding.Moved(by))],
        Measurements = [.. report.Measurements.Select(quantity => quantity with
        {
            Since = quantity.Since + by,
            At = quantity.At + by,
            Second = quantity.Second is { } second ? second with { Start = second.Start + by } : null,
            Minute = quantity.Minute is { } minute ? minute with { Start = minute.Start + by } : null,
        })],
    };

    public static FindingReport Moved(this FindingReport finding, TimeSpan by) => by == TimeSpan.Zero ? finding : finding with
    {
        Start = finding.Start + by,
        Raised = finding.Raised + by,
        End = finding.End + by,
        Evidence = [.. finding.Evidence.Select(evidence => evidence with { Time = evidence.Time + by })],
    };
}
