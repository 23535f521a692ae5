using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Compares each snapshot with the one before and says what the log should keep: a finding when it is raised, comes back, gets worse or ends,
/// while anything else of it changes once a minute, and the longer it lasts the more rarely; rows of traffic; what happened to nodes. No clock: the snapshot's end is the time.
/// </summary>
internal sealed class HistoryRecorder
{
    /// <summary>A rhythm is learned in a dozen beats; who shows none for so long has none.</summary>
    private static readonly TimeSpan Learning = TimeSpan.FromMinutes(5);

    private readonly TierRows _rows = new();
    private readonly Dictionary<string, (FindingReport Finding, Instant Time)> _written = new(StringComparer.Ordinal);
    private readonly Dictionary<(string Interface, int Address), NodeReport> _nodes = [];
    private readonly HashSet<(string Interface, int Address)> _untold = [];
    private readonly Dictionary<string, Instant> _measured = new(StringComparer.Ordinal);

    public HistoryBatch OnSnapshot(Report report)
    {
        if (report.Source.End is not { } end)
        {
            return HistoryBatch.Nothing;
        }

        IReadOnlyList<(StoreSeries, TrafficRow)> rows = _rows.OnSnapshot(report, end);
        return new(Findings(report, end), rows, NodeEvents(report, end)) { Time = end, Measured = Measured(report) };
    }

    /// <summary>Minutes that were over since the last snapshot. Each quantity ends its own, with the first value behind it.</summary>
    private List<MeasuredRow> Measured(Report report)
    {
        List<(Instant Start, MeasuredMinute Minute)> news = [];
        foreach (QuantityReport quantity in report.Measurements)
        {
            Instant last = _measured.GetValueOrDefault(quantity.Quantity, Instant.MinValue);
            foreach (SpanReport minute in quantity.Minutes.Where(minute => minute.Start > last))
            {
                _measured[quantity.Quantity] = minute.Start;
                news.Add((minute.Start, new(quantity.Quantity, minute.Lowest, minute.Mean, minute.Highest)));
            }
        }

        return [.. news.GroupBy(one => one.Start).OrderBy(group => group.Key).Select(group => new MeasuredRow(group.Key, [.. group.Select(one => one.Minute)]))];
    }

    private List<FindingReport> Findings(Report report, Instant now)
    {
        List<FindingReport> changed = [];
        foreach (FindingReport finding in report.Findings)
        {
            bool known = _written.TryGetValue(finding.Key, out (FindingReport Finding, Instant Time) last);
            FindingReport before = last.Finding;
            bool isOver = finding.End is not null;
            bool isNews = !known || before.Count != finding.Count || before.Severity != finding.Severity
                || (isOver != before.End is not null && (isOver || now - last.Time >= Limits.GoesOnAgain));
            if (isNews || (_rows.IsNewMinute && now - last.Time >= Pause(last.Time - finding.Raised) && !Same(before, finding)))
            {
                if (!known && _written.Count >= Limits.RememberedFindings)
                {
                    continue;
                }

                _written[finding.Key] = (finding, now);
                changed.Add(finding);
            }
        }

        return changed;
    }

    /// <summary>A fault that lasts for months changes every minute; a twelfth of its age is fine enough to see how it grew, and once an hour at least.</summary>
    private static TimeSpan Pause(TimeSpan age) => TimeSpan.FromMinutes(Math.Clamp(age.TotalMinutes / 12, 0, 60));

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

                if (Told(bus.Interface, node, before, end) is { } told)
                {
                    events.Add(told);
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

    /// <summary>Whether presence can be told of a node at all, where that is news.</summary>
    private NodeEvent? Told(string name, NodeReport node, NodeReport? before, Instant end)
    {
        (string, int) key = (name, node.Address);
        if (node.Present is not null)
        {
            return _untold.Remove(key) && node.Present == true ? new(end, name, node.Address, NodeEventKind.CanTell, null) : null;
        }

        bool wasTold = before?.Present is not null;
        return (wasTold || end - node.FirstHeard >= Learning) && _untold.Add(key)
            ? new(wasTold ? end : node.FirstHeard, name, node.Address, NodeEventKind.CannotTell, null)
            : null;
    }
}
