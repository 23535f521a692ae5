using System.Numerics;
using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>
/// Follows the phases in which one identifier arrives. A cyclic sender keeps one phase ("track"); two senders of equal or different
/// period keep two, alive at the same time, and drift apart by the difference of their oscillators.
/// Rule (phase-track method): an arrival joins the track whose next expected time is nearest, if within the gate; arrivals that join none
/// start a track once five of them are regular among themselves. Two tracks count as together when both were hit
/// <see cref="TogetherHits"/> times each while the other was alive. A restart or a hand-over moves the phase but leaves only one track alive,
/// and that is why the rule asks for both. One sender's late frames can make tracks, too, but each of them stands for a beat that another track
/// misses; so neither may miss one for two periods of the other, and both together must make most of what arrives.
/// Two phases a moment apart are no tracks of their own. They are told by number: a sender that was heard alone once in each period, and now comes
/// <see cref="CloseHits"/> times in pairs. A late frame adds none, and repeats by one sender can't go on for that long.
/// Refused: fingerprints by jitter (a property of the traffic, not of the sender; Gay and Matsumoto 2022).
/// Lost frames only make tracks miss hits, which never creates a second track, and pairs single.
/// </summary>
internal sealed class PhaseTracks
{
    /// <summary>Five further periods each: with chance arrivals at 0.1/s and a gate of 5 ms a false track has odds of 1e-9 per arrival after four.</summary>
    public const int TogetherHits = 5;

    /// <summary>
    /// Pairs among the last 64 beats. A sender whose frames all had to be repeated would be bus-off after 37: TEC +8 for the one that was refused and -1 for
    /// the one that got through, from 0 to 256 (ISO 11898-1).
    /// </summary>
    public const int CloseHits = 40;

    /// <summary>With as many pairs it doesn't send single frames only.</summary>
    private const int SomePairs = 16;

    private const int MaximumTracks = 3;
    private const int Learning = 5;

    /// <summary>A sender's track may have up to this many times its period; more needs more losses in a row, five times over, than happen.</summary>
    private const int MostParts = 6;

    /// <summary>Repeats closer than this are retransmissions or one sender's pair, not a phase of their own.</summary>
    private const long RepeatNanoseconds = 5_000_000;

    /// <summary>Up to here two frames are a pair; from <see cref="RepeatNanoseconds"/> on they may be two tracks as well, which jitter would tear otherwise.</summary>
    private const long CloseNanoseconds = 10_000_000;

    /// <summary>So long a frame may have to wait for others each time: five frames of 135 bits at 20 kbit/s.</summary>
    private const double QueueNanoseconds = 34_000_000;

    /// <summary>Of three tracks that one sender makes, in parts of the distance between two: a loop of 0.3 s on a beat of 1 s puts each at most a fifth beside it.</summary>
    private const double CoarseScatter = 0.25;

    private readonly Track[] _tracks = new Track[MaximumTracks];
    private readonly long[] _unmatched = new long[((Learning - 1) * MaximumTracks) + 1];
    private int _trackCount;
    private int _unmatchedCount;
    private long _last = long.MinValue;

    private struct Track
    {
        public long Born;
        public long Last;
        public double Period;
        public double Residual;
        public int Hits;

        /// <summary>Hits without a beat missed while another track was alive, and all that arrived meanwhile.</summary>
        public int Together;
        public int Arrivals;

        /// <summary>One bit for each of the last 64 beats, the latest lowest: whether another frame came a moment later.</summary>
        public ulong Pairs;

        /// <summary>Likewise: whether it came right behind another frame, for which it may have waited.</summary>
        public ulong Queued;

        /// <summary>Found while nothing else arrived under this identifier.</summary>
        public bool OnItsOwn;
    }

    /// <summary>Period of a sender that was heard alone for at least ten periods: what the identifier does when all is well. 0 until known.</summary>
    private double _habit;

