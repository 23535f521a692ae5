using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: the bus supply dipped. Limit: one window below the limit of the settings; where they give none, 15 % below this site's habit (IEC 61131-2 allows a supply
/// of 24 V DC 15 % less, from memory), once that is learned from its first hour. A dip is over with the first window 1 % above the limit; what lasts longer than two seconds is
/// a low supply and no dip. Before a dip the supply must have stood for a second, so that switching on is none. One window averages, so a shorter dip shows as less deep
/// or not at all: which is the shortest that surely shows is said.
/// A gap in the values ends what it fell into, uncounted. Lost frames: nothing here is judged by frames. Over after ten minutes without a dip.
/// </summary>
internal sealed class SupplyDipDetector(Bus bus, MeasuringLimits limits, LearnedLevel habit)
{
    /// <summary>The episode is over once this long has passed without evidence.</summary>
    public static readonly TimeSpan HoldOff = TimeSpan.FromMinutes(10);

    private const double Hysteresis = 0.01;
    private const double BelowHabitRatio = 0.85;
    private const double NothingVolts = 3;
    private static readonly TimeSpan LongestDip = TimeSpan.FromSeconds(2);
    private static readonly TimeSpan Gap = TimeSpan.FromSeconds(1);
    private static readonly TimeSpan Standing = TimeSpan.FromSeconds(1);

    private Instant _standsSince = Instant.MinValue;
    private Instant _lastEnd = Instant.MinValue;
    private Instant? _began;
    private Instant _belowUntil;
    private double _lowest;
    private int _count;
    private double _deepest = double.PositiveInfinity;
    private double _longestSeconds;
    private bool _wasBelow;
    private double _watchedSeconds;
    private double _longestWindowSeconds;
    private double _longestStepSeconds;
    private Instant _lastStart;

    /// <summary>Windows that begin farther apart than this leave time that nobody watched.</summary>
    private const double WatchedStepSeconds = 0.1;

    /// <summary>
    /// For how long no window was below the limit, and how long a dip must be that it would surely have shown in full; null where one was, or before anything was watched. Only time counts that windows
    /// follow each other in closely: gaps, and values that were lost or refused, add nothing.
    /// </summary>
    public (double LimitVolts, double Seconds, double WindowSeconds, double SurelySeenSeconds)? NeverBelow =>
        Limit is double limit && !_wasBelow && _watchedSeconds > 0
            ? (limit, _watchedSeconds, _longestWindowSeconds, Math.Max(_longestStepSeconds, _longestWindowSeconds) + _longestWindowSeconds)
            : null;

    private double? Limit => limits.Dip ?? (BelowHabitRatio * habit.Median);

    public void OnValue(in Measurement value, double? surelySeenSeconds)
    {
        if (Limit is not double limit)
        {
            return;
        }

        bus.Dips.Measured(value.Start, value.End);
        if (_lastEnd == Instant.MinValue || value.Start - _lastEnd > Gap)
        {
            _standsSince = Instant.MinValue;
            if (_began is not null)
            {
                _began = null;
                bus.Dips.End();
            }
        }

        Watch(value);
        _lastEnd = value.End;
        if (value.Value < limit)
        {
            _wasBelow = true;
            OnBelow(value);
        }
        else if (_began is not null && value.Value >= limit * (1 + Hysteresis))
        {
            bool isDip = _belowUntil - _began.Value <= LongestDip;
            Instant start = _began.Value;
            _began = null;
            bus.Dips.End();
            _standsSince = value.Start;
            if (isDip)
            {
                Raise(start, value.End, limit, surelySeenSeconds);
            }
        }
        else if (_began is null && _standsSince == Instant.MinValue)
        {
            _standsSince = value.Start;
        }
    }

    private void Watch(in Measurement value)
    {
        double step = _lastEnd == Instant.MinValue ? double.PositiveInfinity : value.Start.SecondsSince(_lastStart);
        _lastStart = value.Start;
        if (step > WatchedStepSeconds)
        {
            return;
        }

        _watchedSeconds += step;
        _longestStepSeconds = Math.Max(_longestStepSeconds, step);
        _longestWindowSeconds = Math.Max(_longestWindowSeconds, value.End.SecondsSince(value.Start));
    }

    private void OnBelow(in Measurement value)
    {
        _belowUntil = value.End;
        if (_began is not null)
        {
            _lowest = Math.Min(_lowest, value.Value);
            bus.Dips.Deepen(value.Value);
        }
        else if (_standsSince != Instant.MinValue && value.Start - _standsSince >= Standing)
        {
            _began = value.Start;
            _lowest = value.Value;
            bus.Dips.Begin(value.Start, value.Value);
        }
        else
        {
            _standsSince = Instant.MinValue;
        }
    }

    private void Raise(Instant start, Instant now, double limit, double? surelySeenSeconds)
    {
        double seconds = _belowUntil.SecondsSince(start);
        _count++;
        _deepest = Math.Min(_deepest, _lowest);
        _longestSeconds = Math.Max(_longestSeconds, seconds);
        bool isNew = !bus.Book.IsOpen(Catalogue.SupplyDip, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(Catalogue.SupplyDip, bus.Name, Subject.WholeBus, start, now, 0.97);
        finding.HoldOff = HoldOff;
        finding.Tell(Say(
            _count,
            $"The bus supply dipped once below {limit:0.0} V at our clip, to {_deepest:0.0} V.",
            $"The bus supply dipped {_count:N0} times below {limit:0.0} V at our clip, down to {_deepest:0.0} V."));
        finding.Measurements =
        [
            new("dips", _count, "1"),
            new("lowestVolts", Math.Round(_deepest, 2), "V"),
            new("limit", Math.Round(limit, 2), "V"),
            new("longestDip", Math.Round(_longestSeconds, 4), "s"),
        ];
        if (surelySeenSeconds is double shortest)
        {
            finding.Measurements = [.. finding.Measurements, new("shortestVisible", Math.Round(shortest, 4), "s")];
        }

        finding.AddEvidence(start, surelySeenSeconds is double seen
            ? Say($"Down to {_lowest:0.0} V, seen for {Text.Seconds(seconds)}. What is shorter than {Text.Seconds(seen)} may be deeper than it shows, or not show at all.")
            : Say($"Down to {_lowest:0.0} V, seen for {Text.Seconds(seconds)}."));
        if (!isNew)
        {
            return;
        }

        finding.Causes = Causes.Of(
            (Cause.SupplyWeak, 6, Say($"Loads that switch on draw more than supply and cable can give for a moment.")),
            (Cause.CableIntermittent, 2, Say($"A joint in the supply pair that opens now and then does it, too.")),
            (Cause.AdapterLimit, _lowest < NothingVolts ? 3 : 0, Say($"So deep, and so short: our own lead may have lost contact, if no module restarted.")))
            .AdviseSupplyJoint();
    }
}
