using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: the voltages of the lines left their range (<see cref="LineRange"/>), or this site's habit. The second needs the dominant level, which is found from means and the decoded
/// dominant time (<see cref="LineLevels"/>), to ±2 % (methods 8.2). Limit: two blocks in a row whose swing, dominant less recessive, is 8 % off the middle of six that were taken over the
/// first hour; over when two in a row are within 4 %. Why 8 %: four times the error, and a terminator too many makes 11 to 18 % less, one missing 15 to 30 % more. Why a change, and never the
/// level itself: a healthy driver may be anywhere from 1.5 to 3.0 V, so a wrong terminator and a driver of another make look alike. Then whose: where all senders moved together it is what they
/// share, termination first; where one moved and the others didn't, its driver or its drop. Alone is only believed of a node that has not started anew since its habit was learned,
/// as it may have been exchanged for one that drives otherwise. Beyond 0.9 to 3.3 V nothing may be (least that a receiver needs, most at 70 Ω): that is told without a suspect.
/// Windows in which frames were lost, or spoilt, or whose frames have two bit rates, are left out. What averages can't show is said.
/// </summary>
internal sealed class LineLevelDetector(Bus bus)
{
    /// <summary>Every level is this uncertain, however many windows there are (methods 8.2).</summary>
    public const double Uncertainty = 0.02;

    private const double ChangeRatio = 0.08;
    private const double BackRatio = 0.04;
    private const int BlocksNeeded = 2;
    private const int HabitBlocks = 6;
    private const int SendersNeeded = 3;
    private const double MostSenders = 0.8;
    private const double LeastDifferenceVolts = 0.9;
    private const double MostDifferenceVolts = 3.3;
    private static readonly TimeSpan HabitSpacing = TimeSpan.FromMinutes(10);
    private static readonly TimeSpan WaitForSenders = TimeSpan.FromHours(1);

    private readonly LineLevels _high = new();
    private readonly LineLevels _low = new();
    private readonly LineLevels _difference = new();
    private readonly LineRange _range = new(bus);
    private readonly SenderLevels _senders = new();
    private readonly LearnedLevel _habit = new(HabitBlocks);
    private Instant _habitTaken = Instant.MinValue;
    private Instant _changedSince;
    private int _changed;
    private int _back;
    private int _beyond;
    private Change _told;
    private IReadOnlyList<int> _movedNodes = [];
    private double _watchedSeconds;
    private double _longestBlockSeconds;
    private double _mostChange;

    private enum Change
    {
        None,
        All,
        Some,
        CannotTellWhose,
        Beyond,
    }

    /// <summary>Of the difference; from both lines where it isn't measured itself.</summary>
    public (double Recessive, double Dominant, Instant Start, Instant End)? Difference =>
        _difference.Last is { } block ? (block.Line.Recessive, block.Line.Dominant, block.Start, block.End)
        : _high.Last is { } high && _low.Fit is { } low ? (high.Line.Recessive - low.Recessive, high.Line.Dominant - low.Dominant, high.Start, high.End)
        : null;

    /// <summary>For how long both lines were watched and never out of range; null where that can't be said.</summary>
    public LineRange.Watch? NeverOutside => IsAccused ? null : _range.NeverOutside;

    /// <summary>
    /// For how long the swing of all senders together stayed where it was in the first hour: so near that no terminator can have come or gone, with what is uncertain of both levels taken
    /// against us. Null where that can't be said. Gaps, and time whose frames aren't known, add nothing.
    /// </summary>
    public (bool BetweenLines, double UsualVolts, double ChangeRatio, double Seconds, double SurelySeenSeconds)? Steady
    {
        get
        {
            const double LeastOfTerminators = 0.11;
            double change = ((1 + _mostChange) * (1 + Uncertainty) / (1 - Uncertainty)) - 1;
            return _habit.Median is double usual && _watchedSeconds > 0 && change < LeastOfTerminators && !IsAccused
                ? (_difference.IsMeasured, usual, change, _watchedSeconds, 2 * _longestBlockSeconds)
                : null;
        }
    }

    private bool IsAccused => bus.Book.Find(Catalogue.LineLevel, bus.Name, Subject.WholeBus) is not null;

    public double? CommonModeVolts => _range.IsKnown ? _range.CommonModeVolts : null;

    public void OnValue(in Measurement value, DominantTime.Window? window, DominantTime dominant)
    {
        LineLevels levels = value.Quantity switch
        {
            Quantity.LineHighVolts => _high,
            Quantity.LineLowVolts => _low,
            _ => _difference,
        };
        bool isMain = levels == _difference || (levels == _high && !_difference.IsMeasured);
        bool completed = levels.Add(value, window, dominant);
        if (isMain && window is { } known && levels.Last is { } last)
        {
            _senders.Add(value, known, last.Line.Recessive, last.Line.Noise, mayLearn: _changed == 0 && _told == Change.None);
        }

        if (isMain && completed)
        {
            OnBlock(levels.Last!.Value);
        }
    }