    /// <summary>Two tracks are alive and were hit alternately often enough.</summary>
    public bool TwoTogether { get; private set; }

    /// <summary>What came once in a period comes twice, a moment apart.</summary>
    public bool TwoClose
    {
        get
        {
            bool isClose = false;
            for (int i = 0; i < _trackCount; i++)
            {
                isClose |= BitOperations.PopCount(_tracks[i].Pairs) >= CloseHits && IsHabit(_tracks[i]);
            }

            return isClose;
        }
    }

    /// <summary>It comes in pairs at least now and then, with or without a habit of its own.</summary>
    public bool HasPairs
    {
        get
        {
            bool hasPairs = false;
            for (int i = 0; i < _trackCount; i++)
            {
                hasPairs |= BitOperations.PopCount(_tracks[i].Pairs) >= SomePairs;
            }

            return hasPairs;
        }
    }

    /// <summary>Seconds between the frames of the latest pair.</summary>
    public double CloseSeconds { get; private set; }

    /// <summary>Two tracks' relative rate difference, and its standard error; both in parts per one. NaN until known.</summary>
    public double SkewRatio => _skew.Slope;

    public double SkewError => _skew.SlopeError;

    public long SkewSamples => _skew.Count;

    /// <summary>How far the two tracks have moved against each other while that was measured. NaN until known.</summary>
    public double DriftSeconds => _skew.Slope * _skew.Span;

    /// <summary>Seconds from the first track to the second, in the last cycle.</summary>
    public double OffsetSeconds { get; private set; }

    public double PeriodSeconds => _trackCount > 0 ? _tracks[0].Period / 1e9 : 0;

    private LineFit _skew;

    /// <summary>
    /// A phase that was there before this moment went on behind it as if nothing had happened, and something arrived out of phase as well: it was another sender
    /// that began then. A restart whose new phase happens to be the old one brings nothing out of phase.
    /// </summary>
    public bool AnotherBeganAt(Instant moment)
    {
        long began = moment.Nanoseconds;
        bool goesOn = false;
        bool isOutOfPhase = _unmatchedCount > 0 && _unmatched[_unmatchedCount - 1] > began;
        for (int i = 0; i < _trackCount; i++)
        {
            bool isOld = _tracks[i].Born < began;
            goesOn |= isOld && _tracks[i].Last > began + (1.5 * _tracks[i].Period);
            isOutOfPhase |= !isOld || PairsSince(_tracks[i], began) >= 2;
        }

        return goesOn && isOutOfPhase;
    }

    private static int PairsSince(in Track track, long moment)
    {
        double beats = Math.Clamp((track.Last - moment) / track.Period, 0, 63);
        return BitOperations.PopCount(track.Pairs & ((1UL << (int)beats) - 1));
    }

    private bool IsHabit(in Track track) => _habit > 0 && Math.Abs(track.Period - _habit) < _habit / 50;

    public void Reset()
    {
        _trackCount = 0;
        _unmatchedCount = 0;
        _habit = 0;
        TwoTogether = false;
        _last = long.MinValue;
        _skew = default;
    }

    /// <summary>Frames were lost: what was pieced together so far may be one sender with holes. The habit stays.</summary>
    public void OnLoss()
    {
        double habit = _habit;
        Reset();
        _habit = habit;
    }

