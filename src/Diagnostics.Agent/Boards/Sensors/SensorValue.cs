using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using UnitsNet;
using UnitsNet.Units;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>What a sensor gave, its unit in its type.</summary>
/// <param name="Quantity">What was measured.</param>
/// <param name="Value">The mean over the window.</param>
/// <param name="Start">When the part began to look, on the time line of the frames.</param>
/// <param name="End">When it had looked.</param>
internal readonly record struct SensorValue(Quantity Quantity, IQuantity Value, Instant Start, Instant End)
{
    /// <summary>The border to the analysis, which has bare numbers whose names end in their unit.</summary>
    public Measurement ToMeasurement() => new(Quantity, Start, End, Value.As(UnitOf(Quantity)));

    private static Enum UnitOf(Quantity quantity) => quantity switch
    {
        Quantity.SupplyAmperes => ElectricCurrentUnit.Ampere,
        Quantity.AirCelsius or Quantity.BoardCelsius => TemperatureUnit.DegreeCelsius,
        Quantity.AirHumidityRatio => RatioUnit.DecimalFraction,
        _ => ElectricPotentialUnit.Volt,
    };
}
