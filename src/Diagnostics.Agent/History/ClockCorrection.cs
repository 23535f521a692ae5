namespace Diagnostics.Agent.History;

/// <summary>The board was told the time: add this to every time of the run that bears it. The latest of a run holds for all of it.</summary>
/// <param name="Seconds">What the wall clock says, less the line of the run.</param>
internal sealed record ClockCorrection(double Seconds);