    /// <param name="time">When it arrived.</param>
    /// <param name="isBehindError">An error was heard since the arrival before, so this may be that frame again.</param>
    /// <param name="isQueued">The bus was taken right before, so the frame may be late.</param>
    public void Add(Instant time, bool isBehindError = false, bool isQueued = false)
    {
        long now = time.Nanoseconds;
        if (!isBehindError)
        {
            Pair(now);
        }

        bool isRepeat = _last != long.MinValue && now - _last < RepeatNanoseconds;
        _last = now;
        if (isRepeat)
        {
            return;
        }

        DropDead(now);
        for (int i = 0; i < _trackCount; i++)
        {
            _tracks[i].Arrivals++;
        }

        int best = Nearest(now, out double periods);
        if (best >= 0)
        {
            Hit(best, now, periods, isQueued);
            return;
        }

        if (_unmatchedCount == _unmatched.Length)
        {
            Array.Copy(_unmatched, 1, _unmatched, 0, --_unmatchedCount);
        }

        _unmatched[_unmatchedCount++] = now;
        ForgetHabitHits();
        for (int stride = 1; stride <= MaximumTracks && _trackCount < MaximumTracks; stride++)
        {
            if (Regular(stride) is double period)
            {
                bool isOnItsOwn = stride == 1 && _trackCount == 0;
                _tracks[_trackCount++] = new() { Born = now, Last = now, Period = period, Residual = 1_000_000, OnItsOwn = isOnItsOwn };
                _unmatchedCount = 0;
                _skew = default;
                break;
            }
        }
    }

    private void Pair(long now)
    {
        if (_last == long.MinValue || now - _last >= CloseNanoseconds)
        {
            return;
        }

        for (int i = 0; i < _trackCount; i++)
        {
            ref Track track = ref _tracks[i];
            if (track.Last == _last && now - track.Last < track.Period / 20)
            {
                track.Pairs |= 1;
                CloseSeconds = (now - track.Last) / 1e9;
                ForgetHabitHits();
            }
        }
    }

    /// <summary>Something else arrives as well, so the period of a track needn't be the identifier's habit.</summary>
    private void ForgetHabitHits()
    {
        for (int i = 0; i < _trackCount; i++)
        {
            _tracks[i].Hits = 0;
        }
    }

    private void DropDead(long now)
    {
        for (int i = 0; i < _trackCount; i++)
        {
            if (now - _tracks[i].Last > 3.6 * _tracks[i].Period)
            {
                _tracks[i] = _tracks[--_trackCount];
                i--;
                ForgetTogether();
            }
        }
    }

    private void ForgetTogether()
    {
        for (int i = 0; i < _trackCount; i++)
        {
            _tracks[i].Together = 0;
            _tracks[i].Arrivals = 0;
        }

        TwoTogether = false;
        _skew = default;
    }

    private int Nearest(long now, out double bestPeriods)
    {
        int best = -1;
        double bestResidual = double.MaxValue;
        bestPeriods = 0;
        for (int i = 0; i < _trackCount; i++)
        {
            ref Track track = ref _tracks[i];
            double periods = Periods(now - track.Last, track.Period);
            if (periods < 1)
            {
                continue;
            }

            double residual = Math.Abs(now - track.Last - (periods * track.Period));
            double gate = Math.Min(Math.Max(4 * track.Residual, 2_000_000) * periods, track.Period / 8);
            if (residual < gate && residual < bestResidual)
            {
                bestResidual = residual;
                best = i;
                bestPeriods = periods;
            }
        }

        return best;
    }

    /// <summary>How many periods the gap is, to the nearest. Nearly always it is one, which needs no division.</summary>
    private static double Periods(double gap, double period) => gap < 1.5 * period && gap > 0.5 * period ? 1 : Math.Round(gap / period);

