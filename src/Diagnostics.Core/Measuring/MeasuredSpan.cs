using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>What one quantity did in a span of time, in the quantity's unit. A value belongs to the span in which its window ended.</summary>
/// <param name="Start">Of the span, a whole second or minute.</param>
/// <param name="Count">Values in it.</param>
/// <param name="Lowest">The lowest of them; what was shorter than a window was lower.</param>
/// <param name="Highest">The highest.</param>
/// <param name="Sum">Of all.</param>
/// <param name="WindowNanoseconds">Windows, added up.</param>
internal readonly record struct MeasuredSpan(Instant Start, long Count, double Lowest, double Highest, double Sum, long WindowNanoseconds)
{
    public double Mean => Sum / Count;

    /// <summary>How long the part looks for one value.</summary>
    public double WindowSeconds => WindowNanoseconds / 1e9 / Count;

    public static MeasuredSpan Empty(Instant start) => new(start, 0, double.PositiveInfinity, double.NegativeInfinity, 0, 0);

    public MeasuredSpan With(in Measurement measurement) => new(
        Start,
        Count + 1,
        Math.Min(Lowest, measurement.Value),
        Math.Max(Highest, measurement.Value),
        Sum + measurement.Value,
        WindowNanoseconds + measurement.End.NanosecondsSince(measurement.Start));
}
