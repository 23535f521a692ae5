using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: nothing was heard on the whole bus for longer than its own habit, or at all.
/// Limit: while something on it is cyclic (guarding, too), one and a half times the silence that the fastest cyclic sender allows (5.25 of its periods; more
/// where frames go missing unreported, see <see cref="LossEstimate"/>), at least 2 s;
/// without anything cyclic, ten times the longest pause so far and at least 10 min, after 30 frames. "At all": 10 s of listening.
/// On a CANopen bus what comes only while somebody dims or holds a button is no cyclic sender (<see cref="IdentifierState.IsByClock"/>).
/// Why: a bus of on-change modules may rest all night, and only its own history tells; a heartbeat that misses five times is no chance.
/// Lost frames: the pause counts from the moment the record is whole again.
/// </summary>
internal sealed class TrafficDetector(Bus bus)
{
    private static readonly TimeSpan AtAll = TimeSpan.FromSeconds(10);
    private const double LeastSeconds = 2;

    /// <summary>While errors are heard somebody is still trying, and other detectors say so; a short gives a few and then silence.</summary>
    private static readonly TimeSpan ErrorsGoOn = TimeSpan.FromSeconds(5);

    /// <summary>
    /// A pause this many periods of the fastest cyclic sender long is the whole bus's, and no node is to blame for it. A bus whose heartbeats are half a
    /// minute apart pauses for longer than 2 s all the time.
    /// </summary>
    private const double OwnPausePeriods = 1.5;
    private const double LeastSecondsWithoutCycle = 600;

    private static readonly Sentence ClipCheck = Say($"Is the clip still on? Look at its contacts on CAN_H, CAN_L and ground and at the adapter's plug, before you look for the fault at the site.");
    private static readonly Sentence ClipExpected = Say($"All sit firmly, and lamps on the modules are lit; if traffic comes back when you touch the clip, it was the clip.");

    private static readonly Sentence TrunkCheck = Say($"With power off, measure the resistance between CAN_H and CAN_L where our clip is, and further along the trunk on both sides.");
    private static readonly Sentence TrunkExpected = Say($"About 60 Ω where the trunk is whole; about 120 Ω or more beyond an open joint.");

    /// <summary>What came this often in one rhythm will go on in it; a start-up's handful of regular messages won't.</summary>
    private const int FramesNeeded = 12;

    private Finding? _quiet;
    private double _longestPause;
    private double? _cyclicLimit;
    private Instant _limitFrom = Instant.MinValue;

    /// <summary>Called before the bus takes this frame as its last.</summary>
    public void OnFrame(Instant time)
    {
        if (bus.LastFrame == Instant.MinValue)
        {
            bus.AliveSince = time;
            bus.Book.Close(Catalogue.NoTraffic, bus.Name, Subject.WholeBus, time);
            return;
        }

        double pause = time.SecondsSince(Instant.Max(bus.LastFrame, bus.WholeSince));
        if (pause > Math.Max(Math.Max(LeastSeconds, OwnPausePeriods * _longestPause), OwnPausePeriods / 3.5 * (_cyclicLimit ?? 0)))
        {
            bus.AliveSince = time;
        }

        if (_quiet is { End: null } open)
        {
            open.End = time;
            open.AddEvidence(time, Say($"Traffic came back after {Text.Seconds(pause)}."));
        }
        else
        {
            _longestPause = Math.Max(_longestPause, pause);
        }
    }

