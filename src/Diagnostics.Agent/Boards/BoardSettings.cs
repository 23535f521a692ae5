using Diagnostics.Core.Measuring;
using UnitsNet;

namespace Diagnostics.Agent.Boards;

/// <summary>What is fitted to the board besides its CAN interface, as the settings say, checked; each part may be missing. <see cref="BoardSettingsReader"/> makes it.</summary>
internal sealed record BoardSettings
{
    public const int DefaultI2cBus = 1;

    /// <summary>N of /dev/i2c-N.</summary>
    public int I2cBus { get; init; } = DefaultI2cBus;

    /// <summary>N of /dev/gpiochipN.</summary>
    public int GpioChip { get; init; }

    /// <summary>The interface whose bus is measured; null = the first.</summary>
    public string? Interface { get; init; }

    public SupplySettings? Supply { get; init; }

    public LineSettings? Line { get; init; }

    /// <summary>Address of the BME280; null = none is fitted.</summary>
    public int? AirAddress { get; init; }

    /// <summary>Keep the board's own temperature, where its kernel tells it.</summary>
    public bool Temperature { get; init; } = true;

    public LightSettings? Light { get; init; }

    /// <summary>Address of the small display; null = none is fitted.</summary>
    public int? DisplayAddress { get; init; }

    public ButtonSettings? Button { get; init; }

    /// <summary>What the analysis judges the measured supply by.</summary>
    public MeasuringLimits Limits => new()
    {
        Interface = Interface,
        NominalSupplyVolts = Supply?.Nominal?.Volts,
        LowSupplyVolts = Supply?.Low?.Volts,
        DipSupplyVolts = Supply?.Dip?.Volts,
    };
}

/// <summary>Parts that measure the supply of the bus.</summary>
internal enum SupplyPart
{
    Ina219,
    Ina236,
}

/// <param name="Part">Which.</param>
/// <param name="Address">On the I2C bus.</param>
/// <param name="Shunt">That the current of the bus flows through; zero = none, only volts are measured.</param>
internal sealed record SupplySettings(SupplyPart Part, int Address, ElectricResistance Shunt)
{
    /// <summary>What the supply should have.</summary>
    public ElectricPotential? Nominal { get; init; }

    /// <summary>Below this for long it is too low.</summary>
    public ElectricPotential? Low { get; init; }

    /// <summary>Below this, however shortly, it dipped.</summary>
    public ElectricPotential? Dip { get; init; }
}

/// <param name="Address">Of the ADS1115.</param>
/// <param name="Supply">What the ADS1115 runs on: no input may be above it.</param>
/// <param name="SamplesPerSecond">8, 16, 32 or 64: a window is one sample long.</param>
/// <param name="HighInput">0 to 3, where the divider of CAN_H ends.</param>
/// <param name="LowInput">As <paramref name="HighInput"/>, of CAN_L.</param>
/// <param name="Divider">Of each line; both have the same.</param>
internal sealed record LineSettings(int Address, ElectricPotential Supply, int SamplesPerSecond, int HighInput, int LowInput, Divider Divider);

/// <summary>Pins of light-emitting diodes; one is enough, since the rhythm says all. -1 = not fitted.</summary>
internal sealed record LightSettings(int GreenPin, int RedPin);

/// <param name="Pin">Closes to ground.</param>
/// <param name="Stick">Where a stick is mounted; null = the first removable disk that is.</param>
internal sealed record ButtonSettings(int Pin, string? Stick);
