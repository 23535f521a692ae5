namespace Diagnostics.Agent.Chronicles;

/// <summary>What a sensor measured in a stretch of time.</summary>
/// <param name="Quantity">As the report names it, in the unit that ends its name.</param>
/// <param name="Columns">In order of time; null = no value, which is no value of zero.</param>
internal sealed record MeasuredStretch(string Quantity, IReadOnlyList<MeasuredColumn?> Columns);

/// <param name="Lowest">In the quantity's unit, as all values; of the windows in it.</param>
/// <param name="Mean">Of them.</param>
/// <param name="Highest">Of them.</param>
/// <param name="Seconds">Of the column that values tell of.</param>
internal readonly record struct MeasuredColumn(double Lowest, double Mean, double Highest, double Seconds);
