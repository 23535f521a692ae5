using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: a node (or, without a known protocol, a cyclic identifier) that was heard stopped, while others go on.
/// Limit: three and a half of its periods without any frame from it, plus jitter (methods: three misses and a margin). Several that stop together are
/// one finding: while another one is late but not yet over its limit, the first waits for it.
/// PDOs of a node without heartbeat count once their clock makes them come (<see cref="IdentifierState.IsByClock"/>), and from a start or from SYNC's return on.
/// Excused: a bus on which not everybody got through (<see cref="Hindrance"/>), a reset or a download that was commanded (30 s), a heartbeat switched off by a write, a pause of the whole bus, and a node that loses its power by
/// an output of its own site: the first time it stops just after an output went off it is told as a note, and once it came back with that output it is a habit.
/// A node that stops as its module is given another address (LSS, CiA 305), which then begins to be used, is told as a note.
/// Lost frames: the silence counts from the moment the record is whole again, so with frames being lost all the time nobody is called silent.
/// Who wasn't heard since a file of a trace began isn't judged by what another file had of it.
/// A node that is unstable is one finding, node.unstable: its further leavings count there, and silence is said again only once it lasts well beyond its habit.
/// Where frames go missing unreported the limit grows with their ratio (<see cref="LossEstimate"/>).
/// Of a node without anything regular only that can be noticed: that it no longer answers commands, where it did nearly always (<see cref="CommandAnswers"/>): three in a
/// row, for two outputs at least. Otherwise its silence can't be noticed, and the report says so.
/// </summary>
internal sealed class SilenceDetector(Bus bus, UnstableDetector unstable)
{
    /// <summary>Outputs act on the supply of others within this time; contactors take 50 ms, power supplies hold for up to 2 s (common practice, no source).</summary>
    private static readonly TimeSpan PowerWindow = TimeSpan.FromSeconds(3);

    /// <summary>From power to boot-up (common practice, no source).</summary>
    private static readonly TimeSpan BootWindow = TimeSpan.FromSeconds(15);

    /// <summary>A module that was given an address uses it from its next start on, which is commanded soon after (common practice, no source).</summary>
    private static readonly TimeSpan RenumberWindow = TimeSpan.FromMinutes(2);

    /// <summary>Frames in bursts are regular too, a millisecond apart; a cyclic sender fills its time with its period.</summary>
    private const double LeastCyclicShare = 0.5;

    /// <summary>Nobody says that an identifier of an unknown protocol may not pause, so it gets three times as long.</summary>
    private const double WithoutProtocol = 3;

    /// <summary>An unstable node that stays away so many times longer than ever before, and at least so long, has stopped.</summary>
    private const double BeyondHabit = 3;
    private const double LeastBeyondHabitSeconds = 120;

    private readonly List<(int Node, int Output, Instant Time, bool Active)> _switchings = [];
    private readonly Dictionary<int, OutputState> _outputs = [];

    /// <summary>Nodes that are silent since an output went off, and which output that was.</summary>
    private readonly SortedDictionary<byte, int> _dark = [];
    private readonly Dictionary<int, (int Node, int Output, bool Confirmed)> _poweredBy = [];
    private readonly List<(Subject Subject, HashSet<int> Missing)> _open = [];
    private readonly HashSet<IdentifierState> _silentIdentifiers = [];
    private readonly List<NodeState> _overdue = [];
    private int _addressAsked;
    private (int Address, Instant Time) _addressGiven = (0, Instant.MinValue);

    /// <summary>Unstable nodes that left again, of which nothing was said yet.</summary>
    private readonly HashSet<NodeState> _heldBack = [];
    private readonly double[] _longestAbsence = new double[PerNode.Count];

    private sealed class OutputState
    {
        public bool Active;
        public Instant Since;

        /// <summary>Nodes, one bit each, that were heard while it was off, so that it can't be what feeds them.</summary>
        public UInt128 HeardWithout;
    }

