using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptoms: a node announced a restart (boot-up) that nobody commanded; several at once are one finding; most of the site at once is
/// <c>bus.restarted</c>. Limit: one boot-up of a node that was present. Not a restart: the first that is ever heard of a node; one within 30 s after a reset
/// command to it or to all, once per command; the second announcement of one start; one within 2 min after a firmware download; one after an absence that was long enough to be noticed
/// (a module that returns, or its replacement); one behind the switching of an output that feeds it. Boot-ups less than 5 s apart belong together; half of the known nodes, at least three, are the site.
/// Why 5 s: modules on one supply start within seconds of each other (common practice, no source).
/// Lost frames: a reset command may have been among them, so a restart within 30 s after a loss is left out; where more than 5 % go missing all the time
/// it is told as a note that accuses nobody.
/// </summary>
internal sealed class RestartDetector(Bus bus, UnstableDetector unstable, SilenceDetector silence)
{
    /// <summary>The episode is over once this long has passed without evidence.</summary>
    public static readonly TimeSpan HoldOff = TimeSpan.FromMinutes(1);

    private static readonly TimeSpan Together = TimeSpan.FromSeconds(5);
    private static readonly TimeSpan CommandWindow = TimeSpan.FromSeconds(30);

    /// <summary>
    /// Some announce one start twice, for resetting the application ends in resetting the communication; nothing else comes from them in between (common practice, no source).
    /// </summary>
    private static readonly TimeSpan OneStart = TimeSpan.FromSeconds(1);

    /// <summary>A module that starts again every second must not put off the finding for ever.</summary>
    private static readonly TimeSpan LongestGroup = TimeSpan.FromSeconds(30);

    private readonly Instant[] _commanded = PerNode.Never();
    private readonly Instant[] _downloaded = PerNode.Never();
    private readonly Instant[] _started = PerNode.Never();
    private readonly List<(NodeState Node, Instant Time, bool WasAbsent)> _group = [];
    private int _knownBefore;

    public void OnNetworkCommand(Instant time, NmtCommand command, byte node)
    {
        if (command is not (NmtCommand.ResetNode or NmtCommand.ResetCommunication))
        {
            return;
        }

        if (node == 0)
        {
            Array.Fill(_commanded, time);
        }
        else if (node < _commanded.Length)
        {
            _commanded[node] = time;
        }
    }

    public void OnDownload(Instant time, byte node) => _downloaded[node] = time;

    /// <returns>Whether it is a restart that nothing on the bus explains.</returns>
    public bool OnBootUp(Instant time, NodeState node, bool isFirst)
    {
        byte address = node.Address;
        if (Within(_started[address], time, OneStart) && node.PreviousHeard == node.LastBootUp)
        {
            return false;
        }

        _started[address] = time;
        bool wasCommanded = Within(_commanded[address], time, CommandWindow);
        bool wasDownload = Within(_downloaded[address], time, NodeState.DownloadTime);
        _commanded[address] = Instant.MinValue;
        if (isFirst || wasCommanded || wasDownload || silence.WasSwitchedOn(node, time) || Within(bus.WholeSince, time, CommandWindow))
        {
            return false;
        }

        bool wasAbsent = (bus.SilenceSeconds(node) is double limit && time.SecondsSince(node.PreviousHeard) > limit) || Within(bus.AliveSince, time, Together);
        if (_group.Count == 0)
        {
            _knownBefore = bus.NodeCount;
        }

        _group.Add((node, time, wasAbsent));
        return true;
    }

    public void OnSecond(Instant now)
    {
        if (_group.Count == 0 || (now - _group[^1].Time < Together && now - _group[0].Time < LongestGroup))
        {
            return;
        }

        int nodes = _group.Select(entry => entry.Node.Address).Distinct().Count();
        bool isSite = nodes >= 3 && nodes * 2 >= _knownBefore;
        if (!bus.Protocol.IsCanOpen)
        {
            // Boot-ups of a protocol that isn't CANopen are none.
        }
        else if (isSite)
        {
            ReportSite(now, nodes);
        }
        else
        {
            ReportNodes(now);
        }

        _group.Clear();
    }