    private void Hit(int index, long now, double periods, bool isQueued)
    {
        ref Track track = ref _tracks[index];
        double gap = now - track.Last;
        double residual = (periods > 1 ? gap / periods : gap) - track.Period;
        track.Period += residual / 8;
        track.Residual += (Math.Abs(residual) * 1.25 / 8) - (track.Residual / 8);
        track.Last = now;
        track.Hits++;
        track.Pairs = periods < 64 ? track.Pairs << (int)periods : 0;
        track.Queued = (track.Queued << 1) | (isQueued ? 1UL : 0);

        // Together counts hits that came while another track was alive and had been hit within its own period and a half. Two senders hit both tracks in
        // each period; one sender whose frames come late now and then hits two tracks in turn, and each of them misses periods by that.
        bool otherAlive = false;
        bool skipped = periods > 1;
        for (int i = 0; i < _trackCount; i++)
        {
            otherAlive |= i != index && now - _tracks[i].Last < 1.5 * _tracks[i].Period;
        }

        track.Together = skipped || !otherAlive ? 0 : track.Together + 1;
        track.Arrivals = track.Together == 0 ? 0 : track.Arrivals;
        if (_trackCount > 1)
        {
            ForgetHabitHits();
        }
        else if (track.OnItsOwn && track.Hits >= 10)
        {
            _habit = track.Period;
        }

        TwoTogether = AreAnyTwoTogether();
        if (_trackCount == 2 && index == 1)
        {
            double period = _tracks[0].Period;
            double offset = now - _tracks[0].Last;
            OffsetSeconds = offset / 1e9;
            if (offset >= 0 && offset < 1.5 * period)
            {
                _skew.Add(now / 1e9, offset / 1e9, period / 1e9);
            }
        }
    }

    /// <summary>
    /// One sender that looks at its clock only now and then: with a beat of 1 s and a loop of 150 ms its gaps are 1.05, 1.05 and 0.9 s, in turn, which make
    /// steady tracks of 3 s, a third of that apart, and three arrivals in it. Two senders make two.
    /// </summary>
    private bool IsCoarseClock(in Track one, in Track other)
    {
        double period = one.Period;
        double third = period / 3;
        bool isOwnBeat = _habit == 0 || Math.Abs((_habit * 3) - period) < period / 50;
        return isOwnBeat
            && Math.Abs(other.Period - period) < period / 50
            && Math.Abs(OffGrid(Math.Abs(one.Last - other.Last), period) - third) < third * CoarseScatter
            && one.Arrivals > 2.5 * (one.Together - 1)
            && other.Arrivals > 2.5 * (other.Together - 1);
    }

    private bool AreAnyTwoTogether()
    {
        for (int i = 1; i < _trackCount; i++)
        {
            for (int other = 0; other < i; other++)
            {
                if (IsSteadyBeside(_tracks[i], _tracks[other])
                    && IsSteadyBeside(_tracks[other], _tracks[i])
                    && !OneSenderExplains(_tracks[other], _tracks[i])
                    && !IsCoarseClock(_tracks[other], _tracks[i]))
                {
                    return true;
                }
            }
        }

        return false;
    }

    /// <summary>
    /// A track of late frames stands for beats that the sender's own track misses, so that one never gets through two periods of it; and beside two tracks of
    /// late frames the sender's own beats are the most that arrives. A third sender is allowed for.
    /// </summary>
    private static bool IsSteadyBeside(in Track track, in Track other) =>
        track.Together >= TogetherHits
        && track.Together * track.Period >= 2 * other.Period
        && track.Arrivals <= 1 + (1.5 * track.Together * (1 + (track.Period / other.Period)));

