using System.Text.Json.Serialization;
using Diagnostics.Can;

namespace Diagnostics.Core.Reporting;

/// <summary>What a sensor on the board measured, or what is computed from that, in the unit named.</summary>
/// <param name="Quantity">
/// As in <c>supplyVolts</c>; what is computed: <c>dewPointCelsius</c>, and how much warmer the air is (<c>condensationMarginKelvin</c>); <c>recessiveDifferenceVolts</c> and
/// <c>dominantDifferenceVolts</c>, the two levels between the lines to ±2 %; <c>commonModeVolts</c>, the mean of both lines.
/// </param>
/// <param name="Unit">V, A, °C, K or 1.</param>
/// <param name="Since">Begin of the first window.</param>
/// <param name="At">End of the last window.</param>
/// <param name="Last">The last value.</param>
/// <param name="Lowest">Of all since; null where only the last is known, as with all that follows.</param>
/// <param name="Mean">Of all since.</param>
/// <param name="Highest">Of all since.</param>
/// <param name="Count">Values.</param>
/// <param name="WindowSeconds">What one value is the mean over.</param>
/// <param name="SurelySeenSeconds">The shortest deviation that surely shows in full; null until a second is over.</param>
/// <param name="Second">The last whole second in which anything was measured.</param>
/// <param name="Minute">The last whole minute.</param>
public sealed record QuantityReport(
    string Quantity,
    string Unit,
    Instant Since,
    Instant At,
    double Last,
    double? Lowest,
    double? Mean,
    double? Highest,
    long? Count,
    double? WindowSeconds,
    double? SurelySeenSeconds,
    SpanReport? Second,
    SpanReport? Minute)
{
    /// <summary>The last whole minutes in order, <see cref="Minute"/> being the latest; for the log, and not in the document.</summary>
    [JsonIgnore]
    public IReadOnlyList<SpanReport> Minutes { get; init; } = [];
}

/// <summary>A second or a minute of a quantity.</summary>
public sealed record SpanReport(Instant Start, double Lowest, double Mean, double Highest);