    public void OnSecond(Instant now)
    {
        if (bus.LastFrame == Instant.MinValue)
        {
            Instant began = Instant.Max(bus.Start, bus.WholeSince);
            if (now - Instant.Max(began, bus.Errors.LastError) > AtAll && !bus.Book.IsOpen(Catalogue.NoTraffic, bus.Name, Subject.WholeBus))
            {
                Finding never = bus.Book.Raise(Catalogue.NoTraffic, bus.Name, Subject.WholeBus, began, now, 0.9);
                _quiet = never;
                if (bus.Errors.WireErrors == 0)
                {
                    never.Tell(
                        Say($"Nothing has been heard on {bus.Name} since listening began: no frame and no error."),
                        Say($"Nothing was heard on {bus.Name} at first: no frame and no error."));
                }
                else
                {
                    never.Tell(
                        Say($"Not one good frame has been heard on {bus.Name} since listening began, and since its last error nothing at all."),
                        Say($"Not one good frame was heard on {bus.Name} at first, and after its last error nothing at all."));
                }

                never.AddEvidence(began, Say($"Listening began."));
                never.Causes = Causes.Of(
                    (Cause.AdapterLimit, 4, Say($"Our own clip may not touch the lines, or the adapter is set up or wired wrongly.")),
                    (Cause.SupplyWeak, 2, Say($"The modules may be without power.")),
                    (Cause.CableOpen, 2, Say($"The trunk may be open before our clip.")),
                    (Cause.ControllerFault, 1, Say($"Nobody may be sending yet."))).Advise(Cause.AdapterLimit, ClipCheck, ClipExpected, Causes.LiveCabinet)
                    .Advise(Cause.CableOpen, TrunkCheck, TrunkExpected, Causes.PowerOff);
            }

            return;
        }

        if (now - _limitFrom > TimeSpan.FromSeconds(10))
        {
            _limitFrom = now;
            _cyclicLimit = FastestCycle();
        }

        double quiet = now.SecondsSince(Instant.Max(bus.LastFrame, bus.WholeSince));
        double? limit = _cyclicLimit is double cyclic ? Math.Max(LeastSeconds, 1.5 * cyclic)
            : bus.Frames >= 30 ? Math.Max(LeastSecondsWithoutCycle, 10 * _longestPause)
            : null;
        if (limit is null || quiet <= limit || now - bus.Errors.LastError < ErrorsGoOn || bus.Book.IsOpen(Catalogue.NoTraffic, bus.Name, Subject.WholeBus))
        {
            return;
        }

        Finding finding = bus.Book.Raise(Catalogue.NoTraffic, bus.Name, Subject.WholeBus, bus.LastFrame, now, _cyclicLimit is null ? 0.8 : 0.99);
        _quiet = finding;
        finding.Tell(Say($"The whole bus went quiet: nothing is heard from any module."), Say($"The whole bus was quiet: nothing was heard from any module."));
        finding.AddEvidence(bus.LastFrame, Say($"Last frame before the silence."));
        finding.Measurements = [new("silenceLimit", Math.Round(limit.Value, 1), "s")];
        finding.Causes = Causes.Of(
            (Cause.AdapterLimit, 4, Say($"All went quiet at one moment, and our own clip is the loosest part of the bus.")),
            (Cause.SupplyWeak, 3, Say($"All modules went quiet at one moment: the bus supply is what they share.")),
            (Cause.CableOpen, 2, Say($"The trunk may be open between our clip and the rest.")),
            (Cause.CableShort, 1, Say($"A short between the lines stops everybody."))).Advise(Cause.AdapterLimit, ClipCheck, ClipExpected, Causes.LiveCabinet)
                    .Advise(Cause.CableOpen, TrunkCheck, TrunkExpected, Causes.PowerOff);
    }

    /// <summary>The smallest limit among what was still regular when the bus was last heard.</summary>
    private double? FastestCycle()
    {
        // However much is lost, this many misses in a row of everybody aren't chance.
        int misses = bus.Loss.MissesAllowed ?? LossEstimate.MostMisses;
        double? fastest = null;
        foreach (IdentifierState identifier in bus.Identifiers.All)
        {
            // Uploads and downloads are regular while they last and end on purpose; network commands (identifier 0) come in series for a purpose, too.
            // A download may be the first of a quiet bus that shows what it is.
            bool hasPurpose = bus.Protocol.MayBeCanOpen && (identifier.IsSdo || identifier.Id is { IsExtended: false, Value: 0 });
            bool isByClock = !bus.Protocol.IsCanOpen || identifier.IsErrorControl || (identifier.IsByClock && !identifier.IsEmergency);
            if (!hasPurpose && isByClock && identifier.Frames >= FramesNeeded)
            {
                Consider(identifier.Cycle, identifier.LastHeard);
            }
        }

        if (bus.Protocol.IsCanOpen)
        {
            foreach (NodeState node in bus.Nodes)
            {
                // Guarding is the controller's rhythm, and it goes on whoever answers.
                Consider(node.GuardRequests, node.LastGuardRequest);
            }
        }

        return fastest;

        void Consider(Cycle cycle, Instant lastHeard)
        {
            if (cycle.Rhythm == Rhythm.Cyclic
                && cycle.SilenceSeconds(misses) is double limit
                && bus.LastFrame.SecondsSince(lastHeard) < Math.Max(limit, 1)
                && (fastest is null || limit < fastest))
            {
                fastest = limit;
            }
        }
    }
}
