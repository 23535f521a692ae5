using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>
/// Puts rows of traffic into columns. What a row counts goes into the column of its middle, since a count can't be divided; what it measures goes by how long it
/// lies in each. No stretch of one bus is told twice: rows go in tier by tier, and a later one only where the earlier ones left room.
/// </summary>
internal sealed class ColumnFiller(Instant from, TimeSpan step, int count)
{
    /// <summary>The length of a row is kept as seconds, so its end may be a little off the next row's beginning.</summary>
    private const double Slack = 0.001;

    private readonly double _step = step.TotalSeconds;
    private readonly SortedDictionary<string, Sums[]> _buses = new(StringComparer.Ordinal);

    /// <summary>What earlier calls told of each bus, in order and merged.</summary>
    private readonly Dictionary<string, List<(double Start, double End)>> _told = new(StringComparer.Ordinal);
    private readonly HashSet<string> _seeErrors = new(StringComparer.Ordinal);

    /// <summary>Rows of a tier, in order of time.</summary>
    /// <param name="rows">Any; those outside are passed over.</param>
    /// <param name="areLast">They are longer than a column, and all that is left: they may fill a part of what others left.</param>
    public void Add(IEnumerable<TrafficRow> rows, bool areLast)
    {
        Dictionary<string, double> until = new(StringComparer.Ordinal);
        Dictionary<string, List<(double Start, double End)>> news = new(StringComparer.Ordinal);
        foreach (TrafficRow row in rows)
        {
            double start = row.Start.SecondsSince(from);
            double end = start + row.Seconds;
            if (row.Seconds <= 0 || end <= 0 || start >= count * _step)
            {
                continue;
            }

            // Two runs of a board whose clock went back may tell of the same time.
            bool isTold = until.TryGetValue(row.Interface, out double told) && start + Slack < told;
            if (isTold || (!areLast && _told.TryGetValue(row.Interface, out List<(double Start, double End)>? earlier) && Overlaps(earlier, start + Slack, end - Slack)))
            {
                continue;
            }

            if (!_buses.TryGetValue(row.Interface, out Sums[]? columns))
            {
                if (_buses.Count >= Limits.ChronicleBuses)
                {
                    continue;
                }

                columns = _buses[row.Interface] = new Sums[count];
            }

            if (!news.TryGetValue(row.Interface, out List<(double Start, double End)>? accepted))
            {
                accepted = news[row.Interface] = [];
            }

            if (accepted is [.., var before] && start - before.End < Slack)
            {
                accepted[^1] = (before.Start, end);
            }
            else
            {
                accepted.Add((start, end));
            }

            until[row.Interface] = end;
            if (row.ErrorEpisodes is not null || row.Errors > 0)
            {
                _seeErrors.Add(row.Interface);
            }

            Put(columns, row, start, end, areLast);
        }

        foreach ((string name, List<(double Start, double End)> accepted) in news)
        {
            _told[name] = [.. _told.GetValueOrDefault(name, []).Concat(accepted).OrderBy(span => span.Start)];
        }
    }

    /// <summary>Spans of columns, within two moments, of which some bus has no whole tale.</summary>
    public IEnumerable<(Instant From, Instant To)> Open(Instant begin, Instant end)
    {
        int? first = null;
        for (int column = 0; column <= count; column++)
        {
            double at = column * _step;
            double known = Math.Min(_step, end.SecondsSince(from) - at) - Math.Max(0, begin.SecondsSince(from) - at);
            bool isOpen = column < count && known > Slack && (_buses.Count == 0 || _buses.Values.Any(bus => bus[column].Covered < known - Slack));
            if (isOpen)
            {
                first ??= column;
            }
            else if (first is { } open)
            {
                yield return (Instant.Max(begin, from + (step * open)), Instant.Min(end, from + (step * column)));
                first = null;
            }
        }
    }

    public IReadOnlyList<BusStretch> ToStretches() =>
        [.. _buses.Select(bus => new BusStretch(bus.Key, _seeErrors.Contains(bus.Key), Array.ConvertAll(bus.Value, sums => sums.ToColumn())))];

    /// <summary>Spans of one bus never overlap each other, so only the last that begins before the end can meet this one.</summary>
    private static bool Overlaps(List<(double Start, double End)> told, double start, double end)
    {
        int low = 0;
        int high = told.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            (low, high) = told[middle].Start < end ? (middle + 1, high) : (low, middle);
        }

        return low > 0 && told[low - 1].End > start;
    }

    private void Put(Sums[] columns, TrafficRow row, double start, double end, bool areLast)
    {
        double heard = Math.Clamp(row.HeardSeconds ?? row.Seconds, 0, row.Seconds) / row.Seconds;
        int middle = (int)Math.Clamp(Math.Floor((start + end) / 2 / _step), -1, count);
        int last = (int)Math.Min(count - 1, Math.Ceiling((end - Slack) / _step) - 1);
        for (int column = (int)Math.Max(0, Math.Floor((start + Slack) / _step)); column <= last; column++)
        {
            ref Sums sums = ref columns[column];

            double seconds = Math.Min(end, (column + 1) * _step) - Math.Max(start, column * _step);

            // Of a column that others told a part of, nobody knows which part a longer row adds.
            if (seconds <= 0 || (areLast && sums.Covered > Slack && !sums.IsCoarse))
            {
                continue;
            }

            sums.Covered += seconds;
            sums.Heard += seconds * heard;
            sums.IsCoarse |= areLast && row.Seconds > _step + Slack;
            if (row.LoadMean is double mean)
            {
                sums.LoadSeconds += seconds;
                sums.Load += mean * seconds;
                sums.Peak = Math.Max(sums.Peak, row.LoadPeak ?? mean);
            }

            if (column == last)
            {
                sums.Nodes = Math.Max(sums.Nodes ?? 0, row.NodesPresent);
            }

            if (column == middle)
            {
                sums.Errors += Math.Max(0, row.Errors);
                sums.Restarts += Math.Max(0, row.Restarts ?? 0);
                sums.HasRestarts |= row.Restarts is not null;
            }
        }
    }

    private struct Sums
    {
        public double Covered;
        public double Heard;
        public double LoadSeconds;
        public double Load;
        public double Peak;
        public long Errors;
        public long Restarts;
        public bool HasRestarts;
        public bool IsCoarse;
        public int? Nodes;

        public readonly TimeColumn ToColumn() => new(
            Covered, Heard, LoadSeconds > 0 ? Load / LoadSeconds : null, LoadSeconds > 0 ? Peak : null, Errors, HasRestarts ? Restarts : null, Nodes, IsCoarse);
    }
}
