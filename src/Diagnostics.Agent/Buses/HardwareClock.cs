namespace Diagnostics.Agent.Buses;

/// <summary>
/// Uses a controller's own time stamps, which know when a frame ended to the microsecond but belong to a clock of their own: it starts
/// anywhere, drifts, and in bad moments jumps for a single frame (adapters have been seen to jump 2.8 s forward and back).
/// Intuition: the kernel's stamp is taken later than the controller's, by a delay that varies but is never negative; so the smallest difference
/// seen is the true distance of the two clocks.
/// Rule: offset = the smallest (kernel − controller) lately; it may creep upwards by 200 ppm of the passing time (two bad crystals of 100 ppm
/// each) so that drift either way is followed. A stamp that would lie more than 250 ms before the kernel's, or after it, is not believed: the
/// kernel's counts. Eight such in a row mean a clock that was set anew: start again.
/// Pure, one per interface. The kernel's stamps are given on the time line of <see cref="BoardClock"/>, so that a wall clock that is set doesn't
/// look like a controller's jump. No published source gives these limits; they are this project's own.
/// </summary>
internal sealed class HardwareClock
{
    private const long BelievedDelayNanoseconds = 250_000_000;
    private const long CreepDivisor = 5_000;
    private const int RefusedBeforeRestart = 8;

    private long? _offset;
    private long _lastKernel;
    private int _refused;

    /// <summary>Frames whose controller stamp was not believed.</summary>
    internal long Refused { get; private set; }

    /// <summary>The best time of a frame on the line, nanoseconds, from both of its stamps; never later than the kernel's.</summary>
    internal long Best(long kernelStamp, long controllerStamp)
    {
        long difference = kernelStamp - controllerStamp;
        if (_offset is not { } offset)
        {
            return Start(kernelStamp, difference);
        }

        long passed = Math.Clamp(kernelStamp - _lastKernel, 0, BelievedDelayNanoseconds * CreepDivisor);
        offset += passed / CreepDivisor;
        if (difference < offset)
        {
            // Nearer than ever: a smaller delay, unless it is so much that it is the clock that jumped.
            if (offset - difference > BelievedDelayNanoseconds)
            {
                return Refuse(kernelStamp, difference);
            }

            offset = difference;
        }
        else if (difference - offset > BelievedDelayNanoseconds)
        {
            return Refuse(kernelStamp, difference);
        }

        _offset = offset;
        _lastKernel = kernelStamp;
        _refused = 0;
        return controllerStamp + offset;
    }

    private long Start(long kernelStamp, long difference)
    {
        _offset = difference;
        _lastKernel = kernelStamp;
        _refused = 0;
        return kernelStamp;
    }

    private long Refuse(long kernelStamp, long difference)
    {
        Refused++;
        return ++_refused >= RefusedBeforeRestart ? Start(kernelStamp, difference) : kernelStamp;
    }
}
