using System.Text;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Diagnosis;

/// <summary>
/// From a symptom to what may be behind it. Each detector gives weights; they are assumptions (no survey ranks the causes of faults on
/// building buses), as schema, page and text say once, and always leave a part for the unknown. What to check next, what to expect there and what to
/// mind is written once per cause.
/// </summary>
internal static class Causes
{
    public static readonly Sentence PowerOff = Say($"Disconnect the bus supply first; mains may be in the same cabinet. Work on it only if you are licensed to, by local code.");
    public static readonly Sentence LiveCabinet = Say($"Mains may be in the same cabinet: keep covers on live parts closed; licensed people only, by local code.");
    public static readonly Sentence Switching = Say($"Pressing or switching moves real loads: make sure that nobody is at the load.");

    private static readonly Sentence NoConductorMoves = Say($"No conductor moves in its clamp; while wiggling, no error is counted here.");

    /// <summary>
    /// Probabilities that sum to 1, largest first, unknown last among equals. Weights need not sum to anything; one for the unknown is added
    /// if it is missing.
    /// </summary>
    public static IReadOnlyList<CauseReport> Of(params (Cause Cause, double Weight, Sentence Why)[] weighted)
    {
        List<(Cause Cause, double Weight, Sentence Why)> all = [.. weighted.Where(entry => entry.Weight > 0)];
        if (!all.Exists(entry => entry.Cause == Cause.Unknown))
        {
            double sum = all.Sum(entry => entry.Weight);
            all.Add((Cause.Unknown, sum > 0 ? sum / 9 : 1, Say($"Something that this record doesn't show.")));
        }

        double total = all.Sum(entry => entry.Weight);
        List<CauseReport> reports = [];
        double given = 0;
        foreach ((Cause cause, double weight, Sentence why) in all.OrderByDescending(entry => entry.Weight).ThenBy(entry => entry.Cause))
        {
            // Rounded for a reader; the last one takes the rest so that the sum is 1 to the last digit shown.
            double probability = reports.Count == all.Count - 1 ? Math.Round(1 - given, 3) : Math.Round(weight / total, 3);
            given += probability;
            (Sentence check, Sentence expect, Sentence? caution) = Advice(cause);
            reports.Add(CauseReport.Of(Name(cause), probability, why, check, expect, caution));
        }

        return reports;
    }

    /// <summary>The same causes, but for one of them a check that fits this finding better than the usual one.</summary>
    public static IReadOnlyList<CauseReport> Advise(this IReadOnlyList<CauseReport> causes, Cause cause, Sentence check, Sentence expect, Sentence? caution) =>
        [.. causes.Select(report => report.Cause == Name(cause) ? report.Advised(check, expect, caution) : report)];

    /// <summary>Where the place isn't one node there is no "this drop": any joint may be the one.</summary>
    public static IReadOnlyList<CauseReport> AdviseTrunk(this IReadOnlyList<CauseReport> causes) =>
        causes.Advise(
            Cause.CableIntermittent,
            Say($"Open the joint boxes and plugs along the cable one by one, beginning with what was worked on last; pull gently at each conductor and re-terminate what moves."),
            NoConductorMoves,
            LiveCabinet);

    /// <summary>Where the finding is of the whole bus, but this cause is of some nodes.</summary>
    public static IReadOnlyList<CauseReport> AdviseDropOf(this IReadOnlyList<CauseReport> causes, Sentence who) => causes.Advise(
        Cause.CableIntermittent,
        Say($"Open the joint box or plug of the drop of {who}; pull gently at each conductor and re-terminate what moves."),
        NoConductorMoves,
        LiveCabinet);

    /// <summary>Where the cause is of our own connection.</summary>
    public static IReadOnlyList<CauseReport> AdviseOurClip(this IReadOnlyList<CauseReport> causes) => causes.Advise(
        Cause.CableIntermittent,
        Say($"Look at our own clip and plug, then at the joints next to them; pull gently at each conductor and re-terminate what moves."),
        NoConductorMoves,
        LiveCabinet);

    /// <summary>A joint of the supply pair shows in volts, not in errors.</summary>
    public static IReadOnlyList<CauseReport> AdviseSupplyJoint(this IReadOnlyList<CauseReport> causes) => causes.Advise(
        Cause.CableIntermittent,
        Say($"From the supply to our clip, measure the voltage before and behind each joint of the supply pair while loads are on; wiggle gently and look at the reading."),
        Say($"Each joint drops some hundredths of a volt at most, and the reading stays where it is."),
        LiveCabinet);

    public static string Name(Cause cause)
    {
        StringBuilder name = new();
        foreach (char letter in cause.ToString())
        {
            if (char.IsUpper(letter) && name.Length > 0)
            {
                name.Append('-');
            }

            name.Append(char.ToLowerInvariant(letter));
        }

        return name.ToString();
    }

