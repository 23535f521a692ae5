using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Turns the kernel's wall-clock stamps into a time line that never jumps.
/// Intuition: a small board without a clock battery starts with a wrong date and gets the right one minutes later from the network; the kernel
/// stamps frames with that wall clock. Between two readings the difference "wall − since boot" may only creep (the network time service slews,
/// at most 500 ppm by the kernel's own limit, so 0.5 ms in a second); a jump above 50 ms is a step.
/// Rule: line = since-boot + the difference at the start; a stamp is brought there with the difference of its own time, which is tracked.
/// The boot-time clock, because it goes on while the board is suspended; the raw monotonic clock was refused, because it drifts against the
/// network's time by tens of ppm and a label would be wrong by a minute after a month.
/// Pure: both clocks are arguments, in nanoseconds. One owner.
/// </summary>
public sealed class BoardClock
{
    /// <summary>A jump of the difference beyond this is a step. 50 ms: a hundred times what slewing can do in a second, and far more than the pause between reading the two clocks, which the caller keeps short.</summary>
    public static readonly TimeSpan StepLimit = TimeSpan.FromMilliseconds(50);

    /// <summary>Two readings further apart mean that the agent was late; readings are due every half second.</summary>
    public static readonly TimeSpan LateLimit = TimeSpan.FromSeconds(2);

    private const long NanosecondsPerTick = 100;

    private readonly long _fixedDifference;
    private long _difference;
    private long _differenceBefore;
    private long _sinceBootBefore;
    private long _sinceBoot;
    private bool _justStepped;

    public BoardClock(long wallNanoseconds, long sinceBootNanoseconds)
    {
        _fixedDifference = wallNanoseconds - sinceBootNanoseconds;
        _difference = _differenceBefore = _fixedDifference;
        _sinceBoot = _sinceBootBefore = sinceBootNanoseconds;
    }

    /// <summary>The latest reading on the time line.</summary>
    public Instant Now => Line(_sinceBoot);

    /// <summary>A moment on the line, given since boot in nanoseconds. Needs no reading, so any thread may ask.</summary>
    public Instant At(long sinceBootNanoseconds) => Line(sinceBootNanoseconds);

    /// <summary>Add this to a time of the line to get what the wall clock calls it now: the sum of all steps and slews since the start.</summary>
    public TimeSpan WallMinusLine => TimeSpan.FromTicks((_difference - _fixedDifference) / NanosecondsPerTick);

    /// <summary>Read both clocks, at least every half second, and before the stamps of the batch that was read then.</summary>
    public ClockReading Read(long wallNanoseconds, long sinceBootNanoseconds)
    {
        _sinceBootBefore = _sinceBoot;
        _sinceBoot = Math.Max(sinceBootNanoseconds, _sinceBoot);
        _differenceBefore = _difference;
        _difference = wallNanoseconds - sinceBootNanoseconds;
        long jump = _difference - _differenceBefore;
        long pause = _sinceBoot - _sinceBootBefore;
        _justStepped = Math.Abs(jump) > StepLimit.Ticks * NanosecondsPerTick;
        bool late = pause > LateLimit.Ticks * NanosecondsPerTick;
        return new(_justStepped ? jump : 0, late ? pause : 0, Line(_sinceBootBefore), Now);
    }

    /// <summary>
    /// Where a wall-clock stamp of the batch in hand lies on the line. Frames of the batch that spans a step may bear the old wall clock's stamps:
    /// of the two readings that one counts which lies between the last two readings of the clocks.
    /// </summary>
    public Instant LineOf(long wallStampNanoseconds)
    {
        long since = wallStampNanoseconds - _difference;
        if (_justStepped)
        {
            long before = wallStampNanoseconds - _differenceBefore;
            if (Outside(since) > Outside(before))
            {
                since = before;
            }
        }

        return Line(since);
    }

    /// <summary>How far a since-boot time lies outside the span of the last two readings, 0 inside.</summary>
    private long Outside(long sinceBoot) => Math.Max(0, Math.Max(_sinceBootBefore - sinceBoot, sinceBoot - _sinceBoot));

    private Instant Line(long sinceBoot) => new(sinceBoot + _fixedDifference);
}
