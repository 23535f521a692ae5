using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.History;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>What it comes to, for somebody without a screen.</summary>
internal enum ClipVerdict
{
    Checking,
    AllWell,
    LookAtPage,
    CheckClip,
    BusFault,
}

/// <summary>An answer to one of the questions.</summary>
internal enum ClipOutcome
{
    Good,
    Bad,

    /// <summary>Nothing that is fitted or heard tells.</summary>
    CannotTell,

    /// <summary>It is too early.</summary>
    Waiting,
}

/// <param name="Outcome">Good, bad or not known.</param>
/// <param name="Text">A whole sentence.</param>
internal sealed record ClipAnswer(ClipOutcome Outcome, Sentence Text);

/// <summary>What is known, at one moment.</summary>
/// <param name="Report">The latest; null until there is one.</param>
/// <param name="SinceStart">How long this program has listened.</param>
internal sealed record ClipFacts(Report? Report, TimeSpan SinceStart)
{
    public BoardSettings Settings { get; init; } = new();

    public IReadOnlyList<SensorState> Sensors { get; init; } = [];

    public bool KeepsLog { get; init; }

    public IReadOnlyList<Trouble> Troubles { get; init; } = [];

    /// <summary>What people took note of no longer asks for a look.</summary>
    public IReadOnlyList<Acknowledgement> Acknowledgements { get; init; } = [];
}

/// <summary>
/// The check after clipping on, without a screen: is the bus heard, is everything as it should be. It rests on what the analysis found and on nothing of its own, and says "can't tell" where that is so. Pure.
/// <para>The half minute: <c>bus.no-traffic</c> and <c>bus.bit-rate-mismatch</c> need some seconds on a bus that speaks; where nothing at all is heard, <see cref="HearingPatience"/> ends the wait.</para>
/// </summary>
internal sealed record ClipCheck(ClipVerdict Verdict, IReadOnlyList<ClipAnswer> Answers)
{
    /// <summary>Nothing heard for so long after the start means that the clip is to be looked at: heartbeats come every second or two, and what is slower is rare (common practice, no source).</summary>
    public static readonly TimeSpan HearingPatience = TimeSpan.FromSeconds(25);

    /// <summary>By then each sensor has been looked for.</summary>
    private static readonly TimeSpan SensorPatience = TimeSpan.FromSeconds(15);

    /// <summary>The mean of CAN_H is below that of CAN_L by more than resistors of one per cent explain, volts; on a sound bus it is above it, or equal while nobody sends.</summary>
    private const double SwappedVolts = 0.15;

    public Sentence Said => Verdict switch
    {
        ClipVerdict.Checking => Say($"Checking the clip."),
        ClipVerdict.AllWell => Say($"All well."),
        ClipVerdict.CheckClip => Say($"The bus is not heard: check the clip."),
        ClipVerdict.BusFault => Say($"Bus fault now."),
        _ => Say($"Look at the page."),
    };

    public LightPattern Light => Verdict switch
    {
        ClipVerdict.Checking => LightPattern.Checking,
        ClipVerdict.AllWell => LightPattern.AllWell,
        ClipVerdict.CheckClip => LightPattern.CheckClip,
        ClipVerdict.BusFault => LightPattern.BusFault,
        _ => LightPattern.LookAtPage,
    };

    public static ClipCheck Of(ClipFacts facts)
    {
        ClipAnswer hearing = Hearing(facts);
        ClipAnswer[] answers = [hearing, BitRate(facts), ListenOnly(facts), Lines(facts), OwnTerminator(), Supply(facts), Log(facts)];
        bool isFault = Open(facts, "fault").Any();
        bool isOdd = answers.Any(answer => answer.Outcome == ClipOutcome.Bad) || facts.Troubles.Count > 0 || Unseen(facts);
        ClipVerdict verdict = hearing.Outcome switch
        {
            ClipOutcome.Bad => ClipVerdict.CheckClip,
            ClipOutcome.Waiting => ClipVerdict.Checking,
            _ when isFault => ClipVerdict.BusFault,
            _ when isOdd => ClipVerdict.LookAtPage,
            _ when answers.Any(answer => answer.Outcome == ClipOutcome.Waiting) => ClipVerdict.Checking,
            _ => ClipVerdict.AllWell,
        };
        return new(verdict, answers);
    }

    private static IEnumerable<FindingReport> Open(ClipFacts facts, string severity) =>
        (facts.Report?.Findings ?? []).Where(finding => finding.End is null && finding.Severity == severity);

    /// <summary>A fault or a warning that nobody took note of, over or not.</summary>
    private static bool Unseen(ClipFacts facts) => (facts.Report?.Findings ?? []).Any(finding =>
        finding.Severity is "fault" or "warning" && !facts.Acknowledgements.Any(known => known.Key == finding.Key && known.Start == finding.Start && known.Count >= finding.Count));

    private static bool Has(ClipFacts facts, string name) => (facts.Report?.Findings ?? []).Any(finding => finding.End is null && finding.Finding == name);

    private static ClipAnswer Hearing(ClipFacts facts)
    {
        IReadOnlyList<BusReport> buses = facts.Report?.Buses ?? [];
        long frames = buses.Sum(bus => bus.Frames);
        return frames > 0 && !Has(facts, "bus.no-traffic") ? new(ClipOutcome.Good, Say($"Wired and hearing: {frames:N0} frames so far."))
            : frames > 0 ? new(ClipOutcome.Bad, Say($"Nothing is heard any more: the clip slipped off, the plug is out, or the bus has no power."))
            : buses.Any(bus => bus.ErrorMessages > 0) ? new(ClipOutcome.Bad, Say($"Only errors are heard: the bit rate is wrong, or CAN_H and CAN_L are swapped."))
            : facts.SinceStart < HearingPatience ? new(ClipOutcome.Waiting, Say($"Nothing heard yet."))
            : new(ClipOutcome.Bad, Say($"Nothing is heard: check the clip, the plug, the bit rate and the bus’s power."));
    }