    public void OnOutput(Instant time, byte node, int output, bool active)
    {
        int key = (node << 8) | output;
        if (!_outputs.TryGetValue(key, out OutputState? state))
        {
            if (_outputs.Count >= Limits.Inputs)
            {
                return;
            }

            _outputs.Add(key, state = new() { Active = !active, Since = time });
        }

        if (state.Active == active)
        {
            // The command and its read-back tell the same switching.
            return;
        }

        if (active)
        {
            foreach (NodeState known in bus.Nodes)
            {
                state.HeardWithout |= known.LastHeard - state.Since > PowerWindow ? UInt128.One << known.Address : 0;
            }
        }

        state.Active = active;
        state.Since = time;
        if (_switchings.Count == 64)
        {
            _switchings.RemoveAt(0);
        }

        _switchings.Add((node, output, time, active));
    }

    public void OnSecond(Instant now)
    {
        if (bus.Protocol.IsCanOpen)
        {
            JudgeDark(now);
            JudgeNodes(now);
        }
        else
        {
            JudgeIdentifiers(now);
        }
    }

    /// <summary>The node was silent and is heard again.</summary>
    public void OnReturned(NodeState node, Instant time)
    {
        _heldBack.Remove(node);
        _longestAbsence[node.Address] = Math.Max(_longestAbsence[node.Address], time.SecondsSince(node.LastHeard));
        bool cameWithoutIt = _dark.Remove(node.Address, out int key) && _outputs[key] is { Active: false } feeder && time - feeder.Since > PowerWindow;
        if (cameWithoutIt)
        {
            // It came back while that output is off, so it was silent for another reason.
            _outputs[key].HeardWithout |= UInt128.One << node.Address;
            _poweredBy.Remove(node.Address);
            if (bus.Book.Find(Catalogue.NodeSilent, bus.Name, OpenSubjectOf(node.Address)) is { End: null } told)
            {
                TellStopped(told, [node]);
            }

            unstable.OnLeft(node, time);
        }

        for (int i = _open.Count - 1; i >= 0; i--)
        {
            (Subject subject, HashSet<int> missing) = _open[i];
            if (!missing.Remove(node.Address))
            {
                continue;
            }

            Finding? finding = bus.Book.Find(Catalogue.NodeSilent, bus.Name, subject);
            finding?.AddEvidence(time, Say($"{bus.Names.Node(node.Address)} is heard again."));
            if (missing.Count == 0)
            {
                bus.Book.Close(Catalogue.NodeSilent, bus.Name, subject, time);
                _open.RemoveAt(i);
            }
        }

        if (_poweredBy.TryGetValue(node.Address, out (int Node, int Output, bool Confirmed) switchedBy)
            && _switchings.Exists(entry => entry.Node == switchedBy.Node && entry.Output == switchedBy.Output && entry.Active && time - entry.Time < BootWindow))
        {
            _poweredBy[node.Address] = switchedBy with { Confirmed = true };
        }
    }

    private void JudgeNodes(Instant now)
    {
        foreach (NodeState node in _heldBack.ToArray())
        {
            if (now.SecondsSince(Reference(node)) > Math.Max(LeastBeyondHabitSeconds, BeyondHabit * _longestAbsence[node.Address]))
            {
                _heldBack.Remove(node);
                TellStopped(Raise([node], now), [node]);
            }
        }

        _overdue.Clear();
        bool someoneIsLate = false;

        // PDOs that follow SYNC stop with it, and that is the doing of whoever sends SYNC.
        bool syncPauses = bus.Identifiers.Find(CanId.Base(0x080)) is { Cycle.Rhythm: Rhythm.Cyclic } sync && now.SecondsSince(sync.LastHeard) > 1.5 * sync.Cycle.PeriodSeconds;
        foreach (NodeState node in bus.Nodes)
        {
            JudgeAnswers(node, now);
            if (node.Silent || node.LastHeard < bus.Ledger.RecordedSince(bus.Index) || node.ExcusedUntil > now || (syncPauses && !node.IsSupervised) || bus.SilenceSeconds(node) is not double limit)
            {
                continue;
            }

            // Guarding only tells while somebody asks.
            bool onlyGuarded = node.HeartbeatSeconds is null && node.GuardRequests.Rhythm == Rhythm.Cyclic;
            if (onlyGuarded && now.SecondsSince(node.LastGuardRequest) > limit / 2)
            {
                continue;
            }

            // Somebody's frame behind the limit has to say that others go on, and with it comes whatever the recorder has to say of frames that it dropped.
            double quiet = now.SecondsSince(Reference(node));
            if (bus.LastFrame.SecondsSince(Reference(node)) > limit && now.SecondsSince(bus.LastFrame) < Math.Max(1, limit / 2))
            {
                _overdue.Add(node);
            }
            else if (quiet > 0.5 * limit)
            {
                someoneIsLate = true;
            }
        }

        if (_overdue.Count == 0)
        {
            return;
        }

        // Waits for the others that are late, but never longer than one more limit.
        bool canWait = _overdue.TrueForAll(node => now.SecondsSince(Reference(node)) < 2 * bus.SilenceSeconds(node)!.Value);
        if (someoneIsLate && canWait)
        {
            return;
        }

        _overdue.Sort((a, b) => a.LastHeard.CompareTo(b.LastHeard));
        for (int i = 0; i < _overdue.Count;)
        {
            NodeState first = _overdue[i];
            double together = Math.Max(1, bus.SilenceSeconds(first)!.Value / 3) + 1;
            int end = i + 1;
            while (end < _overdue.Count && _overdue[end].LastHeard.SecondsSince(first.LastHeard) <= Math.Max(together, (bus.SilenceSeconds(_overdue[end])!.Value / 3) + 1))
            {
                end++;
            }

            Report(_overdue[i..end], now);
            i = end;
        }
    }

