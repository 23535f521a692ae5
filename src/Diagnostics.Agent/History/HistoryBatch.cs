using Diagnostics.Agent.History.Store;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>What one snapshot adds to the log.</summary>
internal sealed record HistoryBatch(
    IReadOnlyList<FindingReport> Findings, IReadOnlyList<(StoreSeries Tier, TrafficRow Row)> Rows, IReadOnlyList<NodeEvent> NodeEvents)
{
    public static readonly HistoryBatch Nothing = new([], [], []);

    public bool IsEmpty => Findings.Count == 0 && Rows.Count == 0 && NodeEvents.Count == 0;

    /// <summary>Those that the chart shows.</summary>
    public IReadOnlyList<TrafficRow> Minutes => [.. Rows.Where(row => row.Tier == StoreSeries.Minutes).Select(row => row.Row)];
}