    private static ClipAnswer BitRate(ClipFacts facts)
    {
        if (Has(facts, "bus.bit-rate-mismatch"))
        {
            return new(ClipOutcome.Bad, Say($"The bit rate does not fit: frames come through damaged."));
        }

        BusReport? heard = facts.Report?.Buses.FirstOrDefault(bus => bus.Frames > 0);
        return heard is null ? new(ClipOutcome.CannotTell, Say($"Bit rate: can’t tell before a frame is heard."))
            : heard.BitRate is int rate ? new(ClipOutcome.Good, Say($"Bit rate right: frames come through whole at {rate / 1000.0:0.###} kbit/s."))
            : new(ClipOutcome.Good, Say($"Bit rate right: frames come through whole."));
    }

    private static ClipAnswer ListenOnly(ClipFacts facts)
    {
        IReadOnlyList<BusReport> buses = facts.Report?.Buses ?? [];
        return buses.FirstOrDefault(bus => bus.ListenOnly == false) is { } acknowledging
                ? new(ClipOutcome.Bad, Say($"Not listen-only: {Named(acknowledging.Interface)} acknowledges frames and sends error flags. Set it up with listen-only on."))
            : buses.Count > 0 && buses.All(bus => bus.ListenOnly == true) ? new(ClipOutcome.Good, Say($"Listen-only: nothing is sent."))
            : new(ClipOutcome.CannotTell, Say($"Listen-only: can’t tell, the interface doesn’t say."));
    }

    /// <summary>Frames that come through prove the adapter's wires: swapped, it would never see a dominant bit. The wires of our own dividers are others.</summary>
    private static ClipAnswer Lines(ClipFacts facts)
    {
        if (Mean(facts, Quantity.LineHighVolts) is double high && Mean(facts, Quantity.LineLowVolts) is double low)
        {
            return high >= low - SwappedVolts
                ? new(ClipOutcome.Good, Say($"Lines the right way round: CAN_H {high:0.00} V, CAN_L {low:0.00} V on average."))
                : new(ClipOutcome.Bad, Say($"Lines the wrong way round, or one is shorted: CAN_H {high:0.00} V is below CAN_L {low:0.00} V."));
        }

        return new(ClipOutcome.CannotTell, Say($"Lines the right way round: can’t tell without line levels; frames that come through say that the adapter’s wires are right."));
    }

    private static ClipAnswer OwnTerminator() =>
        new(ClipOutcome.CannotTell, Say($"Our own terminator: can’t tell from here. Look at the adapter’s switch or jumper: it must be off."));

    private static ClipAnswer Supply(ClipFacts facts)
    {
        MeasuringLimits limits = facts.Settings.Limits;
        if (Mean(facts, Quantity.SupplyVolts) is double volts)
        {
            return limits.Low is double low && volts < low ? new(ClipOutcome.Bad, Say($"Supply of the bus: {volts:0.0} V, below its limit of {low:0.0} V."))
                : volts < 1 ? new(ClipOutcome.Bad, Say($"Supply of the bus: {volts:0.0} V, so it is off or not wired."))
                : new(ClipOutcome.Good, Say($"Supply of the bus: {volts:0.0} V."));
        }

        return facts.Settings.Supply is null ? new(ClipOutcome.CannotTell, Say($"Supply of the bus: not measured on this board."))
            : facts.Sensors.FirstOrDefault(sensor => sensor.Kind == BoardEventKind.SupplySensor) is { Why: { } why } ? new(ClipOutcome.Bad, why)
            : facts.SinceStart < SensorPatience ? new(ClipOutcome.Waiting, Say($"Supply of the bus: not measured yet."))
            : new(ClipOutcome.CannotTell, Say($"Supply of the bus: not measured yet."));
    }

    private static ClipAnswer Log(ClipFacts facts) =>
        facts.Troubles.FirstOrDefault(trouble => trouble.Part == Trouble.OfLog) is { } trouble ? new(ClipOutcome.Bad, trouble.Text)
        : facts.KeepsLog ? new(ClipOutcome.Good, Say($"The log is being written."))
        : new(ClipOutcome.CannotTell, Say($"No log is kept."));

    /// <summary>Over the last second, of what was measured at all lately.</summary>
    private static double? Mean(ClipFacts facts, Quantity quantity)
    {
        bool isFresh = !facts.Sensors.Any(sensor => sensor.Condition == SensorCondition.InTrouble && Measures(sensor.Kind, quantity));
        return isFresh && facts.Report?.Measurements.FirstOrDefault(measured => measured.Quantity == Quantities.NameOf(quantity)) is { } found ? found.Second?.Mean ?? found.Last : null;
    }

    private static bool Measures(BoardEventKind sensor, Quantity quantity) => sensor switch
    {
        BoardEventKind.SupplySensor => quantity is Quantity.SupplyVolts or Quantity.SupplyAmperes,
        BoardEventKind.LineSensor => quantity is Quantity.LineHighVolts or Quantity.LineLowVolts or Quantity.LineDifferenceVolts,
        _ => false,
    };
}
