using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Chronicles;

/// <summary>What a service has in memory, for one that keeps no log or whose log doesn't answer: minute rows of a week at most, and what the report knows.</summary>
internal sealed class MemorySource(AgentState state) : IChronicleSource
{
    private readonly IReadOnlyList<TrafficRow> _rows = state.Rows;
    private readonly Report? _report = state.Report;

    public IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to) =>
        tier == StoreSeries.Minutes ? [.. _rows.Where(row => row.Start >= from && row.Start <= to)] : [];

    /// <summary>The report doesn't tell when a node restarted, only how often.</summary>
    public IReadOnlyList<LogRun> ReadRuns() => _report is not { Source: { Start: { } start, End: { } end } } report
        ? []
        : [new(
            start,
            [.. report.Findings.Select(finding => (finding.Raised, finding))],
            [.. report.Buses.SelectMany(bus => bus.Nodes.SelectMany(node => EventsOf(bus, node)))])];

    public IReadOnlyList<Capture> ReadCaptures() => state.Captures;

    public IReadOnlyList<BoardEvent> ReadBoardEvents() => state.BoardEvents;

    public IReadOnlyList<SoakRecord> ReadSoaks() => state.Soaks;

    public IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to) => [.. state.Measured.Where(row => row.Start >= from && row.Start <= to)];

    public (Instant? First, Instant? Last) ReadReach()
    {
        Instant[] ends = [.. new[] { _report?.Source.Start, _report?.Source.End, _rows.Count > 0 ? _rows[0].Start : null, _rows.Count > 0 ? _rows[^1].End : null }.OfType<Instant>()];
        return ends.Length == 0 ? (null, null) : (ends.Min(), ends.Max());
    }

    private static IEnumerable<NodeEvent> EventsOf(BusReport bus, NodeReport node)
    {
        yield return new(node.FirstHeard, bus.Interface, node.Address, NodeEventKind.Appeared, node.Name);
        if (node.Present != true)
        {
            yield return node.Present is null
                ? new(node.FirstHeard, bus.Interface, node.Address, NodeEventKind.CannotTell, null)
                : new(node.LastHeard, bus.Interface, node.Address, NodeEventKind.Silent, null);
        }
    }
}