    private void JudgeAnswers(NodeState node, Instant now)
    {
        CommandAnswers answers = node.Answers;
        answers.Settle(now);
        answers.Forget(node.IsKeptFromSending ? now : Instant.Max(node.ExcusedUntil, Instant.Max(bus.Hindrance.Until, bus.WholeSince)));
        if (node.Silent || bus.UnansweredCommandsAllowed(node) is not int allowed || answers.UnansweredInARow < allowed || !answers.AreForSeveralOutputs)
        {
            return;
        }

        node.Silent = true;
        Sentence who = bus.Names.Node(node.Address);
        Subject subject = Subject.OfNode(node.Address);
        Finding finding = bus.Book.Raise(Catalogue.NodeSilent, bus.Name, subject, answers.FirstUnanswered, now, 0.9);
        _open.Add((subject, [node.Address]));
        finding.Severity = Severity.Fault;
        finding.Tell(
            Say($"{who} no longer answers: {answers.UnansweredInARow} commands in a row had no answer, though it had answered nearly every one before."),
            Say($"{who} didn't answer commands, though it had answered nearly every one before."));
        finding.Measurements = [new("unansweredCommands", answers.UnansweredInARow, "1"), new("answeredBefore", answers.Answered, "1")];
        finding.AddEvidence(node.LastHeard, Say($"Last frame of {who}."));
        finding.AddEvidence(answers.FirstUnanswered, Say($"First command to {who} without an answer."));
        finding.Causes = CausesOfOne(isBehindDip: false);
        unstable.OnLeft(node, now);
    }

    /// <summary>Who couldn't get through (<see cref="Hindrance"/>) gets its full time again once it can.</summary>
    private Instant Reference(NodeState node) =>
        Instant.Max(
            Instant.Max(node.LastHeard, node.ExcusedUntil),
            Instant.Max(Instant.Max(bus.Hindrance.Until, node.IsSupervised ? Instant.MinValue : Instant.Max(bus.SyncSince, node.StartedAt)), Instant.Max(bus.WholeSince, bus.AliveSince)));