    /// <summary>
    /// A sender of a shorter period, some of whose frames were lost, looks like several senders on multiples of it. Tracks that keep the period which the
    /// identifier had when it was heard alone can't be that; others must not lie on one grid, of the shorter one's period or a whole part of it.
    /// </summary>
    private bool OneSenderExplains(in Track one, in Track other)
    {
        double period = Math.Max(one.Period, other.Period);
        double multiple = Math.Round(one.Period / Math.Max(1, _habit));
        if (_habit > 0 && multiple >= 2 && Math.Abs(one.Period - (multiple * _habit)) < period / 50 && Math.Abs(other.Period - (multiple * _habit)) < period / 50)
        {
            // Every second or third frame of the sender that was heard alone before.
            return true;
        }

        // One sender's late frames, when some of them happen to be equally far apart, make a slow track a little behind its own. Two senders whose
        // periods have this ratio drift out of that place. The quicker period is known only so well, and its error adds up over the slow one.
        (double quicker, double error) = one.Period < other.Period ? (one.Period, one.Residual) : (other.Period, other.Residual);
        double slack = (quicker / 20) + (period / quicker * error / 2);
        double phase = Math.Abs(one.Last - other.Last);
        if (period > 1.5 * quicker && OffGrid(period, quicker) < slack && OffGrid(phase, quicker) < slack)
        {
            return true;
        }

        if (IsHabit(one) && IsHabit(other))
        {
            return false;
        }

        // Where each second or third frame waits for the same others it comes late each time, so such tracks may lie a whole queue beside their grid.
        bool isQueue = IsMostlyQueued(one) || IsMostlyQueued(other);
        double scatter = Math.Max(4 * (one.Residual + other.Residual), 4_000_000);
        for (int parts = 1; parts <= MostParts; parts++)
        {
            double step = quicker / parts;
            double gate = Math.Min(isQueue && parts is (2 or 3) ? Math.Max(scatter, QueueNanoseconds) : scatter, quicker / 20);
            if (OffGrid(phase, step) < gate && OffGrid(period, step) < gate)
            {
                return true;
            }
        }

        return false;
    }

    private static bool IsMostlyQueued(in Track track) => BitOperations.PopCount(track.Queued & 0xFF) >= 4;

    private static double OffGrid(double value, double step)
    {
        double rest = value % step;
        return Math.Min(rest, step - rest);
    }

    /// <summary>
    /// The period, if the last unmatched arrivals repeat a pattern of <paramref name="stride"/> gaps. A stride of two or three finds one sender among two
    /// or three that were there before we began to listen. The whole pattern has to repeat: every second or third arrival of one sender with holes is
    /// regular now and then, its pattern hardly ever.
    /// </summary>
    private double? Regular(int stride)
    {
        int gaps = (Learning - 1) * stride;
        if (_unmatchedCount < gaps + 1)
        {
            return null;
        }

        double period = (_unmatched[_unmatchedCount - 1] - _unmatched[_unmatchedCount - 1 - gaps]) / (double)(Learning - 1);
        double tolerance = Math.Max(6_000_000, period / 40);
        for (int first = 0; first < stride; first++)
        {
            long shortest = long.MaxValue;
            long longest = 0;
            for (int i = first; i < gaps; i += stride)
            {
                long gap = _unmatched[_unmatchedCount - 1 - i] - _unmatched[_unmatchedCount - 2 - i];
                shortest = Math.Min(shortest, gap);
                longest = Math.Max(longest, gap);
            }

            if (longest - shortest >= tolerance)
            {
                return null;
            }
        }

        return period >= 2 * RepeatNanoseconds ? period : null;
    }

    /// <summary>Least squares of the offset against time; the offset is unwrapped by the period.</summary>
    private struct LineFit
    {
        private double _time0;
        private double _previous;
        private double _t;
        private double _o;
        private double _tt;
        private double _to;
        private double _oo;

        public long Count { get; private set; }

        public double Span { get; private set; }

        public void Add(double time, double offset, double period)
        {
            if (Count == 0)
            {
                _time0 = time;
            }
            else
            {
                offset += period * Math.Round((_previous - offset) / period);
            }

            _previous = offset;
            double t = time - _time0;
            Span = t;
            Count++;
            _t += t;
            _o += offset;
            _tt += t * t;
            _to += t * offset;
            _oo += offset * offset;
        }

        private readonly double Sxx => _tt - (_t * _t / Count);

        public readonly double Slope => Count < 3 ? double.NaN : (_to - (_t * _o / Count)) / Sxx;

        public readonly double SlopeError
        {
            get
            {
                if (Count < 4)
                {
                    return double.NaN;
                }

                double slope = Slope;
                double residual = _oo - (_o * _o / Count) - (slope * slope * Sxx);
                return Math.Sqrt(Math.Max(0, residual) / (Count - 2) / Sxx);
            }
        }
    }
}
