using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// Makes the rows of all tiers from successive snapshots: a row a second and a row a minute from the report's totals, a row a quarter of an hour and an hour by
/// joining those of the minutes. Tiers end at full minutes, quarters and hours of the source's own line; what a run's end cuts short is kept in the finer tiers.
/// </summary>
internal sealed class TierRows
{
    private const long NanosecondsPerMinute = 60_000_000_000;

    /// <summary>Rows of seconds are made of snapshots a second or a few apart. In the demo, which runs faster than life, these are minutes apart: then there are no seconds to tell.</summary>
    private const long FarthestSeconds = 10_000_000_000;

    private static readonly (StoreSeries Tier, long Minutes)[] Coarse = [(StoreSeries.Quarters, 15), (StoreSeries.Hours, 60)];

    private readonly TrafficMeter _seconds = new();
    private readonly TrafficMeter _minutes = new();

    /// <summary>What is being joined, by tier and interface.</summary>
    private readonly Dictionary<(StoreSeries Tier, string Interface), TrafficRow> _open = [];
    private Instant? _last;
    private long? _minute;

    /// <summary>Where the minute that is open begins.</summary>
    private Instant _begin;

    /// <summary>A minute of the line began with the last snapshot.</summary>
    public bool IsNewMinute { get; private set; }

    public IReadOnlyList<(StoreSeries Tier, TrafficRow Row)> OnSnapshot(Report report, Instant end)
    {
        List<(StoreSeries, TrafficRow)> rows = [];
        long minute = Math.DivRem(end.Nanoseconds, NanosecondsPerMinute, out long rest) - (rest < 0 ? 1 : 0);
        IsNewMinute = _minute is { } open && minute != open;

        if (_last is { } last && end > last && end.NanosecondsSince(last) <= FarthestSeconds)
        {
            rows.AddRange(_seconds.Close(report, last, end.SecondsSince(last)).Select(row => (StoreSeries.Seconds, row)));
        }
        else
        {
            _seconds.Close(report, end, 0);
        }

        if (IsNewMinute && minute > _minute)
        {
            // Usually one minute; more where snapshots are further apart.
            Instant until = new(minute * NanosecondsPerMinute);
            foreach (TrafficRow row in _minutes.Close(report, _begin, until.SecondsSince(_begin)))
            {
                rows.Add((StoreSeries.Minutes, row));
                foreach ((StoreSeries tier, long minutes) in Coarse)
                {
                    Join(tier, minutes, row, rows);
                }
            }
        }
        else
        {
            _minutes.Observe(report);
        }

        if (_minute is null || minute != _minute)
        {
            // A run begins within a minute, and of what was before it nothing is told.
            _begin = _minute is null || minute < _minute ? end : new(minute * NanosecondsPerMinute);
        }

        _minute = minute;
        _last = end;
        return rows;
    }

    private void Join(StoreSeries tier, long minutes, TrafficRow row, List<(StoreSeries, TrafficRow)> rows)
    {
        long length = minutes * NanosecondsPerMinute;
        bool isOpen = _open.Remove((tier, row.Interface), out TrafficRow? before);
        if (isOpen && Stretch(before!.Start) != Stretch(row.Start))
        {
            rows.Add((tier, before));
            isOpen = false;
        }

        TrafficRow joined = isOpen ? before!.With(row) : row;
        if (Stretch(row.End) != Stretch(row.Start))
        {
            rows.Add((tier, joined));
        }
        else
        {
            _open[(tier, row.Interface)] = joined;
        }

        long Stretch(Instant time) => (long)Math.Floor(time.Nanoseconds / (double)length);
    }
}