    private void Report(List<NodeState> nodes, Instant now)
    {
        foreach (NodeState node in nodes)
        {
            node.Silent = true;
        }

        if (nodes.Count == 1 && TellRenumbered(nodes[0], now))
        {
            return;
        }

        // One output may feed several, and several outputs may be switched off in a row; all of the group must have gone with one of them.
        bool byOutput = nodes.TrueForAll(LosesPowerByOutput);
        if (byOutput && nodes.GroupBy(node => (_poweredBy[node.Address].Node, _poweredBy[node.Address].Output)).ToArray() is { Length: > 1 } feeders)
        {
            Array.ForEach(feeders, fed => Report([.. fed], now));
            return;
        }

        if (byOutput)
        {
            foreach (NodeState node in nodes)
            {
                _dark[node.Address] = (_poweredBy[node.Address].Node << 8) | _poweredBy[node.Address].Output;
            }

            if (nodes.TrueForAll(node => _poweredBy[node.Address].Confirmed))
            {
                return;
            }
        }

        if (byOutput)
        {
            Finding finding = Raise(nodes, now);
            Sentence who = bus.Names.Nodes(nodes.Select(node => (int)node.Address));
            (int switcher, int output, bool _) = _poweredBy[nodes[0].Address];
            finding.Severity = Severity.Note;
            finding.Tell(
                Say($"{who} went silent just after {bus.Names.OutputName(switcher, output)} switched off, which may be what feeds it."),
                Say(
                    nodes.Count,
                    $"{who} was silent after {bus.Names.OutputName(switcher, output)} had switched off, which may be what feeds it.",
                    $"{who} were silent after {bus.Names.OutputName(switcher, output)} had switched off, which may be what feeds it."));
            finding.Causes = Causes.Of(
                (Cause.ConfigurationDiffers, 5, Say($"If that output feeds it, this is how the site was built.")),
                (Cause.SupplyWeak, 1, Say($"The switching may have disturbed its supply.")),
                (Cause.CableOpen, 1, Say($"It may have dropped off at that moment by chance.")));
            return;
        }

        List<NodeState> steady = nodes.FindAll(node => !unstable.IsUnstable(node));
        _heldBack.UnionWith(nodes.Except(steady));
        if (steady.Count > 0)
        {
            TellStopped(Raise(steady, now), steady);
        }

        foreach (NodeState node in nodes)
        {
            unstable.OnLeft(node, now);
        }
    }

