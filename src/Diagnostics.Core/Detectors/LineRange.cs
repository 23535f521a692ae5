using Diagnostics.Can;
using Diagnostics.Core.Measuring;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Whether the two lines lie where those of a healthy bus can. Whatever a bus does, a mean of CAN_H lies between its lowest recessive and its highest dominant level, 2.0 to 4.5 V, and
/// one of CAN_L between 0.5 and 3.0 V (ISO 11898-2, from the tables of transceivers); 0.15 V more are left for dividers of 1 % and the part. Judged are ten seconds in a row, so no
/// frame and no window matters. Both lines at nothing are a bus without power, or our leads without contact, unless the supply is measured and there and nothing is heard.
/// </summary>
internal sealed class LineRange(Bus bus)
{
    public const double HighLeast = 2.0;
    public const double HighMost = 4.5;
    public const double LowLeast = 0.5;
    public const double LowMost = 3.0;
    public const double Tolerance = 0.15;

    /// <summary>Back inside by this before it is over.</summary>
    private const double Hysteresis = 0.1;
    private const double NothingVolts = 0.5;
    private const double SupplyThereVolts = 5;
    private const int Seconds = 10;

    /// <summary>Lines that are moved together by a ground keep their distance within this.</summary>
    private const double TogetherVolts = 0.5;

    private MeasuredSpan? _high;
    private MeasuredSpan? _low;
    private int _outside;
    private int _inside;
    private Instant _lastJudged = Instant.MinValue;
    private Watch? _watched;
    private bool _wasOutside;

    internal enum Kind
    {
        Inside,
        Nothing,
        HighAlone,
        LowAlone,
        Together,
    }

    public Kind State { get; private set; }

    public double HighVolts { get; private set; }

    public double LowVolts { get; private set; }

    public double CommonModeVolts => (HighVolts + LowVolts) / 2;

    /// <summary>Both were measured in the last seconds.</summary>
    public bool IsKnown { get; private set; }

    /// <summary>
    /// Since both lines last lay at 0 V, as without power: seconds in a row in which no mean was out of its range; null where one ever was, or nothing was watched.
    /// Seconds without values add nothing.
    /// </summary>
    public Watch? NeverOutside => _wasOutside ? null : _watched;

    /// <param name="Seconds">Watched.</param>
    /// <param name="LowestCommonVolts">Of the common mode, each second's mean.</param>
    /// <param name="HighestCommonVolts">Of the common mode.</param>
    public readonly record struct Watch(double Seconds, double LowestCommonVolts, double HighestCommonVolts);

    /// <returns>Whether the state changed.</returns>
    public bool OnSecond(Quantity line, in MeasuredSpan second, double? supplyVolts)
    {
        Instant before = (line == Quantity.LineHighVolts ? _high : _low)?.Start ?? Instant.MinValue;
        if (second.Start - before != TimeSpan.FromSeconds(1))
        {
            _outside = _inside = 0;
        }

        if (line == Quantity.LineHighVolts)
        {
            _high = second;
        }
        else
        {
            _low = second;
        }

        IsKnown = _high is { } high && _low is { } low && (high.Start - low.Start).Duration() <= TimeSpan.FromSeconds(1);
        if (!IsKnown || line != Quantity.LineLowVolts)
        {
            return false;
        }

        HighVolts = _high!.Value.Mean;
        LowVolts = _low!.Value.Mean;
        Kind? now = Judge(second.Start + TimeSpan.FromSeconds(1), supplyVolts);
        Keep(now, second.Start);
        _outside = now is null or Kind.Inside ? 0 : _outside + 1;
        _inside = now == Kind.Inside ? _inside + 1 : 0;
        Kind next = State == Kind.Inside
            ? (_outside >= Seconds ? now!.Value : Kind.Inside)
            : (_inside >= Seconds ? Kind.Inside : State);
        bool changed = next != State;
        State = next;
        return changed;
    }

    private void Keep(Kind? now, Instant second)
    {
        bool follows = second - _lastJudged == TimeSpan.FromSeconds(1);
        _lastJudged = second;
        _wasOutside |= now is not (null or Kind.Inside);
        if (now is null)
        {
            _watched = null;
        }
        else if (follows)
        {
            Watch before = _watched ?? new(0, double.PositiveInfinity, double.NegativeInfinity);
            _watched = new(before.Seconds + 1, Math.Min(before.LowestCommonVolts, CommonModeVolts), Math.Max(before.HighestCommonVolts, CommonModeVolts));
        }
    }

    /// <summary>Null = can't tell.</summary>
    private Kind? Judge(Instant now, double? supplyVolts)
    {
        if (HighVolts < NothingVolts && LowVolts < NothingVolts)
        {
            return supplyVolts > SupplyThereVolts && now - bus.LastFrame > TimeSpan.FromSeconds(Seconds) ? Kind.Nothing : null;
        }

        double slack = State == Kind.Inside ? Tolerance : Tolerance - Hysteresis;
        double high = Outside(HighVolts, HighLeast - slack, HighMost + slack);
        double low = Outside(LowVolts, LowLeast - slack, LowMost + slack);
        return (high, low) switch
        {
            (0, 0) => Kind.Inside,
            _ when IsMovedTogether() => Kind.Together,
            _ when Math.Abs(high) >= Math.Abs(low) => Kind.HighAlone,
            _ => Kind.LowAlone,
        };
    }

    /// <summary>Both are off their recessive 2.5 V to the same side, and no farther apart than senders drive them.</summary>
    private bool IsMovedTogether()
    {
        const double Recessive = 2.5;
        const double MostApart = HighMost - LowLeast;
        double high = HighVolts - Recessive;
        double low = LowVolts - Recessive;
        return Math.Sign(high) == Math.Sign(low) && Math.Min(Math.Abs(high), Math.Abs(low)) > TogetherVolts && high - low is > -TogetherVolts and < MostApart;
    }

    private static double Outside(double volts, double least, double most) => volts < least ? volts - least : volts > most ? volts - most : 0;
}
