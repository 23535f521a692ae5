namespace Diagnostics.Simulation;

/// <summary>
/// How far a device's clock is off. Crystals lie within about ±50 ppm and wander by a few ppm a day, ceramic resonators within ±0.3 %
/// (common practice; a survey of hosts on the Internet found a median of 78 ppm, Mills).
/// </summary>
public sealed record OscillatorPlan(double PartsPerMillion)
{
    /// <summary>Peak of the slow sine around the constant deviation.</summary>
    public double WanderPartsPerMillion { get; init; } = 1;

    public TimeSpan WanderPeriod { get; init; } = TimeSpan.FromHours(24);

    /// <summary>Where the sine starts, radians.</summary>
    public double WanderPhase { get; init; }
}
