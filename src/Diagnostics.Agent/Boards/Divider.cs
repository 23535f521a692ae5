using UnitsNet;

namespace Diagnostics.Agent.Boards;

/// <summary>
/// Two resistors between a line and ground, an input of a converter at their middle. Ratio r = L / (U + L). With both resistors off by t in the worst way,
/// r' = L(1 + t) / (U(1 − t) + L(1 + t)), so the error of what is measured is about 2t(1 − r): the plain algebra of a voltage divider.
/// </summary>
/// <param name="Upper">From the line to the input.</param>
/// <param name="Lower">From the input to ground.</param>
/// <param name="ToleranceRatio">Of each resistor, 0.001 = 0.1 %.</param>
internal sealed record Divider(ElectricResistance Upper, ElectricResistance Lower, double ToleranceRatio)
{
    /// <summary>Input over line.</summary>
    public double Ratio => Lower.Ohms / (Upper.Ohms + Lower.Ohms);

    /// <summary>The largest that the resistors' tolerance allows.</summary>
    public double HighestRatio => Lower.Ohms * (1 + ToleranceRatio) / ((Upper.Ohms * (1 - ToleranceRatio)) + (Lower.Ohms * (1 + ToleranceRatio)));

    /// <summary>How far a measured voltage may be off by the resistors, over the voltage.</summary>
    public double WorstErrorRatio => (HighestRatio / Ratio) - 1;

    /// <summary>What the input sees behind the divider; with the input's own resistance it is a second divider.</summary>
    public ElectricResistance Source => ElectricResistance.FromOhms(Upper.Ohms * Lower.Ohms / (Upper.Ohms + Lower.Ohms));

    /// <summary>The line's voltage from that at the input, which itself takes a little.</summary>
    public ElectricPotential Line(ElectricPotential input, ElectricResistance inputResistance) => input / Ratio * (1 + (Source / inputResistance));
}
