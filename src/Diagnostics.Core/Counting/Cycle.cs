using System.Numerics;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

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

    /// <summary>
    /// So many gaps in a row that are far too long, and equal, are another rhythm and no absences: its sender was set to it in a way that nobody heard.
    /// </summary>
    private const int SlowGaps = 3;
    private const double SlowPeriods = 3.5;

    private int _slowGaps;
    private long _slowGap;

    /// <summary>In the order of arrival, the oldest at <see cref="_next"/> once all places are taken.</summary>
    private readonly long[] _gaps = new long[Capacity];

    /// <summary>The same gaps, ascending; the rest is <see cref="long.MaxValue"/>.</summary>
    private readonly long[] _sorted = new long[Capacity];
    private int _count;
    private int _next;
    private bool _fresh;
    private Rhythm _rhythm;
    private double _period;
    private double _jitter;

    public Cycle() => Array.Fill(_sorted, long.MaxValue);

    public void Add(long gapNanoseconds)
    {
        bool isSlow = _rhythm == Rhythm.Cyclic && gapNanoseconds > SlowPeriods * 1e9 * _period;
        _slowGaps = !isSlow ? 0 : _slowGaps > 0 && Math.Abs(gapNanoseconds - _slowGap) <= Tolerance(_slowGap) ? _slowGaps + 1 : 1;
        _slowGap = gapNanoseconds;
        if (_slowGaps < SlowGaps)
        {
            Take(gapNanoseconds);
            return;
        }

        Reset();
        for (int i = 0; i < MinimumGaps; i++)
        {
            Take(gapNanoseconds);
        }
    }

    private void Take(long gapNanoseconds)
    {
        // The sorted copy is kept as gaps come: sorting 64 of them each second for each identifier was the dearest part of the whole analysis.
        Span<long> sorted = _sorted.AsSpan(0, _count);
        (int place, int gone) = LowerBounds(gapNanoseconds, _gaps[_next]);
        if (_count < Capacity)
        {
            _sorted.AsSpan(place, _count - place).CopyTo(_sorted.AsSpan(place + 1));
            _count++;
        }
        else
        {
            if (gone < place)
            {
                sorted[(gone + 1)..place].CopyTo(sorted[gone..]);
                place--;
            }
            else
            {
                sorted[place..gone].CopyTo(sorted[(place + 1)..]);
            }
        }

        _sorted[place] = gapNanoseconds;
        _gaps[_next] = gapNanoseconds;
        _next = (_next + 1) % Capacity;
        _fresh = false;
    }

    /// <summary>Forgets everything: the sender was told to send at another rate.</summary>
    public void Reset()
    {
        _count = 0;
        _next = 0;
        _slowGaps = 0;
        _fresh = false;
        Array.Fill(_sorted, long.MaxValue);
    }

    public Rhythm Rhythm => Refresh()._rhythm;

    /// <summary>Seconds; meaningless without a rhythm.</summary>
    public double PeriodSeconds => Refresh()._period;

    public double JitterSeconds => Refresh()._jitter;

    /// <summary>As it was when last asked for, which costs nothing; 0 without a rhythm.</summary>
    public double KnownPeriodSeconds => _rhythm == Rhythm.None ? 0 : _period;

    /// <summary>Counts the beats in the gaps that the rhythm was learned from.</summary>
    public void CountBeats(BeatRecord record)
    {
        double period = KnownPeriodSeconds;
        int count = BeatRecord.HasBeats(period) ? _count : 0;
        for (int i = 0; i < count; i++)
        {
            record.Add(_gaps[i], period);
        }
    }

    /// <summary>
    /// Silence longer than this is noticed: so many missed periods and a half, and four standard deviations of jitter. Null without a rhythm.
    /// </summary>
    public double? SilenceSeconds(int misses) => Rhythm == Rhythm.None ? null : ((misses + 0.5) * _period) + (4 * _jitter);

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

        ReadOnlySpan<long> sorted = _sorted.AsSpan(0, _count);
        long median = sorted[_count / 2];
        if (median > 0 && IsCyclic(median))
        {
            _rhythm = Rhythm.Cyclic;
            _period = median / 1e9;
            _jitter = Deviation(sorted, median) / 1e9;
            return this;
        }

        // The largest gap may be an outlier (a restart); the event timer's period shows as many equal gaps near the top.
        long top = sorted[^(1 + (_count / 16))];
        long within = (top / 50) + 2_000_000;
        if (top > 0 && CountWithin(top, within) >= Math.Max(MinimumGaps, _count / 5) && sorted[^1] <= 4 * top)
        {
            _rhythm = Rhythm.EventTimer;
            _period = top / 1e9;
            _jitter = within / 2e9;
        }

        return this;
    }

    /// <summary>A tenth, and up to 2 ms for stamps and the queue; for periods of a few milliseconds that would take in everything.</summary>
    private static long Tolerance(long period) => (period / 10) + Math.Min(2_000_000, period / 4);

    private int CountWithin(long centre, long tolerance)
    {
        (int above, int first) = LowerBounds(centre + tolerance + 1, centre - tolerance);
        return above - first;
    }

    /// <summary>
    /// Seven gaps in ten equal the median. Where a third of all frames is lost fewer do, but then the others are two or three of it: half and nine in ten
    /// are asked for.
    /// </summary>
    private bool IsCyclic(long median)
    {
        long tolerance = Tolerance(median);
        int single = CountWithin(median, tolerance);
        return single >= 0.7 * _count
            || (single >= 0.5 * _count && single + CountWithin(2 * median, tolerance) + CountWithin(3 * median, tolerance) >= 0.9 * _count);
    }

    /// <summary>
    /// The median of the distances from the median gap. From the median outwards the distances grow on both sides, so the nearer of two candidates is always next.
    /// </summary>
    private static double Deviation(ReadOnlySpan<long> sorted, long median)
    {
        int above = sorted.Length / 2;
        int below = above - 1;
        long distance = 0;
        for (int rank = 0; rank <= sorted.Length / 2; rank++)
        {
            long up = above < sorted.Length ? sorted[above] - median : long.MaxValue;
            long down = below >= 0 ? median - sorted[below] : long.MaxValue;
            if (up <= down)
            {
                distance = up;
                above++;
            }
            else
            {
                distance = down;
                below--;
            }
        }

        return 1.4826 * distance;
    }

    /// <summary>
    /// Indices of the first gaps that aren't below the two values. All 64 places are compared, some at a time and without a branch: gaps scatter, so a search by
    /// halves mostly guesses its way wrong. Places not taken hold <see cref="long.MaxValue"/>. Not inlined, because what works with such vectors isn't compiled ahead.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization | MethodImplOptions.NoInlining)]
    private (int One, int Other) LowerBounds(long one, long other)
    {
        ref long first = ref MemoryMarshal.GetArrayDataReference(_sorted);
        Vector<long> limit = new(one);
        Vector<long> otherLimit = new(other);
        Vector<long> below = Vector<long>.Zero;
        Vector<long> otherBelow = Vector<long>.Zero;
        for (int i = 0; i < Capacity; i += Vector<long>.Count)
        {
            Vector<long> gaps = Vector.LoadUnsafe(ref first, (nuint)i);
            below -= Vector.LessThan(gaps, limit);
            otherBelow -= Vector.LessThan(gaps, otherLimit);
        }

        return ((int)Vector.Sum(below), (int)Vector.Sum(otherBelow));
    }
}
