using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>What a reading of the clocks found out.</summary>
/// <param name="SteppedNanoseconds">By how much the wall clock was set (positive = forward), or 0.</param>
/// <param name="LateNanoseconds">How long nothing was read because the agent was late or the board slept, or 0.</param>
/// <param name="Since">The reading before, on the time line.</param>
/// <param name="Now">This reading, on the time line.</param>
public readonly record struct ClockReading(long SteppedNanoseconds, long LateNanoseconds, Instant Since, Instant Now);
