using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>Measured minutes joined to hours, for stretches of weeks: a month has 43,000 minutes.</summary>
internal sealed class MeasuredHours
{
    private const int Hour = 3600;
    private const int Minute = 60;

    private readonly SortedDictionary<(long Hour, string Quantity), (MeasuredMinute Value, int Minutes)> _hours = [];

    public MeasuredHours(IEnumerable<MeasuredRow> rows)
    {
        foreach (MeasuredRow row in rows)
        {
            Add(row);
        }
    }

    public void Add(MeasuredRow row)
    {
        foreach (MeasuredMinute value in row.Values.Where(value => MeasuredFiller.IsShown(value.Quantity)))
        {
            (long, string) key = ((long)Math.Floor(row.Start.Nanoseconds / (Hour * 1e9)), value.Quantity);
            _hours[key] = _hours.TryGetValue(key, out (MeasuredMinute Value, int Minutes) before)
                ? (new(value.Quantity, Math.Min(before.Value.Lowest, value.Lowest), ((before.Value.Mean * before.Minutes) + value.Mean) / (before.Minutes + 1), Math.Max(before.Value.Highest, value.Highest)), before.Minutes + 1)
                : (value, 1);
        }
    }

    public void Fill(MeasuredFiller columns)
    {
        foreach (((long hour, _), (MeasuredMinute value, int minutes)) in _hours)
        {
            columns.Add(new(hour * Hour * 1_000_000_000), Hour, Math.Min(Hour, minutes * Minute), value);
        }
    }
}