    public void OnSecond(Quantity line, in MeasuredSpan second, double? supplyVolts)
    {
        if (line is Quantity.LineHighVolts or Quantity.LineLowVolts && _range.OnSecond(line, second, supplyVolts))
        {
            Tell(second.Start + TimeSpan.FromSeconds(1));
        }
    }

    private void OnBlock(in LineLevels.Block block)
    {
        double swing = block.Line.Swing;
        bool isBeyond = Difference is { } now && (now.Dominant * (1 + Uncertainty) < LeastDifferenceVolts || now.Dominant * (1 - Uncertainty) > MostDifferenceVolts);
        _beyond = isBeyond ? _beyond + 1 : 0;
        if (_habit.Median is not double usual)
        {
            if (!isBeyond && block.End - _habitTaken >= HabitSpacing)
            {
                _habit.Add(swing);
                _habitTaken = block.End;
            }

            Set(_beyond >= BlocksNeeded ? Change.Beyond : Change.None, [], block.End);
            return;
        }

        double change = (swing / usual) - 1;
        _watchedSeconds += block.WatchedSeconds;
        _longestBlockSeconds = Math.Max(_longestBlockSeconds, block.End.SecondsSince(block.Start));
        _mostChange = Math.Max(_mostChange, Math.Abs(change));
        _back = Math.Abs(change) < BackRatio ? _back + 1 : 0;
        bool wasChanged = _changed > 0;
        _changed = Math.Abs(change) < ChangeRatio ? 0 : _changed + 1;
        if (wasChanged != _changed > 0)
        {
            // What each sender did until now tells nothing of what it does from now on.
            _changedSince = block.End;
            _senders.BeginAnew();
        }

        if (_changed >= BlocksNeeded)
        {
            JudgeBus(change, block.End);
        }
        else if (_changed == 0)
        {
            JudgeSenders(block.End);
        }
    }

    private void JudgeBus(double change, Instant now)
    {
        SenderLevels.Sender[] fresh = [.. _senders.Known];
        SenderLevels.Sender[] moved = [.. fresh.Where(sender => Math.Sign(sender.Change!.Value) == Math.Sign(change) && Math.Abs(sender.Change.Value) >= Math.Abs(change) / 2)];
        if (fresh.Length >= SendersNeeded && moved.Length >= MostSenders * fresh.Length)
        {
            Set(Change.All, [], now);
        }
        else if (fresh.Length >= SendersNeeded)
        {
            // Drivers may differ, so the mean of all moves when others send more than before.
            Set(moved.Length == 1 ? Change.Some : Change.None, [.. moved.Take(moved.Length == 1 ? 1 : 0).Select(sender => (int)sender.Address)], now);
        }
        else if (now - _changedSince > WaitForSenders)
        {
            Set(Change.CannotTellWhose, [], now);
        }
    }

    private void JudgeSenders(Instant now)
    {
        SenderLevels.Sender[] known = [.. _senders.Known];
        int[] moved = [.. known.Where(sender => Math.Abs(sender.Change!.Value) >= ChangeRatio && Math.Abs(sender.ChangeBefore ?? 0) >= ChangeRatio).Select(sender => (int)sender.Address)];
        foreach (int node in moved)
        {
            if (bus.Node(node) is { } state && state.LastBootUp > known.First(sender => sender.Address == node).HabitSince)
            {
                _senders.Forget((byte)node);
                return;
            }
        }

        int steady = known.Count(sender => Math.Abs(sender.Change!.Value) < BackRatio);
        if (moved.Length > 0 && moved.Length <= Math.Max(1, known.Length / 4) && steady >= SendersNeeded)
        {
            Set(Change.Some, moved, now);
        }
        else if (_back >= BlocksNeeded && !(_told == Change.Some && known.Any(sender => _movedNodes.Contains(sender.Address) && Math.Abs(sender.Change!.Value) >= BackRatio)))
        {
            Set(_beyond >= BlocksNeeded ? Change.Beyond : Change.None, [], now);
        }
    }

    private void Set(Change change, IReadOnlyList<int> nodes, Instant now)
    {
        bool isNew = change != _told || !nodes.SequenceEqual(_movedNodes);
        _told = change;
        _movedNodes = nodes;
        if (isNew)
        {
            Tell(now);
        }
    }

