namespace Diagnostics.Core.Measuring;

/// <summary>What a sensor on the board measures; the unit ends the name. Names are stored, so none is ever renamed.</summary>
public enum Quantity
{
    /// <summary>The supply of the bus at our clip, volts.</summary>
    SupplyVolts,

    /// <summary>The current that flows through our shunt, amperes; positive away from the supply.</summary>
    SupplyAmperes,

    /// <summary>CAN_H against the ground of the bus, volts.</summary>
    LineHighVolts,

    /// <summary>CAN_L against the ground of the bus, volts.</summary>
    LineLowVolts,

    /// <summary>CAN_H against CAN_L, measured as one difference, volts.</summary>
    LineDifferenceVolts,

    /// <summary>The air at the board, °C.</summary>
    AirCelsius,

    /// <summary>Relative humidity of that air, 0–1.</summary>
    AirHumidityRatio,

    /// <summary>The board's own temperature, °C.</summary>
    BoardCelsius,
}
