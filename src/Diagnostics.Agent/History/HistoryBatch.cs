using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>What one snapshot adds to the log.</summary>
internal sealed record HistoryBatch(
    IReadOnlyList<FindingReport> Findings, IReadOnlyList<TrafficRow> Minutes, IReadOnlyList<NodeEvent> NodeEvents)
{
    public bool IsEmpty => Findings.Count == 0 && Minutes.Count == 0 && NodeEvents.Count == 0;
}
