namespace Diagnostics.Core.Counting;

/// <summary>
/// The ratio of frames that never reach us and that nobody reports as lost, from the missed beats of all regular senders together, and what follows for silence.
/// Loss on our own side hits everybody alike. So: at least three senders must have missed; one that misses far more than the others together
/// (exact binomial tail below <see cref="Odd"/>) is left out, for that is its own trouble; and as many must have missed as one common ratio would hit, or nearly.
/// Judged over the long memory of the senders and over their last eight beats, whichever is worse: what has just begun must not hide behind a good hour.
/// Refused: a mean over all senders (one node that comes and goes would make it), a median (0 at any loss that is rare).
/// </summary>
internal sealed class LossEstimate
{
    private const double Level = 0.95;
    private const double CautiousLevel = 0.98;
    private const int LeastSenders = 3;

    /// <summary>With fewer beats in all, any miss counts: we have just begun to listen, and don't know yet how well we hear.</summary>
    private const int FewBeats = 100;

    private const double Odd = 1e-4;
    private const double Nearly = 0.6;

    /// <summary>As many beats may be missed by chance alone once in 1e8 beats: 60 nodes with heartbeats of 1 s give that many in 19 days.</summary>
    private const double ChanceOfFalseSilence = 1e-8;

    /// <summary>Without losses: methods, three misses and a margin.</summary>
    public const int LeastMisses = 3;

    /// <summary>Where half of all frames is lost, so many misses in a row have that chance. With more lost nobody is called silent.</summary>
    public const int MostMisses = 27;

    private readonly List<(int Due, int Missed)> _senders = [];

    /// <summary>Beats due and missed in the long memory; both 0 while no common loss is known.</summary>
    public (int Due, int Missed) Pooled { get; private set; }

    /// <summary>Whether frames go missing that nobody reports.</summary>
    public bool IsLosing { get; private set; }

    /// <summary>This many beats in a row may be missed by chance; null = however many, so that nobody can be called silent.</summary>
    public int? MissesAllowed { get; private set; } = LeastMisses;

    /// <summary>95 % interval of the ratio.</summary>
    public (double Low, double High) Interval => ExactIntervals.Binomial(Pooled.Missed, Pooled.Due, Level);

    /// <summary>More is lost than leaves it 95 % sure that a single frame which wasn't heard wasn't sent.</summary>
    public bool IsHeavy => Pooled.Due > 0 && Interval.Low > 1 - Level;

    /// <summary>Once a second.</summary>
    /// <param name="senders">One record for each device (or identifier) whose misses don't depend on another's.</param>
    public void Judge(List<BeatRecord> senders)
    {
        Pooled = PoolOf(senders, record => (record.Due, record.Missed));
        (int Due, int Missed) lately = PoolOf(senders, record => (record.DueLately, record.MissedLately));
        (int Due, int Missed) all = default;
        foreach (BeatRecord record in senders)
        {
            all = (all.Due + record.Due, all.Missed + record.Missed);
        }

        IsLosing = Pooled.Missed > 0 || lately.Missed > 0;
        double upper = Math.Max(Math.Max(Upper(Pooled), Upper(lately)), all.Due < FewBeats ? Upper(all) : 0);
        double misses = upper <= 0 ? 0 : Math.Ceiling(Math.Log(ChanceOfFalseSilence) / Math.Log(upper));
        MissesAllowed = misses > MostMisses ? null : Math.Max(LeastMisses, (int)misses);

        static double Upper((int Due, int Missed) pool) => pool.Missed == 0 ? 0 : ExactIntervals.Binomial(pool.Missed, pool.Due, CautiousLevel).High;
    }

    /// <summary>All senders together, the odd ones left out; (0, 0) where no loss common to all shows.</summary>
    private (int Due, int Missed) PoolOf(List<BeatRecord> senders, Func<BeatRecord, (int Due, int Missed)> read)
    {
        _senders.Clear();
        (int Due, int Missed) all = default;
        int hit = 0;
        foreach (BeatRecord record in senders)
        {
            (int Due, int Missed) counts = read(record);
            if (counts.Due > 0)
            {
                _senders.Add(counts);
                all = (all.Due + counts.Due, all.Missed + counts.Missed);
                hit += counts.Missed > 0 ? 1 : 0;
            }
        }

        if (hit < LeastSenders)
        {
            return default;
        }

        (int Due, int Missed) pool = all;
        foreach ((int due, int missed) in _senders)
        {
            double others = (all.Missed - missed) / (double)(all.Due - due);
            if (missed > others * due && ExactIntervals.BinomialTail(missed, due, others) < Odd)
            {
                pool = (pool.Due - due, pool.Missed - missed);
                hit--;
            }
        }

        double ratio = pool.Missed / (double)Math.Max(1, pool.Due);
        double expectedHits = _senders.Sum(sender => 1 - Math.Pow(1 - ratio, sender.Due));
        return hit < LeastSenders || hit < Nearly * expectedHits ? default : pool;
    }
}
