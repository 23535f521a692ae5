using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>
/// Puts minutes of measured values into columns: the lowest and the highest of a minute count for each column that it reaches into, its mean by how long it lies in it. So a dip may be drawn a minute wide
/// where columns are shorter than that, and is never drawn less deep.
/// </summary>
internal sealed class MeasuredFiller(Instant from, TimeSpan step, int count)
{
    /// <summary>What has a lane of its own; the lines are judged by their levels, and their means move with the traffic.</summary>
    private static readonly string[] Shown = ["supplyVolts", "airCelsius", "boardCelsius"];

    private const double Slack = 0.001;

    private readonly double _step = step.TotalSeconds;
    private readonly Dictionary<string, Sums[]> _quantities = new(StringComparer.Ordinal);

    public static bool IsShown(string quantity) => Shown.Contains(quantity, StringComparer.Ordinal);

    /// <param name="begin">Of the span that the values are from.</param>
    /// <param name="seconds">Its length.</param>
    /// <param name="measuredSeconds">What of it was measured.</param>
    /// <param name="value">Its values.</param>
    public void Add(Instant begin, double seconds, double measuredSeconds, MeasuredMinute value)
    {
        if (!IsShown(value.Quantity))
        {
            return;
        }

        double start = begin.SecondsSince(from);
        double end = start + seconds;
        int last = (int)Math.Min(count - 1, Math.Ceiling((end - Slack) / _step) - 1);
        for (int column = (int)Math.Max(0, Math.Floor((start + Slack) / _step)); column <= last; column++)
        {
            if (!_quantities.TryGetValue(value.Quantity, out Sums[]? columns))
            {
                columns = _quantities[value.Quantity] = new Sums[count];
            }

            double within = Math.Min(end, (column + 1) * _step) - Math.Max(start, column * _step);
            columns[column].Add(value, within * measuredSeconds / seconds);
        }
    }

    public IReadOnlyList<MeasuredStretch> ToStretches() =>
        [.. Shown.Where(_quantities.ContainsKey).Select(quantity => new MeasuredStretch(quantity, Array.ConvertAll(_quantities[quantity], sums => sums.ToColumn(_step))))];

    private struct Sums
    {
        private double _seconds;
        private double _sum;
        private double _lowest;
        private double _highest;

        public void Add(MeasuredMinute value, double seconds)
        {
            _lowest = _seconds > 0 ? Math.Min(_lowest, value.Lowest) : value.Lowest;
            _highest = _seconds > 0 ? Math.Max(_highest, value.Highest) : value.Highest;
            _sum += value.Mean * seconds;
            _seconds += seconds;
        }

        public readonly MeasuredColumn? ToColumn(double step) => _seconds > 0 ? new(_lowest, _sum / _seconds, _highest, Math.Min(step, _seconds)) : null;
    }
}
