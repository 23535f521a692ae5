using Diagnostics.Can;
using Diagnostics.Core.Counting;

namespace Diagnostics.Core.Measuring;

/// <summary>
/// The latest dips of the bus supply, for detectors that ask whether one stood before what they found, and whether it stood there by chance. Chance is judged as
/// methods 2.5 has it: dips cover a part of the time with the span behind each; of so many happenings that many lie in it. Empty where the supply isn't measured.
/// </summary>
internal sealed class SupplyDips
{
    /// <summary>Supply back, module up: most need well below that (common practice, no source).</summary>
    public static readonly TimeSpan Behind = TimeSpan.FromSeconds(5);

    private const int Kept = 64;

    /// <summary>Happenings behind dips are laid to them where chance alone would put them there in fewer than one of twenty cases.</summary>
    private const double Doubt = 0.05;

    private readonly List<Dip> _latest = [];
    private Instant? _since;
    private Instant _now;
    private long _count;
    private long _happenings;
    private long _happeningsBehind;

    public readonly record struct Dip(Instant Start, double LowestVolts, bool IsOver);

    /// <summary>The supply is measured, and was until then.</summary>
    public void Measured(Instant start, Instant end)
    {
        _since ??= start;
        _now = end;
    }

    public void Begin(Instant start, double volts)
    {
        if (_latest.Count == Kept)
        {
            _latest.RemoveAt(0);
        }

        _latest.Add(new(start, volts, false));
        _count++;
    }

    public void Deepen(double volts) => _latest[^1] = _latest[^1] with { LowestVolts = Math.Min(volts, _latest[^1].LowestVolts) };

    public void End() => _latest[^1] = _latest[^1] with { IsOver = true };

    /// <summary>The last dip that began at most so long before.</summary>
    public Dip? Before(Instant time, TimeSpan within)
    {
        int at = _latest.FindLastIndex(dip => dip.Start <= time);
        return at >= 0 && time - _latest[at].Start <= within ? _latest[at] : null;
    }

    /// <summary>Something happened that a dip may have caused.</summary>
    /// <returns>The dip before it, and whether dips stand before such things more often than chance puts them there.</returns>
    public (Dip? Dip, bool IsMoreThanChance) OnHappening(Instant time)
    {
        if (_since is not { } since)
        {
            return default;
        }

        Dip? dip = Before(time, Behind);
        _happenings++;
        _happeningsBehind += dip is null ? 0 : 1;
        double covered = Math.Min(1, _count * Behind.TotalSeconds / Math.Max(1, _now.SecondsSince(since)));
        return (dip, dip is not null && ExactIntervals.BinomialTail(_happeningsBehind, _happenings, covered) < Doubt);
    }
}
