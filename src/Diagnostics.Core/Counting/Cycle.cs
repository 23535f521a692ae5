namespace Diagnostics.Core.Counting;

/// <summary>What the gaps between arrivals of one identifier look like.</summary>
internal enum Rhythm : byte
{
    /// <summary>Too few arrivals, or no rule in them.</summary>
    None,

    /// <summary>Nearly all gaps equal the period.</summary>
    Cyclic,

    /// <summary>Gaps up to the period, many equal to it: an event timer that each change restarts.</summary>
    EventTimer,
}

/// <summary>
/// Learns the rhythm of one identifier from its last 64 gaps. Medians, because a restart, a lost frame or a burst must not move the answer:
/// period = median gap, jitter = 1.4826 · median absolute deviation (equals the standard deviation for Gaussian jitter; Hampel 1974, from memory).
/// </summary>
internal sealed class Cycle
{
    private const int Capacity = 64;

    /// <summary>Below this many gaps nothing is claimed: five equal gaps happen by chance too rarely to matter.</summary>
    private const int MinimumGaps = 5;

    private readonly long[] _gaps = new long[Capacity];
    private readonly long[] _sorted = new long[Capacity];
    private int _count;
    private int _next;
    private bool _fresh;
    private Rhythm _rhythm;
    private double _period;
    private double _jitter;

    public void Add(long gapNanoseconds)
    {
        _gaps[_next] = gapNanoseconds;
        _next = (_next + 1) % Capacity;
        _count = Math.Min(_count + 1, Capacity);
        _fresh = false;
    }

    /// <summary>Forgets everything: the sender was told to send at another rate.</summary>
    public void Reset()
    {
        _count = 0;
        _next = 0;
        _fresh = false;
    }

    public Rhythm Rhythm => Refresh()._rhythm;

    /// <summary>Seconds; meaningless without a rhythm.</summary>
    public double PeriodSeconds => Refresh()._period;

    public double JitterSeconds => Refresh()._jitter;

    /// <summary>
    /// Silence longer than this is noticed: three missed periods and a half, and four standard deviations of jitter. Null without a rhythm.
    /// </summary>
    public double? SilenceSeconds => Rhythm == Rhythm.None ? null : (3.5 * _period) + (4 * _jitter);

    private Cycle Refresh()
    {
        if (_fresh)
        {
            return this;
        }

        _fresh = true;
        _rhythm = Rhythm.None;
        _period = 0;
        _jitter = 0;
        if (_count < MinimumGaps)
        {
            return this;
        }

        Span<long> sorted = _sorted.AsSpan(0, _count);
        _gaps.AsSpan(0, _count).CopyTo(sorted);
        sorted.Sort();
        long median = sorted[_count / 2];
        if (median > 0 && Share(sorted, median, Tolerance(median)) >= 0.7)
        {
            _rhythm = Rhythm.Cyclic;
            _period = median / 1e9;
            _jitter = Deviation(median) / 1e9;
            return this;
        }

        // The largest gap may be an outlier (a restart); the event timer's period shows as many equal gaps near the top.
        long top = sorted[^(1 + (_count / 16))];
        long within = (top / 50) + 2_000_000;
        if (top > 0 && CountWithin(sorted, top, within) >= Math.Max(MinimumGaps, _count / 5) && sorted[^1] <= 4 * top)
        {
            _rhythm = Rhythm.EventTimer;
            _period = top / 1e9;
            _jitter = within / 2e9;
        }

        return this;
    }

    private static long Tolerance(long period) => (period / 10) + 2_000_000;

    private static int CountWithin(ReadOnlySpan<long> sorted, long centre, long tolerance)
    {
        int count = 0;
        foreach (long gap in sorted)
        {
            count += Math.Abs(gap - centre) <= tolerance ? 1 : 0;
        }

        return count;
    }

    private static double Share(ReadOnlySpan<long> sorted, long centre, long tolerance) =>
        CountWithin(sorted, centre, tolerance) / (double)sorted.Length;

    private double Deviation(long median)
    {
        Span<long> deviations = stackalloc long[Capacity];
        deviations = deviations[.._count];
        for (int i = 0; i < _count; i++)
        {
            deviations[i] = Math.Abs(_gaps[i] - median);
        }

        deviations.Sort();
        return 1.4826 * deviations[_count / 2];
    }
}
