using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: the bus supply is too low, and stays so. Limit: the means of three whole seconds in a row below the limit of the settings (fault), over when ten in a
/// row lie 2 % above it; or, where they are above it or there is none, ten minutes in a row more than 5 %, and more than six standard deviations, below this site's
/// habit (warning), over after one minute in which half of that is made good. The habit is the middle of the first hour (<see cref="LearnedLevel"/>). Why three seconds: what is shorter is a
/// dip. Why 5 %: a supply that regulates keeps 1 % over load and temperature, so more is another load, another cable or another source (common practice, no source).
/// Next to nothing while frames come is no finding: the modules have power, so it is our lead that has none. A second without a value holds back: the rows begin anew.
/// Lost frames: nothing here is judged by frames.
/// </summary>
internal sealed class SupplyLowDetector(Bus bus, MeasuringLimits limits, LearnedLevel habit)
{
    /// <summary>Seconds of the habit.</summary>
    public const int HabitSeconds = 3600;

    private const int RaiseSeconds = 3;
    private const int ClearSeconds = 10;
    private const int HabitRaiseSeconds = 600;
    private const int HabitClearSeconds = 60;
    private const double Hysteresis = 0.02;
    private const double BelowHabitRatio = 0.05;
    private const double BelowHabitDeviations = 6;

    /// <summary>No module works on this (common practice, no source).</summary>
    private const double NothingVolts = 3;

    private Instant _last = Instant.MinValue;
    private int _below;
    private int _above;
    private int _belowHabit;
    private int _atHabit;
    private bool _byHabit;
    private double _lowest;

    public void OnSecond(in MeasuredSpan second)
    {
        if (second.Start - _last != TimeSpan.FromSeconds(1))
        {
            _below = _above = _belowHabit = _atHabit = 0;
        }

        _last = second.Start;
        Instant end = second.Start + TimeSpan.FromSeconds(1);
        double volts = second.Mean;
        habit.Add(volts);
        if (volts < NothingVolts && end - bus.LastFrame < TimeSpan.FromSeconds(1))
        {
            _below = _belowHabit = 0;
            return;
        }

        bool isOpen = bus.Book.IsOpen(Catalogue.SupplyLow, bus.Name, Subject.WholeBus);
        if (limits.Low is double limit)
        {
            _below = volts < limit ? _below + 1 : 0;
            _above = volts >= limit * (1 + Hysteresis) ? _above + 1 : 0;
            if (_below >= RaiseSeconds)
            {
                RaiseByLimit(end, volts, limit, isOpen && !_byHabit);
                return;
            }

            if (isOpen && !_byHabit)
            {
                if (_above == ClearSeconds)
                {
                    bus.Book.Close(Catalogue.SupplyLow, bus.Name, Subject.WholeBus, end - TimeSpan.FromSeconds(ClearSeconds));
                }

                return;
            }
        }

        JudgeByHabit(end, volts, isOpen);
    }

    private void RaiseByLimit(Instant now, double volts, double limit, bool isKnown)
    {
        _lowest = isKnown ? Math.Min(_lowest, volts) : volts;
        Finding finding = bus.Book.Raise(Catalogue.SupplyLow, bus.Name, Subject.WholeBus, now - TimeSpan.FromSeconds(RaiseSeconds), now, 0.99);
        finding.Severity = Severity.Fault;
        finding.Measurements = [new("supplyVolts", Math.Round(volts, 2), "V"), new("lowestVolts", Math.Round(_lowest, 2), "V"), new("limit", limit, "V")];
        finding.Tell(
            _lowest < NothingVolts ? Say($"The bus supply is off: {volts:0.0} V at our clip.") : Say($"The bus supply is too low: {volts:0.0} V at our clip, where {limit:0.0} V are the least."),
            _lowest < NothingVolts ? Say($"The bus supply was off: down to {_lowest:0.0} V at our clip.") : Say($"The bus supply was too low: down to {_lowest:0.0} V at our clip, where {limit:0.0} V are the least."));
        if (isKnown)
        {
            return;
        }

        _byHabit = false;
        finding.AddEvidence(now, Say($"Every one of the last {RaiseSeconds} seconds was below {limit:0.0} V."));
        finding.Causes = Causes.Of(
            (Cause.SupplyWeak, 6, Say($"The supply gives too little for what hangs on it, or its cable is too thin or too long.")),
            (Cause.CableShort, 1, Say($"A short somewhere pulls it down.")),
            (Cause.CableIntermittent, 1, Say($"A bad joint before our clip drops a part of it.")))
            .AdviseSupplyJoint();
    }

    private void JudgeByHabit(Instant now, double volts, bool isOpen)
    {
        if (habit.Median is not double usual)
        {
            return;
        }

        double margin = Math.Max(BelowHabitRatio * usual, BelowHabitDeviations * habit.Spread);
        _belowHabit = volts < usual - margin ? _belowHabit + 1 : 0;
        _atHabit = volts > usual - (margin / 2) ? _atHabit + 1 : 0;
        if (isOpen && _byHabit && _atHabit == HabitClearSeconds)
        {
            bus.Book.Close(Catalogue.SupplyLow, bus.Name, Subject.WholeBus, now - TimeSpan.FromSeconds(HabitClearSeconds));
        }

        if (_belowHabit < HabitRaiseSeconds || isOpen)
        {
            return;
        }

        _byHabit = true;
        Finding finding = bus.Book.Raise(Catalogue.SupplyLow, bus.Name, Subject.WholeBus, now - TimeSpan.FromSeconds(HabitRaiseSeconds), now, 0.9);
        finding.Severity = Severity.Warning;
        finding.Tell(
            Say($"The bus supply is lower than it used to be: {volts:0.0} V at our clip instead of {usual:0.0} V."),
            Say($"The bus supply was lower than it used to be: {volts:0.0} V at our clip instead of {usual:0.0} V."));
        finding.Measurements = [new("supplyVolts", Math.Round(volts, 2), "V"), new("usualVolts", Math.Round(usual, 2), "V")];
        finding.AddEvidence(now, Say($"Every second of the last ten minutes was more than {margin:0.0} V below the middle of the first hour. That this hour was an ordinary one is an assumption."));
        finding.Causes = Causes.Of(
            (Cause.SupplyWeak, 4, Say($"The supply ages, runs on its battery, or carries more than before.")),
            (Cause.CableIntermittent, 2, Say($"A joint before our clip that gets worse drops a part of it.")),
            (Cause.ConfigurationDiffers, 2, Say($"Somebody may have set the supply lower.")))
            .AdviseSupplyJoint()
            .Advise(Cause.ConfigurationDiffers, Say($"Compare the voltage that the supply is set to with its plate and with the record."), Say($"They agree, or the difference is wanted and written down."), Causes.LiveCabinet);
    }
}
