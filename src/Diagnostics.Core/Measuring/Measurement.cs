using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>One value that a sensor on the board gave. The part averages over a window, so a value says nothing about what was shorter than that.</summary>
/// <param name="Quantity">What was measured, and in which unit.</param>
/// <param name="Start">When the part began to look, on the time line of the frames.</param>
/// <param name="End">When it had looked.</param>
/// <param name="Value">The mean over that window, in the quantity's unit.</param>
public readonly record struct Measurement(Quantity Quantity, Instant Start, Instant End, double Value);