    /// <summary>One finding for the lines: out of range comes first, because nothing else can be judged then.</summary>
    private void Tell(Instant now)
    {
        if (_range.State == LineRange.Kind.Inside && _told == Change.None)
        {
            bus.Book.Close(Catalogue.LineLevel, bus.Name, Subject.WholeBus, now);
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.LineLevel, bus.Name, Subject.WholeBus);
        bool byRange = _range.State != LineRange.Kind.Inside;
        Finding finding = bus.Book.Raise(Catalogue.LineLevel, bus.Name, Subject.WholeBus, byRange ? now - TimeSpan.FromSeconds(10) : _changed > 0 ? Instant.Min(now, _changedSince) : now, now, 0.95);
        finding.NodesShown = null;
        if (byRange)
        {
            TellRange(finding, now);
        }
        else
        {
            TellChange(finding, now);
        }

        if (isNew)
        {
            finding.AddEvidence(now, Say($"These are averages over many bits: an edge, ringing or a single glitch doesn't show in them."));
        }
    }

    private void TellRange(Finding finding, Instant now)
    {
        double high = _range.HighVolts;
        double low = _range.LowVolts;
        finding.Measurements = [new("lineHighVolts", Math.Round(high, 2), "V"), new("lineLowVolts", Math.Round(low, 2), "V"), new("commonModeVolts", Math.Round((high + low) / 2, 2), "V")];
        finding.AddEvidence(now, Say($"Means of ten seconds: CAN_H {high:0.00} V, CAN_L {low:0.00} V. Those of a healthy bus lie from {LineRange.HighLeast:0.0} to {LineRange.HighMost:0.0} V and from {LineRange.LowLeast:0.0} to {LineRange.LowMost:0.0} V."));
        switch (_range.State)
        {
            case LineRange.Kind.Nothing:
                finding.Tell(Say($"Both lines are at 0 V although the supply is there, and nothing is heard."), Say($"Both lines were at 0 V although the supply was there, and nothing was heard."));
                finding.Causes = Causes.Of(
                    (Cause.CableShort, 4, Say($"A line that touches ground pulls the other one down through the terminators.")),
                    (Cause.SupplyWeak, 2, Say($"The modules behind our clip may have no supply.")),
                    (Cause.AdapterLimit, 2, Say($"Our own leads may have come off the lines.")));
                break;
            case LineRange.Kind.Together:
                double common = (high + low) / 2;
                finding.Tell(
                    Say($"Both lines lie {Math.Abs(common - 2.5):0.0} V {(common > 2.5 ? Say($"too high") : Say($"too low"))} against the ground at our clip: a common mode of {common:0.0} V."),
                    Say($"Both lines lay {Math.Abs(common - 2.5):0.0} V {(common > 2.5 ? Say($"too high") : Say($"too low"))} against the ground at our clip: a common mode of {common:0.0} V."));
                finding.AddEvidence(now, common is < -2 or > 7
                    ? Say($"ISO 11898-2 lets receivers fail outside −2 to +7 V; newer ones bear ±12 V.")
                    : Say($"Receivers bear −2 to +7 V (ISO 11898-2), at their own ground, which may be another than ours."));
                finding.Causes = Causes.Of(
                    (Cause.GroundOffset, 5, Say($"The ground at our clip and that of the modules which drive the lines differ.")),
                    (Cause.CableShort, 2, Say($"Something with a voltage of its own touches the lines through a resistance.")),
                    (Cause.AdapterLimit, 1, Say($"Our own ground lead may have come off.")));
                break;
            default:
                Sentence line = _range.State == LineRange.Kind.HighAlone ? Named("CAN_H") : Named("CAN_L");
                double volts = _range.State == LineRange.Kind.HighAlone ? high : low;
                finding.Tell(
                    Say($"{line} alone is out of its range, at {volts:0.0} V on average: it touches something, or is open."),
                    Say($"{line} alone was out of its range, at {volts:0.0} V on average: it touched something, or was open."));
                finding.Causes = Causes.Of(
                    (Cause.CableShort, 5, volts < LineRange.LowLeast ? Say($"A line at 0 V touches ground or the shield.") : Say($"A line that lies too high touches the supply or a switched wire.")),
                    (Cause.CableOpen, 2, Say($"A line that is open somewhere floats to where a leak pulls it.")),
                    (Cause.AdapterLimit, 1, Say($"Our own lead to that line may have come off.")));
                break;
        }
    }

