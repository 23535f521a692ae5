namespace Diagnostics.Core.Measuring;

/// <summary>
/// What the settings say of what the board measures; null = not said. What a part can see of a dip, and which lines it looks at, isn't said here: each
/// <see cref="Measurement"/> carries its own window, and a quantity is measured as soon as it comes.
/// </summary>
public sealed record MeasuringLimits
{
    /// <summary>A supply of 24 V DC may be 15 % low, devices that keep IEC 61131-2 still work (from memory).</summary>
    private const double LowestShare = 0.85;

    /// <summary>Interface that the lines and the supply belong to, as in <c>can0</c>; null = the first.</summary>
    public string? Interface { get; init; }

    /// <summary>What the bus supply is built for, volts.</summary>
    public double? NominalSupplyVolts { get; init; }

    /// <summary>Below this for seconds the supply is too low (<c>supply.low</c>), volts; null = 85 % of the nominal voltage where that is known.</summary>
    public double? LowSupplyVolts { get; init; }

    /// <summary>Below this, however shortly, it dipped (<c>supply.dip</c>), volts; null = as <see cref="LowSupplyVolts"/>.</summary>
    public double? DipSupplyVolts { get; init; }

    /// <summary>What holds for <c>supply.low</c>, volts.</summary>
    public double? Low => LowSupplyVolts ?? (LowestShare * NominalSupplyVolts);

    /// <summary>What holds for <c>supply.dip</c>, volts.</summary>
    public double? Dip => DipSupplyVolts ?? Low;
}