    private void ReportSite(Instant now, int nodes)
    {
        int absent = _group.Count(entry => entry.WasAbsent);
        bool powerCameBack = absent * 2 >= _group.Count;
        Finding finding = bus.Book.Raise(Catalogue.BusRestarted, bus.Name, Subject.WholeBus, _group[0].Time, now, 0.95);
        finding.HoldOff = HoldOff;
        finding.LastEvidence = _group[^1].Time;
        finding.Severity = powerCameBack || bus.Loss.IsHeavy ? Severity.Note : Severity.Warning;
        finding.NodesShown = [.. _group.Select(entry => (int)entry.Node.Address).Distinct().Order()];
        finding.Tell(powerCameBack
            ? Say($"{nodes} of {_knownBefore} nodes started together after an absence: power probably came back.")
            : bus.Loss.IsHeavy
            ? Say($"{nodes} of {_knownBefore} nodes started together; a command for that may have been among the frames that never arrived here.")
            : Say($"{nodes} of {_knownBefore} nodes started together, and nobody had commanded it."));
        finding.AddEvidence(_group[0].Time, Say($"First of {nodes} boot-ups: {bus.Names.Node(_group[0].Node.Address)}."));
        bool isBehindDip = !powerCameBack && finding.AddDipBefore(bus, _group[0].Time, after => Say($"{nodes} nodes started anew {after} after a dip."));
        finding.Causes = Causes.Of(
            (Cause.SupplyWeak, isBehindDip ? 30 : 6, Say($"They share the supply, and it went away or dipped.")),
            (Cause.ControllerFault, 2, Say($"It can restart them by other means than the command, for one by switching their supply.")),
            (Cause.CableIntermittent, 1, Say($"A bad joint in the supply pair does it too.")))
            .AdviseTrunk();

        // Modules that start anew clear our own clip of the silence before.
        if (powerCameBack && bus.Book.Find(Catalogue.NoTraffic, bus.Name, Subject.WholeBus) is { } quiet)
        {
            quiet.Causes = finding.Causes;
        }
    }

    private void ReportNodes(Instant now)
    {
        // The boot-up of a second device on the address is no restart of the first; nor is one through which its heartbeat went on in its old phase.
        List<(NodeState Node, Instant Time, bool WasAbsent)> present = _group.FindAll(entry =>
            !entry.WasAbsent && entry.Node.Heartbeat?.Tracks.AnotherBeganAt(entry.Time) != true && !bus.Book.IsOpen(Catalogue.DuplicateAddress, bus.Name, Subject.OfNode(entry.Node.Address)));
        if (present.Count == 0)
        {
            return;
        }

        Subject subject = Subject.OfNodes(present.Select(entry => (int)entry.Node.Address).Distinct());
        bool isNew = !bus.Book.IsOpen(Catalogue.NodeRestarted, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.NodeRestarted, bus.Name, subject, present[0].Time, now, !present[0].Node.IsRegular ? 0.85 : 0.95);
        finding.HoldOff = HoldOff;
        finding.LastEvidence = present[^1].Time;
        Sentence who = bus.Names.Nodes(subject.Nodes ?? [subject.Node!.Value]);
        finding.Tell(subject.Nodes is null
            ? Say($"{who} restarted by itself: it announced a start that nobody commanded.")
            : Say($"{who} restarted together, and nobody had commanded it."));
        if (bus.Loss.IsHeavy)
        {
            finding.Severity = Severity.Note;
            finding.Tell(Say($"{who} announced a start; a command for that may have been among the frames that never arrived here."));
        }
        else if (subject.Nodes is null && finding.Count == 1 && !present[0].Node.IsRegular)
        {
            // Whether it was away before can't be noticed: it may just as well have been taken out and put back, or replaced.
            finding.Severity = Severity.Note;
            finding.Tell(Say($"{who} announced a start that nobody commanded: it restarted, or it was unplugged and plugged in again. It sends nothing regular, so its absence can't be noticed."));
        }
        else
        {
            finding.Severity = Severity.Warning;
        }

        foreach ((NodeState node, Instant time, bool _) in present)
        {
            finding.AddEvidence(time, Say($"Boot-up of {bus.Names.Node(node.Address)}."));
            unstable.OnLeft(node, time);
        }

        bool isBehindDip = finding.AddDipBefore(bus, present[0].Time, after => Say($"{who} restarted {after} after a dip."));
        if (isNew || isBehindDip)
        {
            finding.Causes = subject.Nodes is null ? CausesOfOne(isBehindDip) : CausesOfSeveral(isBehindDip);
        }
    }

    private static IReadOnlyList<CauseReport> CausesOfOne(bool isBehindDip) => Causes.Of(
        (Cause.DeviceRestartedBySupply, isBehindDip ? 30 : 4, isBehindDip ? Say($"The bus supply dipped just before, and this module bears it least.") : Say($"A dip at its terminals restarts a module and leaves its neighbours.")),
        (Cause.DeviceWatchdog, 3, Say($"Its own watchdog may have restarted it.")),
        (Cause.CableIntermittent, 2, Say($"A loose supply conductor on its drop does it.")),
        (Cause.AddressSetTwice, 1, Say($"The start may be that of another module which was set to its address.")),
        (Cause.DeviceFault, 1, Say($"The module itself may be failing.")));

    private static IReadOnlyList<CauseReport> CausesOfSeveral(bool isBehindDip) => Causes.Of(
        (Cause.DeviceRestartedBySupply, isBehindDip ? 20 : 0, Say($"The bus supply dipped just before, and these modules bear it least.")),
        (Cause.SupplyWeak, isBehindDip ? 10 : 5, Say($"Several at one moment share a supply or a stretch of cable.")),
        (Cause.CableIntermittent, 3, Say($"A joint before them in the supply pair does it.")),
        (Cause.ControllerFault, 1, Say($"It may restart them by other means than the command, for one by switching their supply.")))
        .AdviseTrunk();

    private static bool Within(Instant earlier, Instant now, TimeSpan window) => earlier != Instant.MinValue && now - earlier <= window;
}
