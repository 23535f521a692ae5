using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Compares each snapshot with the one before and says what the log should keep: a finding when it is raised, comes back, gets worse or ends,
/// and once a minute while anything else of it changes; rows of traffic; what happened to nodes. No clock: the snapshot's end is the time.
/// </summary>
internal sealed class HistoryRecorder
{
    private readonly TierRows _rows = new();
    private readonly Dictionary<string, FindingReport> _written = new(StringComparer.Ordinal);
    private readonly Dictionary<(string Interface, int Address), NodeReport> _nodes = [];

    public HistoryBatch OnSnapshot(Report report)
    {
        if (report.Source.End is not { } end)
        {
            return HistoryBatch.Nothing;
        }

        IReadOnlyList<(StoreSeries, TrafficRow)> rows = _rows.OnSnapshot(report, end);
        return new(Findings(report, _rows.IsNewMinute), rows, NodeEvents(report, end));
    }

    private List<FindingReport> Findings(Report report, bool isNewMinute)
    {
        List<FindingReport> changed = [];
        foreach (FindingReport finding in report.Findings)
        {
            bool known = _written.TryGetValue(finding.Key, out FindingReport? before);
            bool isNews = !known || before!.Count != finding.Count || before.Severity != finding.Severity || (before.End is null) != (finding.End is null);
            if (isNews || (isNewMinute && !Same(before!, finding)))
            {
                if (!known && _written.Count >= Limits.RememberedFindings)
                {
                    continue;
                }

                _written[finding.Key] = finding;
                changed.Add(finding);
            }
        }

        return changed;
    }

    private static bool Same(FindingReport a, FindingReport b) =>
        a.End == b.End && a.Summary == b.Summary && Math.Abs(a.Confidence - b.Confidence) < 0.005 && a.Evidence.Count == b.Evidence.Count
        && (a.Evidence.Count == 0 || a.Evidence[^1] == b.Evidence[^1]);

    private List<NodeEvent> NodeEvents(Report report, Instant end)
    {
        List<NodeEvent> events = [];
        foreach (BusReport bus in report.Buses)
        {
            foreach (NodeReport node in bus.Nodes)
            {
                if (!_nodes.TryGetValue((bus.Interface, node.Address), out NodeReport? before))
                {
                    events.Add(new(node.FirstHeard, bus.Interface, node.Address, NodeEventKind.Appeared, node.Name));
                }

                if (node.State is not null && node.State != before?.State)
                {
                    events.Add(new(end, bus.Interface, node.Address, NodeEventKind.State, node.State));
                }

                if (node.Restarts > (before?.Restarts ?? 0))
                {
                    events.Add(new(end, bus.Interface, node.Address, NodeEventKind.Restarted, node.Restarts.ToString(System.Globalization.CultureInfo.InvariantCulture)));
                }

                if (node.Present == false && before?.Present != false)
                {
                    events.Add(new(node.LastHeard, bus.Interface, node.Address, NodeEventKind.Silent, null));
                }
                else if (node.Present == true && before?.Present == false)
                {
                    events.Add(new(end, bus.Interface, node.Address, NodeEventKind.Returned, null));
                }

                _nodes[(bus.Interface, node.Address)] = node;
            }
        }

        return events;
    }
}
