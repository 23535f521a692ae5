using System.Numerics;

namespace Diagnostics.Core.Counting;

/// <summary>
/// How many beats of one regular sender were due, and how many of them never came although it went on afterwards. A sender that stopped adds nothing:
/// only what is heard again shows what was missed. Kept twice: the last eight beats, for what began just now, and a long memory, for what is rare.
/// </summary>
internal sealed class BeatRecord
{
    /// <summary>Longer than this and the sender itself was away, not its frames: even with half of all frames lost ten in a row have odds of 1e-3.</summary>
    public const int LongestGapBeats = 10;

    /// <summary>Then both counts are halved, so that what was long ago weighs less: eight minutes of a heartbeat of 1 s.</summary>
    private const int Memory = 512;

    private const int Window = 8;

    /// <summary>Faster than that are bursts, whose frames are regular among themselves and end on purpose.</summary>
    private const double LeastPeriodSeconds = 0.005;

    private const double EarlyPeriods = 0.75;

    private byte _missedLately;
    private bool _wasLate;

    public int Due { get; private set; }

    public int Missed { get; private set; }

    /// <summary>Of the last eight beats.</summary>
    public int DueLately => Math.Min(Due, Window);

    public int MissedLately => BitOperations.PopCount(_missedLately);

    /// <param name="periodSeconds">0 while unknown.</param>
    public static bool HasBeats(double periodSeconds) => periodSeconds > LeastPeriodSeconds;

    /// <summary>One gap between two of its frames, in which nothing was lost that we know of and nothing kept it from sending.</summary>
    /// <param name="gapNanoseconds">From one frame to the next.</param>
    /// <param name="periodSeconds">Its period; 0 while unknown.</param>
    public void Add(long gapNanoseconds, double periodSeconds)
    {
        if (!HasBeats(periodSeconds))
        {
            return;
        }

        double seconds = gapNanoseconds / 1e9;

        // Nearly every beat comes: only a gap that another would fit into is worth a division.
        double beats = seconds < 1.5 * periodSeconds ? 1 : Math.Round(seconds / periodSeconds);
        if (beats > LongestGapBeats)
        {
            return;
        }

        if (_wasLate && seconds < EarlyPeriods * periodSeconds)
        {
            // The frame before was late, and this one is in its place again: nothing was missed. Shuffled stamps do that.
            _wasLate = false;
            Missed = Math.Max(0, Missed - 1);
            _missedLately &= 0xFD;
            return;
        }

        int missed = (int)beats - 1;
        _wasLate = missed > 0;
        Due += missed + 1;
        Missed += missed;
        int history = ((_missedLately + 1) << missed) - 1;
        _missedLately = (byte)(history << 1);
        if (Due >= Memory)
        {
            Due /= 2;
            Missed /= 2;
        }
    }
}
