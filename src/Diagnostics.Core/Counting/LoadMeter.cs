using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>
/// Bits on the wire over capacity: mean, and peaks over windows that are aligned to whole seconds and tenths of the bus's time line.
/// A stamp is the end of the frame, so a frame that crosses a window's edge counts in both by the part that lies in each:
/// a saturated bus shows 1 and not 1.01. Bits are kept as nominal-rate bits; data-phase bits count by the ratio of the two rates.
/// </summary>
internal sealed class LoadMeter
{
    private const long Second = 1_000_000_000;
    private const long Tenth = Second / 10;

    /// <summary>Ended seconds that no later one reached.</summary>
    private readonly List<(Instant End, double Bits)> _busiest = [];

    private long _secondEnd = long.MinValue;
    private long _tenthEnd = long.MinValue;
    private double _inSecond;
    private double _inTenth;
    private double _carriedToSecond;
    private double _carriedToTenth;
    private double _lastSecond;

    public double TotalBits { get; private set; }

    public double ErrorBits { get; private set; }

    public double PeakBitsInSecond { get; private set; }

    public double PeakBitsInTenth { get; private set; }

    /// <summary>Bits in the last whole second that ended, for detectors.</summary>
    public double BitsInLastSecond => _lastSecond;

    /// <param name="end">End of the frame.</param>
    /// <param name="bits">Bits of the frame with intermission, in nominal bit times.</param>
    /// <param name="nanosecondsPerBit">0 while the bit rate is unknown: then the frame counts whole where it ends.</param>
    public void Add(Instant end, double bits, double nanosecondsPerBit)
    {
        AdvanceTo(end);
        TotalBits += bits;
        double inSecond = bits;
        double inTenth = bits;
        // Nearly always the frame lies wholly inside: two divisions for each frame would be the dearest part. One bit of slack keeps the exact rule below.
        long sinceTenthBegan = end.Nanoseconds - (_tenthEnd - Tenth);
        if (nanosecondsPerBit > 0 && sinceTenthBegan < (bits + 1) * nanosecondsPerBit)
        {
            // The frame began before the window: that part belongs to the window before.
            double sinceSecond = (end.Nanoseconds - (_secondEnd - Second)) / nanosecondsPerBit;
            double sinceTenth = sinceTenthBegan / nanosecondsPerBit;
            if (sinceSecond < bits)
            {
                _carriedToSecond += bits - sinceSecond;
                inSecond = sinceSecond;
            }

            if (sinceTenth < bits)
            {
                _carriedToTenth += bits - sinceTenth;
                inTenth = sinceTenth;
            }
        }

        _inSecond += inSecond;
        _inTenth += inTenth;
    }

    public void AddError(double bits) => ErrorBits += bits;

    /// <summary>Closes the windows that ended before <paramref name="now"/>.</summary>
    public void AdvanceTo(Instant now)
    {
        long time = now.Nanoseconds;
        if (time > _tenthEnd)
        {
            RollTenth(time);
            if (time > _secondEnd)
            {
                RollSecond(time);
            }
        }
    }

    // A window is only judged one window later, when the frame that crossed its end has told its share.
    private double _previousTenth;
    private double _previousSecond;

    private void RollTenth(long time)
    {
        PeakBitsInTenth = Math.Max(PeakBitsInTenth, _previousTenth + _carriedToTenth);
        bool adjacent = time <= _tenthEnd + Tenth;
        PeakBitsInTenth = adjacent ? PeakBitsInTenth : Math.Max(PeakBitsInTenth, _inTenth);
        _previousTenth = adjacent ? _inTenth : 0;
        _carriedToTenth = 0;
        _inTenth = 0;
        _tenthEnd = CeilingTo(time, Tenth);
    }

    private void RollSecond(long time)
    {
        PeakBitsInSecond = Math.Max(PeakBitsInSecond, _previousSecond + _carriedToSecond);
        bool adjacent = time <= _secondEnd + Second;
        PeakBitsInSecond = adjacent ? PeakBitsInSecond : Math.Max(PeakBitsInSecond, _inSecond);
        if (_secondEnd != long.MinValue)
        {
            Keep(_busiest, _secondEnd - Second, _previousSecond + _carriedToSecond);
            if (!adjacent)
            {
                Keep(_busiest, _secondEnd, _inSecond);
            }
        }

        _lastSecond = adjacent ? _inSecond : 0;
        _previousSecond = adjacent ? _inSecond : 0;
        _carriedToSecond = 0;
        _inSecond = 0;
        _secondEnd = CeilingTo(time, Second);
    }

    /// <summary>Peaks so far, the windows that are still open included.</summary>
    public (double Second, double Tenth) Peaks() => (
        Math.Max(PeakBitsInSecond, Math.Max(_inSecond, _previousSecond + _carriedToSecond)),
        Math.Max(PeakBitsInTenth, Math.Max(_inTenth, _previousTenth + _carriedToTenth)));

    /// <summary>Seconds that ended until <paramref name="now"/> and that no later one reached, in their order: the first that ended behind a moment is the busiest since.</summary>
    public IReadOnlyList<(Instant End, double Bits)> BusiestSeconds(Instant now)
    {
        List<(Instant End, double Bits)> busiest = [.. _busiest];
        if (_secondEnd != long.MinValue)
        {
            Keep(busiest, _secondEnd - Second, _previousSecond + _carriedToSecond);
            if (_secondEnd <= now.Nanoseconds)
            {
                Keep(busiest, _secondEnd, _inSecond);
            }
        }

        return busiest;
    }

    private static void Keep(List<(Instant End, double Bits)> busiest, long end, double bits)
    {
        int higher = busiest.FindLastIndex(second => second.Bits > bits) + 1;
        busiest.RemoveRange(higher, busiest.Count - higher);
        if (busiest.Count == Limits.BusiestSeconds)
        {
            busiest.RemoveAt(0);
        }

        busiest.Add((new(end), bits));
    }

    private static long CeilingTo(long value, long step)
    {
        long rest = value % step;
        return rest == 0 ? value : rest > 0 ? value - rest + step : value - rest;
    }
}
