using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// A stretch of a log as one side of a comparison. Counts come from the rows of traffic, the coarsest first and finer ones where those leave room, so none is counted twice; findings as they stood at
/// the end of the stretch, each with the episodes that began within it; nodes from what happened to them.
/// </summary>
internal sealed class ObservedLog(StoredHistory log, string kind, string name)
{
    /// <summary>A heartbeat or event timer has 16 bits of milliseconds (CiA 301), and silence is noticed after three and a half of its periods.</summary>
    private const double LongestSilenceSeconds = 3.5 * 65.535;

    private const double LeastSeconds = 1e-9;

    /// <summary>As many as the analysis keeps of one run; a bundle may come from anybody.</summary>
    private const int MostFindings = 2000;

    /// <summary>The length of a row is kept as seconds, so its end may be a little off the next row's beginning.</summary>
    private static readonly TimeSpan Slack = TimeSpan.FromMilliseconds(1);

    private static readonly StoreSeries[] Tiers = [StoreSeries.Hours, StoreSeries.Quarters, StoreSeries.Minutes, StoreSeries.Seconds];

    private readonly IReadOnlyList<LogRun> _runs = log.ReadRuns();

    /// <summary>
    /// Each tier once and whole, in order of time, and only if it is needed: to look for spans in the log means to look through each of its runs. What a log of the usual size holds takes some tens of megabytes.
    /// </summary>
    private readonly Dictionary<StoreSeries, IReadOnlyList<TrafficRow>> _tiers = [];

    private HashSet<string>? _seeErrors;

    /// <summary>What the log has of the span; null = from its beginning, or to its end.</summary>
    public ObservedPeriod Of(Instant? from, Instant? to)
    {
        (Instant begin, Instant end) = (Instant.Max(from ?? StoredHistory.Earliest, StoredHistory.Earliest), Instant.Min(to ?? StoredHistory.Latest, StoredHistory.Latest));
        List<TrafficRow> rows = Rows(begin, end);
        List<ObservedFinding> findings = Findings(begin, end);
        return new(
            kind,
            name,
            rows.Count == 0 ? null : Instant.Max(begin, rows.Min(row => row.Start)),
            rows.Count == 0 ? null : Instant.Min(end, rows.Max(row => row.End)),
            [.. rows.GroupBy(row => row.Interface, StringComparer.Ordinal).OrderBy(bus => bus.Key, StringComparer.Ordinal).Select(bus => Bus(bus.Key, [.. bus], begin, end))],
            [.. findings.Take(MostFindings)]) { FindingsRefused = findings.Count > MostFindings };
    }

    private IReadOnlyList<TrafficRow> Tier(StoreSeries tier) => _tiers.TryGetValue(tier, out IReadOnlyList<TrafficRow>? rows) ? rows : _tiers[tier] = log.ReadRows(tier, StoredHistory.Earliest, StoredHistory.Latest);

    /// <summary>Rows that begin within a span.</summary>
    private IEnumerable<TrafficRow> Within(StoreSeries tier, Instant from, Instant to)
    {
        IReadOnlyList<TrafficRow> rows = Tier(tier);
        int low = 0;
        int high = rows.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = rows[middle].Start < from ? (middle + 1, high) : (low, middle);
        }

