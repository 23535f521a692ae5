using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: the node itself says that it is faulty. Limit: any emergency message with an error code other than "no error" (00xxh). It lasts until the
/// node says "no error" or starts anew. Severity: fault for current, voltage, temperature, hardware and the device itself (2xxxh–5xxxh, FFxxh), warning for
/// the rest (classes: CiA 301). A device that reports and takes back in turns is one episode, as for every finding, but over whenever its last word is
/// "no error".
/// Error-passive and bus-off recovered from (8120h, 8140h) are the end of damaged frames: where the errors are laid to that node's own frames the finding follows from that one, and
/// where three nodes or more say so while frames of all are damaged, from what is found of the whole bus. The finding's start is that of its first code, so that one is told beside the latest. Lost frames: a lost reset would leave the finding open; the node's next start ends it.
/// </summary>
internal sealed class EmergencyDetector(Bus bus)
{
    // Codes of CiA 301.
    private const ushort ErrorPassive = 0x8120;
    private const ushort RecoveredFromBusOff = 0x8140;
    private const ushort ProcessDataLate = 0x8250;

    /// <summary>A module tells once it is back on the bus, which takes it up to seconds (common practice, no source).</summary>
    private static readonly TimeSpan Behind = TimeSpan.FromSeconds(10);

    /// <summary>The code that the finding of each node was first raised for: its start belongs to that one, whatever came later.</summary>
    private readonly ushort[] _first = new ushort[128];

    /// <summary>Each of three with a bad drop of its own, at the same time, is far less likely than one cause for all (common practice, no source).</summary>
    private const int OneCauseForAll = 3;

    /// <summary>What nodes said in this episode, where it was nothing but damaged frames.</summary>
    private readonly SortedDictionary<byte, Finding> _ofWire = [];