    private static (Sentence Check, Sentence Expect, Sentence? Caution) Advice(Cause cause) => cause switch
    {
        Cause.AddressSetTwice => (
            Say($"Unplug one module that may carry this address and listen on; then look at the address switches of both."),
            Say($"With one of the two unplugged the address is heard in one rhythm only; the other one still answers on it."),
            LiveCabinet),
        Cause.CableOpen => (
            Say($"With power off, measure the resistance between CAN_H and CAN_L at the module that is missing, and at its neighbour."),
            Say($"About 60 Ω where the cable is whole; about 120 Ω or more beyond an open joint."),
            PowerOff),
        Cause.CableIntermittent => (
            Say($"Open the joint box or plug of this drop; pull gently at each conductor and re-terminate what moves."),
            NoConductorMoves,
            LiveCabinet),
        Cause.CableShort => (
            Say($"With power off, measure CAN_H to CAN_L, and each of them to ground and to the supply; then split the bus in halves."),
            Say($"About 60 Ω between the lines and kilohms or more to ground; near 0 Ω is a short, in the half that still shows it."),
            PowerOff),
        Cause.TerminationMissing => (
            Say($"With power off, measure the resistance between CAN_H and CAN_L."),
            Say($"60 Ω: two terminators. 120 Ω: one is missing."),
            PowerOff),
        Cause.TerminationExtra => (
            Say($"With power off, measure the resistance between CAN_H and CAN_L."),
            Say($"60 Ω: two terminators. 40 Ω: three, one too many."),
            PowerOff),
        Cause.SupplyWeak => (
            Say($"Measure the bus supply at the farthest module while as many outputs as possible are on."),
            Say($"It stays inside the range on the module's label; a drop when relays close points to cable or supply."),
            Join(LiveCabinet, Switching)),
        Cause.GroundOffset => (
            Say($"Measure the voltage between the ground (or shield) at both ends of the bus, powered."),
            Say($"Well below 2 V; more asks for a common ground or isolation."),
            LiveCabinet),
        Cause.Interference => (
            Say($"Note which machine or drive runs when the errors come; look for bus cable beside power cable, and at the shield's ground."),
            Say($"Errors stop when the source is off or the cable is moved away."),
            LiveCabinet),
        Cause.SwitchingInterference => (
            Say($"Switch the output that coincides with the errors by hand a few times and watch the error count."),
            Say($"The count rises with each switching; a suppressor at the load, or distance, ends it."),
            Switching),
        Cause.BitRateWrong => (
            Say($"Compare the bit rate of our adapter and of the module added last with that of the site."),
            Say($"All the same; after correcting it good frames are heard within seconds."),
            null),
        Cause.ControllerFault => (
            Say($"Look at the controller: is it running, and did anybody change its configuration?"),
            Say($"It runs and polls its modules in its usual rhythm."),
            null),
        Cause.DeviceFault => (
            Say($"Swap the module for a known good one at the same place, or move it to a good place."),
            Say($"The trouble goes with the module: it is the module; it stays: it is the place."),
            LiveCabinet),
        Cause.DeviceRestartedBySupply => (
            Say($"Measure the supply at this module while outputs switch; look at its supply terminals."),
            Say($"No dip below the module's minimum when loads switch."),
            Join(LiveCabinet, Switching)),
        Cause.DeviceWatchdog => (
            Say($"Note what the module was doing at each restart; compare its firmware with its equals."),
            Say($"If restarts go on with a good supply and after re-seating its plugs, swap the module."),
            null),
        Cause.ContactWorn => (
            Say($"Press this button slowly and firmly a few times; swap it with a neighbour of the same type."),
            Say($"A good contact gives one change per press; the trouble moves with the button."),
            Switching),
        Cause.ContactBounceSetting => (
            Say($"Compare the input filter time of this input with that of its neighbours."),
            Say($"Push-buttons need some 10 to 50 ms (common practice)."),
            null),
        Cause.MoistureOrLeakage => (
            Say($"With the button's cable unplugged at the module, see whether the input rests; then look for moisture in box and cable."),
            Say($"With the cable off the input is quiet: look at cable and button; still busy: the module's input."),
            LiveCabinet),
        Cause.ButtonHeld => (
            Say($"Look at the button: is it jammed, taped, or pushed by furniture?"),
            Say($"It springs back; the input then reads inactive."),
            null),
        Cause.ConfigurationDiffers => (
            Say($"Compare this module's configuration and firmware with its equals and with the record."),
            Say($"They agree, or the difference is wanted and written down."),
            null),
        Cause.CommandLoop => (
            Say($"Look for two rules in the controller that answer each other."),
            Say($"With one of them off, the traffic falls back to its habit."),
            null),
        Cause.SenderAlone => (
            Say($"Check that more than one module is powered and connected on this side; start at the sender and follow the trunk."),
            Say($"As soon as a second module is on, the frame is acknowledged and the repeats stop."),
            LiveCabinet),
        Cause.Overload => (
            Say($"See in the list of identifiers who sends most, and whether it needs to."),
            Say($"Longer event times or sending on change only bring the load below 50 %."),
            null),
        Cause.AdapterLimit => (
            Say($"Look at the board: processor load, adapter type, queue sizes."),
            Say($"No frame lost over an hour of usual traffic."),
            null),
        _ => (
            Say($"Note the time and what was going on at the site, and let the record run on."),
            Say($"The next occurrence adds evidence."),
            null),
    };
}