    private void TellChange(Finding finding, Instant now)
    {
        (double _, double dominant, Instant _, Instant _) = Difference ?? default;
        double swing = (_difference.Last ?? _high.Last)!.Value.Line.Swing;
        MeasurementReport level = new("dominantVolts", Math.Round(dominant, 3), "V", Math.Round(dominant * (1 - Uncertainty), 3), Math.Round(dominant * (1 + Uncertainty), 3));
        if (_told == Change.Beyond || _habit.Median is not double usual)
        {
            finding.Measurements = [level];
            finding.Tell(
                Say($"The dominant level is {dominant:0.00} V between the lines, which no healthy bus has."),
                Say($"The dominant level was {dominant:0.00} V between the lines, which no healthy bus has."));
            finding.AddEvidence(now, Say($"Receivers need {LeastDifferenceVolts:0.0} V; more than {MostDifferenceVolts:0.0} V no driver gives on a bus of 45 to 70 Ω (ISO 11898-2). What makes it so doesn't show in a level alone."));
            finding.Causes = Causes.Of((Cause.Unknown, 1, Say($"Cable, terminators, drivers or our own leads: the resistance with power off is the first thing to know."))).Advise(Cause.Unknown, Resistance, Ohms, Causes.PowerOff);
            return;
        }

        double change = (swing / usual) - 1;
        finding.Measurements = [level, new("usualSwingVolts", Math.Round(usual, 3), "V"), new("swingVolts", Math.Round(swing, 3), "V")];
        if (_told == Change.Some)
        {
            TellSome(finding, now);
            return;
        }

        finding.AddEvidence(now, Say($"From recessive to dominant: {swing:0.00} V instead of {usual:0.00} V, the middle of the first hour, each ±2 %. That this hour was an ordinary one is an assumption."));
        bool isAll = _told == Change.All;
        Sentence more = change > 0 ? Say($"higher") : Say($"lower");
        finding.Tell(
            isAll ? Say($"All senders drive the lines {Text.Percent(Math.Abs(change))} {more} than they used to: something changed that they share.")
                : Say($"The dominant level is {Text.Percent(Math.Abs(change))} {more} than it used to be; whether of all senders can't be told."),
            isAll ? Say($"All senders drove the lines {Text.Percent(Math.Abs(change))} {more} than they used to: something had changed that they share.")
                : Say($"The dominant level was {Text.Percent(Math.Abs(change))} {more} than it used to be; whether of all senders can't be told."));
        double shared = isAll ? 6 : 3;
        finding.Causes = (change > 0
            ? Causes.Of(
                (Cause.TerminationMissing, shared, Say($"With one terminator instead of two every driver gives 15 to 30 % more.")),
                (Cause.CableOpen, 2, Say($"A part of the trunk may be cut off, and its terminator with it.")),
                (Cause.SupplyWeak, 0.5, Say($"Drivers follow their own supply.")))
            : Causes.Of(
                (Cause.TerminationExtra, shared, Say($"With three terminators instead of two every driver gives 11 to 18 % less.")),
                (Cause.CableShort, 1.5, Say($"Moisture or a bruise that lets current through between the lines does the same.")),
                (Cause.SupplyWeak, 1, Say($"Drivers follow their own supply."))))
            .Advise(Cause.TerminationMissing, Resistance, Ohms, Causes.PowerOff)
            .Advise(Cause.TerminationExtra, Resistance, Ohms, Causes.PowerOff);
    }

    private void TellSome(Finding finding, Instant now)
    {
        Sentence who = bus.Names.Nodes(_movedNodes);
        SenderLevels.Sender first = _senders.Known.First(sender => sender.Address == _movedNodes[0]);
        double change = first.Change!.Value;
        Sentence more = change > 0 ? Say($"higher") : Say($"lower");
        finding.NodesShown = _movedNodes;
        finding.Tell(
            Say($"{who} alone drives the lines {Text.Percent(Math.Abs(change))} {more} than before; the others drive them as ever."),
            Say($"{who} alone drove the lines {Text.Percent(Math.Abs(change))} {more} than before; the others drove them as ever."));
        finding.AddEvidence(now, Say($"In windows in which it alone sent: {first.Last!.Value:0.00} V from recessive to dominant instead of {first.Habit.Median!.Value:0.00} V."));
        finding.Causes = Causes.Of(
            (Cause.DeviceFault, 4, Say($"Its transceiver may be failing.")),
            (Cause.CableIntermittent, 3, Say($"A bad joint in its drop takes a part of what it drives.")),
            (Cause.SupplyWeak, 1, Say($"Its own supply may be low.")),
            (Cause.ConfigurationDiffers, 1, Say($"It may have been exchanged for one that drives otherwise, which it may.")))
            .AdviseDropOf(who);
    }

    private static readonly Sentence Resistance = Say($"With power off, measure the resistance between CAN_H and CAN_L.");
    private static readonly Sentence Ohms = Say($"60 Ω: two terminators. 120 Ω: one is missing. 40 Ω: three, one too many.");
}