        return rows.Skip(low).TakeWhile(row => row.Start <= to);
    }

    /// <summary>Interfaces whose adapter reports errors, as it once did.</summary>
    private HashSet<string> SeeErrors() => _seeErrors ??=
        [.. Tiers[..3].SelectMany(Tier).Where(row => row.ErrorEpisodes is not null).Select(row => row.Interface)];

    private ObservedBus Bus(string bus, TrafficRow[] rows, Instant begin, Instant end)
    {
        Totals totals = rows.Aggregate(Totals.None, (sum, row) => Bounded(sum.Plus(TotalsOf(row))));
        // Rates over less than a bit would be infinite.
        totals = totals with { Bits = totals.Bits < 1 ? 0 : totals.Bits, HeardSeconds = totals.HeardSeconds < LeastSeconds ? 0 : totals.HeardSeconds };

        TrafficRow[] loads = [.. rows.Where(row => row.LoadMean is not null)];
        double loadSeconds = loads.Sum(Heard);
        IReadOnlyList<ObservedNode> nodes = Nodes(bus, begin, end);

        // Where as many are present as are known, the silence of each would be noticed.
        bool areRegular = rows.Max(row => row.NodesPresent) >= nodes.Count;
        return new(bus, totals, areRegular ? [.. nodes.Select(node => node with { SilenceNoticedWithinSeconds = LongestSilenceSeconds })] : nodes)
        {
            LoadMean = loadSeconds > 0 ? loads.Sum(row => row.LoadMean!.Value * Heard(row)) / loadSeconds : null,
            LoadPeak = rows.Max(row => row.LoadPeak),
        };
    }

    private static double Heard(TrafficRow row) => Math.Clamp(row.HeardSeconds ?? row.Seconds, 0, row.Seconds);

    /// <summary>
    /// A row of an older version tells neither bits nor episodes. One of this version has no episodes where none was seen and the adapter hadn't shown yet that it reports any; if it
    /// did at another time, there were none.
    /// </summary>
    private Totals TotalsOf(TrafficRow row) => new(
        Heard(row),
        Math.Max(0, row.Frames),
        row.Bits,
        row.ErrorEpisodes ?? (row.HeardSeconds is not null && SeeErrors().Contains(row.Interface) ? 0 : null),
        row.Restarts);

    /// <summary>The log may come from anybody.</summary>
    private static Totals Bounded(Totals totals) => totals with
    {
        Frames = Math.Min(totals.Frames, long.MaxValue / 4),
        ErrorEpisodes = totals.ErrorEpisodes is long episodes ? Math.Clamp(episodes, 0, ObservedBus.MostCounted) : null,
        Restarts = totals.Restarts is long restarts ? Math.Clamp(restarts, 0, ObservedBus.MostCounted) : null,
    };

    /// <summary>Rows of all tiers that lie wholly in the span, no two of one interface over each other.</summary>
    private List<TrafficRow> Rows(Instant begin, Instant end)
    {
        List<TrafficRow> all = [];
        List<(Instant From, Instant To)> open = [(begin, end)];
        foreach (StoreSeries tier in Tiers)
        {
            if (open.Count == 0)
            {
                break;
            }

            Dictionary<string, Instant> last = new(StringComparer.Ordinal);
            foreach (TrafficRow row in Within(tier, open[0].From - Slack, open[^1].To).Where(row => row.Seconds > 0))
            {
                // Two runs of a board whose clock went back may tell of the same time.
                if (IsWithin(row, open) && (!last.TryGetValue(row.Interface, out Instant until) || row.Start + Slack >= until))
                {
                    last[row.Interface] = row.End;
                    all.Add(row);
                }
            }

            open = Without(begin, end, all);
        }

        return all;
    }

    private static bool IsWithin(TrafficRow row, List<(Instant From, Instant To)> spans)
    {
        int place = spans.BinarySearch((row.Start + Slack, StoredHistory.Latest), Comparer<(Instant From, Instant To)>.Create((a, b) => a.From.CompareTo(b.From)));
        place = place >= 0 ? place : ~place - 1;
        return place >= 0 && row.End <= spans[place].To + Slack;
    }

    /// <summary>What of the span no row covers.</summary>
    private static List<(Instant From, Instant To)> Without(Instant begin, Instant end, List<TrafficRow> rows)
    {
        List<(Instant, Instant)> open = [];
        Instant covered = begin;
        foreach (TrafficRow row in rows.OrderBy(row => row.Start))
        {
            if (row.Start > covered + Slack)
            {
                open.Add((covered, row.Start));
            }

            covered = Instant.Max(covered, row.End);
        }

        if (covered < end)
        {
            open.Add((covered, end));
        }

        return open;
    }

    private List<ObservedFinding> Findings(Instant begin, Instant end)
    {
        Dictionary<string, ObservedFinding> found = new(StringComparer.Ordinal);
        int lastRun = LastRun(end);
        for (int place = 0; place <= lastRun; place++)
        {
            foreach (IGrouping<string, (Instant Time, FindingReport Finding)> versions in _runs[place].Findings.GroupBy(version => version.Finding.Key, StringComparer.Ordinal))
            {
                if (InRun(place, [.. versions], begin, end, place == lastRun) is { } finding)
                {
                    found[versions.Key] = found.TryGetValue(versions.Key, out ObservedFinding? earlier)
                        ? finding with { Began = earlier.Began + finding.Began, First = Instant.Min(earlier.First, finding.First) }
                        : finding;
                }
            }
        }

        return [.. found.Values.OrderBy(finding => Enum.TryParse(finding.Report.Severity, ignoreCase: true, out Severity severity) ? severity : Severity.Note).ThenBy(finding => finding.First)];
    }

    /// <summary>One finding of one run, as it stood at the end of the span; null where the span has nothing of it.</summary>
    private ObservedFinding? InRun(int place, (Instant Time, FindingReport Finding)[] versions, Instant begin, Instant end, bool isLastRun)
    {
        FindingReport[] until = [.. versions.Where(version => version.Time <= end).Select(version => version.Finding)];

        // It was noticed behind the span, though all of it lies within.
        bool isNoticedLate = until.Length == 0 && versions[0].Finding.End is { } over && over <= end;
        if (until.Length == 0 && !isNoticedLate)
        {
            return null;
        }

        FindingReport stood = isNoticedLate ? versions[0].Finding : until[^1];
        long before = versions.LastOrDefault(version => version.Time <= begin).Finding?.Count ?? 0;
        bool reaches = stood.End is { } ended ? ended > begin : ReachesBehind(place, begin);
        return reaches ? new(stood, Math.Clamp(stood.Count - before, 0, ObservedBus.MostCounted), stood.End is null && isLastRun) : null;
    }

    private List<ObservedNode> Nodes(string bus, Instant begin, Instant end)
    {
        SortedDictionary<int, ObservedNode> nodes = [];
        int lastRun = LastRun(end);
        for (int place = 0; place <= lastRun; place++)
        {
            foreach (IGrouping<int, NodeEvent> events in _runs[place].NodeEvents.Where(happened => happened.Interface == bus && happened.Address is >= 0 and <= ObservedBus.HighestAddress).GroupBy(happened => happened.Address))
            {
                bool isHere = false;
                bool wasHeard = false;
                foreach (NodeEvent happened in events.OrderBy(happened => happened.Time).TakeWhile(happened => happened.Time <= end))
                {
                    // Of silence the time is that at which it was heard last.
                    wasHeard |= happened.Time > begin;
                    isHere = happened.Kind != NodeEventKind.Silent;
                }

                if (wasHeard || (isHere && ReachesBehind(place, begin)))
                {
                    string? called = events.Select(happened => happened.Kind == NodeEventKind.Appeared ? happened.Detail : null).FirstOrDefault(detail => detail is not null);
                    nodes[events.Key] = new(events.Key, called) { IsPresent = isHere ? null : false };
                }
            }
        }

        return [.. nodes.Values];
    }

    /// <summary>When a run began on its own line. The demo's is another than the clock on the wall.</summary>
    private Instant? BeginOf(int place)
    {
        IEnumerable<Instant> known = _runs[place].Findings.Take(1).Select(version => version.Time).Concat(_runs[place].NodeEvents.Take(1).Select(happened => happened.Time));
        return _runs[place].Start is { } start ? known.Append(start).Aggregate(Instant.Min) : null;
    }

    /// <summary>The last run that had begun by then.</summary>
    private int LastRun(Instant end)
    {
        int last = _runs.Count - 1;
        while (last > 0 && BeginOf(last) is { } start && start >= end)
        {
            last--;
        }

        return last;
    }

    /// <summary>Whether a run went on behind a moment. The log's last one may still go on; an earlier one did if it left rows between that moment and the next start.</summary>
    private bool ReachesBehind(int place, Instant moment)
    {
        if (place == _runs.Count - 1 || (BeginOf(place) is { } start && start >= moment))
        {
            return true;
        }

        return BeginOf(place + 1) is { } next && next > moment
            && new[] { StoreSeries.Minutes, StoreSeries.Seconds, StoreSeries.Hours }.Any(tier => Within(tier, moment, next).Any(row => row.End <= next + Slack));
    }
}