    public void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data)
    {
        // "Configure node-ID", and the answer that it was taken over (CiA 305).
        const byte ConfigureNode = 17;
        if (data.Length < 2 || data[0] != ConfigureNode)
        {
            return;
        }

        if (isRequest)
        {
            _addressAsked = data[1];
        }
        else if (data[1] == 0 && _addressAsked is > 0 and < PerNode.Count)
        {
            _addressGiven = (_addressAsked, time);
        }
    }

    /// <summary>It stopped around the time at which a module was given another address, and that one was heard for the first time, or started, afterwards.</summary>
    private bool TellRenumbered(NodeState node, Instant now)
    {
        (int given, Instant time) = _addressGiven;
        if (time == Instant.MinValue
            || given == node.Address
            || time.SecondsSince(node.LastHeard) > (node.SilenceSeconds(LossEstimate.LeastMisses) ?? 0)
            || node.LastHeard - time > RenumberWindow
            || bus.Node(given) is not NodeState heir
            || Instant.Max(heir.FirstHeard, heir.LastBootUp) <= node.LastHeard)
        {
            return false;
        }

        Finding finding = Raise([node], now);
        finding.Severity = Severity.Note;
        finding.Tell(Say($"{bus.Names.Node(node.Address)} stopped as address {given} was given to a module and began to be used: it is probably that module."));
        finding.Causes = Causes.Of(
            (Cause.ConfigurationDiffers, 12, Say($"A module that is given another address is no longer heard under the old one.")),
            (Cause.CableOpen, 1, Say($"It may have dropped off at that moment by chance.")));
        return true;
    }

    /// <summary>Opens the finding; what it says is up to the caller.</summary>
    private Finding Raise(List<NodeState> nodes, Instant now)
    {
        Subject subject = Subject.OfNodes(nodes.Select(node => (int)node.Address));
        Instant start = nodes[0].LastHeard;
        Finding finding = bus.Book.Raise(Catalogue.NodeSilent, bus.Name, subject, start, now, 0.97);
        _open.Add((subject, [.. nodes.Select(node => (int)node.Address)]));
        double limit = bus.SilenceSeconds(nodes[0]) ?? now.SecondsSince(start);
        finding.Measurements = [new("silenceLimit", Math.Round(limit, 3), "s")];
        finding.AddEvidence(start, Say($"Last frame of {bus.Names.Node(nodes[0].Address)}; {Text.Seconds(limit)} without one is its limit."));
        return finding;
    }

    private void TellStopped(Finding finding, List<NodeState> nodes)
    {
        Sentence who = bus.Names.Nodes(nodes.Select(node => (int)node.Address));
        finding.Severity = Severity.Fault;
        if (nodes.Count == 1)
        {
            finding.Tell(Say($"{who} stopped: nothing is heard from it any more, while others go on."), Say($"{who} was silent, while others went on."));
        }
        else
        {
            finding.Tell(Say($"{who} stopped at the same moment, while others go on."), Say($"{who} were silent from the same moment on, while others went on."));
        }

        // Its last frame came before the dip, at most a period.
        Instant due = nodes[0].LastHeard + TimeSpan.FromSeconds((bus.SilenceSeconds(nodes[0]) ?? 0) / 3.5);
        bool isBehindDip = finding.AddDipBefore(bus, due, _ => Say($"{who} fell silent just then."));
        finding.Causes = nodes.Count == 1
            ? CausesOfOne(isBehindDip)
            : Causes.Of(
                (Cause.CableOpen, 5, Say($"Several that stop together share a stretch of cable behind one joint.")),
                (Cause.SupplyWeak, isBehindDip ? 20 : 4, isBehindDip ? Say($"The bus supply dipped at that moment; they may not have come up again.") : Say($"Or they share a supply.")),
                (Cause.CableIntermittent, 2, Say($"A joint that opens now and then.")))
                .AdviseTrunk();
    }

    private static IReadOnlyList<Reporting.CauseReport> CausesOfOne(bool isBehindDip) =>
        Causes.Of(
            (Cause.CableOpen, 4, Say($"Its own drop or plug may be open.")),
            (Cause.SupplyWeak, isBehindDip ? 20 : 4.5, isBehindDip ? Say($"The bus supply dipped at that moment; it may not have come up again.") : Say($"It alone may be without power.")),
            (Cause.DeviceFault, 2, Say($"The module may have stopped.")),
            (Cause.CableIntermittent, 1, Say($"A joint that opens now and then.")))
            .Advise(
                Cause.SupplyWeak,
                Say($"See whether any lamp is lit on this module; then measure the supply at its own terminals."),
                Say($"The voltage on its label. None: follow its supply pair back; there: look at its bus plug."),
                Causes.LiveCabinet);

    /// <summary>Whether the node stopped within seconds after an output of another node went off; remembers which.</summary>
    private bool LosesPowerByOutput(NodeState node)
    {
        double period = (node.SilenceSeconds(LossEstimate.LeastMisses) ?? 0) / 3.5;
        for (int i = _switchings.Count - 1; i >= 0; i--)
        {
            (int switcher, int output, Instant time, bool active) = _switchings[i];

            // Its last frame came before the power was gone, so at most a period and what its supply holds lie between.
            double after = time.SecondsSince(node.LastHeard);
            bool wasHeardWithout = (_outputs[(switcher << 8) | output].HeardWithout >> node.Address & 1) != 0;
            if (active || wasHeardWithout || switcher == node.Address || after > period + 0.5 || after < -PowerWindow.TotalSeconds)
            {
                continue;
            }

            if (!_poweredBy.TryGetValue(node.Address, out (int Node, int Output, bool Confirmed) known) || (!known.Confirmed && (known.Node, known.Output) != (switcher, output)))
            {
                _poweredBy[node.Address] = (switcher, output, false);
                return true;
            }

            if ((known.Node, known.Output) == (switcher, output))
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>A node that went with an output has to come back with it; otherwise it is silent for another reason.</summary>
    private void JudgeDark(Instant now)
    {
        foreach ((byte address, int key) in _dark.ToArray())
        {
            OutputState feeder = _outputs[key];
            if (!feeder.Active || now - Instant.Max(feeder.Since, bus.WholeSince) <= BootWindow)
            {
                continue;
            }

            _dark.Remove(address);
            Subject subject = OpenSubjectOf(address);
            bool isNew = !bus.Book.IsOpen(Catalogue.NodeSilent, bus.Name, subject);
            Finding finding = bus.Book.Raise(Catalogue.NodeSilent, bus.Name, subject, feeder.Since, now, 0.9);
            if (isNew)
            {
                _open.Add((subject, [address]));
            }

            finding.Severity = Severity.Fault;
            finding.Tell(
                Say($"{bus.Names.Node(address)} went silent when {bus.Names.OutputName(key >> 8, key & 0xFF)} switched off, and didn't come back with it."),
                Say($"{bus.Names.Node(address)} was silent: it went when {bus.Names.OutputName(key >> 8, key & 0xFF)} switched off, and didn't come back with it."));
            finding.AddEvidence(now, Say($"That output has been on again for {Text.Seconds(now.SecondsSince(feeder.Since))}; nothing was heard of the module."));
            finding.Causes = Causes.Of(
                (Cause.SupplyWeak, 3, Say($"If that output feeds it, its supply didn't come back.")),
                (Cause.CableOpen, 3, Say($"Its own drop or plug may be open.")),
                (Cause.DeviceFault, 2, Say($"The module may have stopped.")));
            unstable.OnLeft(bus.Node(address)!, now);
        }
    }

    /// <summary>What the open finding that contains this node is about; the node alone where there is none.</summary>
    private Subject OpenSubjectOf(byte address)
    {
        int index = _open.FindIndex(entry => entry.Missing.Contains(address));
        return index < 0 ? Subject.OfNode(address) : _open[index].Subject;
    }

    /// <summary>Whether the node just got its power back through an output that is known to feed it: then its boot-up was to be expected.</summary>
    public bool WasSwitchedOn(NodeState node, Instant time) =>
        _poweredBy.TryGetValue(node.Address, out (int Node, int Output, bool Confirmed) feeder)
        && feeder.Confirmed
        && _switchings.Exists(entry => entry.Node == feeder.Node && entry.Output == feeder.Output && entry.Active && time - entry.Time < BootWindow);

    /// <summary>From its first frame to its last, without the time between files.</summary>
    private double RecordedSeconds(IdentifierState identifier)
    {
        double seconds = identifier.LastHeard.SecondsSince(identifier.FirstHeard);
        return identifier.FirstHeard < bus.Ledger.RecordedSince(bus.Index) ? seconds - bus.Ledger.NotRecorded(bus.Index).TotalSeconds : seconds;
    }

    private void JudgeIdentifiers(Instant now)
    {
        foreach (IdentifierState identifier in bus.Identifiers.All)
        {
            if (_silentIdentifiers.Contains(identifier))
            {
                if (identifier.LastHeard > now - TimeSpan.FromSeconds(2))
                {
                    _silentIdentifiers.Remove(identifier);
                    bus.Book.Close(Catalogue.NodeSilent, bus.Name, Subject.OfId(identifier.Id), identifier.LastHeard);
                }

                continue;
            }

            if (identifier.Cycle.Rhythm != Rhythm.Cyclic
                || identifier.LastHeard < bus.Ledger.RecordedSince(bus.Index)
                || identifier.LastHeard - identifier.FirstHeard < IdentifierState.Habit
                || bus.Loss.MissesAllowed is not int misses
                || identifier.Cycle.SilenceSeconds(misses) is not double cyclic
                || identifier.Frames * identifier.Cycle.PeriodSeconds < LeastCyclicShare * RecordedSeconds(identifier))
            {
                continue;
            }

            double limit = Math.Max(2, WithoutProtocol * cyclic);
            double quiet = now.SecondsSince(Instant.Max(Instant.Max(identifier.LastHeard, bus.WholeSince), Instant.Max(bus.Hindrance.Until, bus.AliveSince)));
            if (quiet <= limit || now.SecondsSince(bus.LastFrame) > 0.5 || bus.Protocol.IsOpen && bus.Frames < 200)
            {
                continue;
            }

            _silentIdentifiers.Add(identifier);
            Finding finding = bus.Book.Raise(Catalogue.NodeSilent, bus.Name, Subject.OfId(identifier.Id), identifier.LastHeard, now, 0.8);
            finding.Severity = Severity.Warning;
            finding.Tell(
                Say($"The cyclic identifier {identifier.Id.ToString()} stopped, while others go on."),
                Say($"The cyclic identifier {identifier.Id.ToString()} was missing, while others went on."));
            finding.Measurements = [new("period", Math.Round(identifier.Cycle.PeriodSeconds, 6), "s"), new("silenceLimit", Math.Round(limit, 3), "s")];
            finding.AddEvidence(identifier.LastHeard, Say($"Last frame; it had come every {Text.Seconds(identifier.Cycle.PeriodSeconds)}."));
            finding.Causes = Causes.Of(
                (Cause.DeviceFault, 2, Say($"Its sender may have stopped.")),
                (Cause.CableOpen, 2, Say($"Its sender's drop may be open.")),
                (Cause.SupplyWeak, 1, Say($"Its sender may be without power.")),
                (Cause.Unknown, 4, Say($"Without knowing the protocol we can't tell whether it may stop on purpose.")));
        }
    }
}