    public void OnEmergency(Instant time, byte node, ushort code, byte register)
    {
        if (!bus.Protocol.IsCanOpen)
        {
            return;
        }

        Subject subject = Subject.OfNode(node);
        if (code >> 8 == 0)
        {
            bus.Book.Close(Catalogue.ReportsFault, bus.Name, subject, time);
            return;
        }

        bool isFirst = bus.Book.Find(Catalogue.ReportsFault, bus.Name, subject) is null;
        bool isNew = !bus.Book.IsOpen(Catalogue.ReportsFault, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.ReportsFault, bus.Name, subject, time, time, 0.99);
        finding.EndIsSaid = true;
        bool isFault = code >> 12 is 2 or 3 or 4 or 5 || code >> 8 == 0xFF;
        finding.Severity = isFault || (!isNew && finding.Severity == Severity.Fault) ? Severity.Fault : Severity.Warning;
        Sentence words = CanOpenWords.Emergency(code);
        _first[node] = isFirst ? code : _first[node];
        ushort first = _first[node];
        if (code == first)
        {
            finding.Tell(
                Say($"{bus.Names.Node(node)} reports a fault of its own: {words} (code {code:X4}h)."),
                Say($"{bus.Names.Node(node)} reported a fault of its own: {words} (code {code:X4}h)."));
        }
        else
        {
            finding.Tell(
                Say($"{bus.Names.Node(node)} reports faults of its own: first {CanOpenWords.Emergency(first)} (code {first:X4}h), lately {words} (code {code:X4}h)."),
                Say($"{bus.Names.Node(node)} reported faults of its own: first {CanOpenWords.Emergency(first)} (code {first:X4}h), at last {words} (code {code:X4}h)."));
        }

        finding.AddEvidence(time, Say($"Emergency {code:X4}h, {words}; error register {register:X2}h: {CanOpenWords.ErrorRegister(register)}."));
        bool wasOfWire = _ofWire.Remove(node);
        bool isOfWire = code is ErrorPassive or RecoveredFromBusOff && (isNew || wasOfWire);
        if (isOfWire)
        {
            _ofWire.Add(node, finding);
        }

        if (!isNew && isOfWire == wasOfWire)
        {
            return;
        }

        finding.ExplainedBy = null;
        finding.Causes = (code >> 12) switch
        {
            2 => Causes.Of(
                    (Cause.CableShort, 3, Say($"Too much current at an output points to its load or the wiring of the load.")),
                    (Cause.DeviceFault, 2, Say($"Or to the output itself.")))
                .Advise(
                    Cause.CableShort,
                    Say($"Isolate, then disconnect the loads of this module one by one; compare each with the rating of its output."),
                    Say($"The message ends when the guilty load is off."),
                    Join(Causes.LiveCabinet, Causes.Switching)),
            3 => Causes.Of((Cause.SupplyWeak, 5, Say($"It measures a voltage outside its range.")), (Cause.DeviceFault, 1, Say($"Its own supply part may be failing."))),
            8 when code == RecoveredFromBusOff => Causes.Of(
                (Cause.CableIntermittent, 4, Say($"Bits that are damaged only for this node point to its own drop.")),
                (Cause.CableShort, 2, Say($"A short for tens of milliseconds is enough.")),
                (Cause.DeviceFault, 2, Say($"Its transceiver or oscillator may be faulty.")),
                (Cause.AddressSetTwice, 2, Say($"Collisions with another module on its address end here too.")),
                (Cause.BitRateWrong, 1, Say($"A bit rate that is slightly off does the same."))),
            // A message of another length than was agreed is nobody's silence: 82xxh but for the one that waits in vain.
            8 when code >> 8 == 0x82 && code != ProcessDataLate => Causes.Of(
                (Cause.ConfigurationDiffers, 5, Say($"It was set up for messages of another length or layout than those it gets.")),
                (Cause.ControllerFault, 2, Say($"The sender of these messages may have changed.")),
                (Cause.AddressSetTwice, 1, Say($"A second sender of the same messages would do it."))),
            8 => Causes.Of(
                (Cause.CableIntermittent, 2, Say($"It missed messages that it waits for.")),
                (Cause.ControllerFault, 2, Say($"The partner it watches may have stopped.")),
                (Cause.ConfigurationDiffers, 2, Say($"It may be set to wait for something that doesn't exist."))),
            _ => Causes.Of((Cause.DeviceFault, 5, Say($"It says so itself.")), (Cause.ConfigurationDiffers, 2, Say($"A setting that it can't work with shows like this too."))),
        };
    }

    public void OnSecond()
    {
        if (_ofWire.Count == 0)
        {
            return;
        }

        Finding? ofBus = ErrorsOfTheBus();
        if (ofBus is not null && _ofWire.Values.Count(finding => IsWithin(finding, ofBus)) < OneCauseForAll)
        {
            ofBus = null;
        }

        foreach ((byte node, Finding finding) in _ofWire)
        {
            Finding? ofNode = bus.Book.Find(Catalogue.NodeErrors, bus.Name, Subject.OfNode(node));
            if ((IsWithin(finding, ofNode) ? ofNode : IsWithin(finding, ofBus) ? ofBus : null) is Finding leader)
            {
                finding.ExplainedBy = leader.ExplainedBy ?? leader.Key;
                finding.Causes = leader.Causes;
            }
        }
    }

    private static bool IsWithin(Finding finding, Finding? leader) =>
        leader is not null && finding.LastEvidence >= leader.Start && (leader.End is not Instant end || finding.LastEvidence <= end + Behind);

    /// <summary>What is found of errors that aren't laid to one node.</summary>
    private Finding? ErrorsOfTheBus()
    {
        foreach (FindingKind kind in (ReadOnlySpan<FindingKind>)[Catalogue.ErrorRate, Catalogue.BitRateMismatch, Catalogue.ErrorBurst])
        {
            if (bus.Book.Find(kind, bus.Name, Subject.WholeBus) is { ExplainedBy: null } finding)
            {
                return finding;
            }
        }

        return null;
    }

    public void OnBootUp(Instant time, NodeState node) => bus.Book.Close(Catalogue.ReportsFault, bus.Name, Subject.OfNode(node.Address), time);
}
