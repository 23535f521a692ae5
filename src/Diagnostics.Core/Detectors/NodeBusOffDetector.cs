using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: a node cut itself off (bus-off), by inference. Limit: at least 28 wire errors within one second, and then exactly one node is silent that was
/// last heard before those errors ended and not since. Why 28: bus-off takes 32 damaged attempts from clean counters (TEC +8 each, limit 256,
/// ISO 11898-1), some of which may have gone unreported; and no less, since a disturbance of fewer leaves every node on the bus.
/// Only a node whose silence has been found already is considered, so its hold-back for lost frames holds here too.
/// </summary>
internal sealed class NodeBusOffDetector(Bus bus)
{
    private const int ErrorsNeeded = 28;
    private static readonly TimeSpan Near = TimeSpan.FromSeconds(2);

    private int _inSecond;
    private Instant _second = Instant.MinValue;
    private Instant _stormStart = Instant.MinValue;
    private Instant _stormEnd = Instant.MinValue;

    public void OnWireError(Instant time)
    {
        if (time - _second > TimeSpan.FromSeconds(1))
        {
            _second = time;
            _inSecond = 0;
        }

        if (++_inSecond >= ErrorsNeeded)
        {
            _stormStart = _second;
            _stormEnd = time;
        }
    }

    public void OnSecond(Instant now)
    {
        if (_stormEnd == Instant.MinValue)
        {
            return;
        }

        if (now - _stormEnd > TimeSpan.FromMinutes(10))
        {
            _stormEnd = Instant.MinValue;
            return;
        }

        NodeState? only = null;
        foreach (NodeState node in bus.Nodes)
        {
            if (!node.Silent || node.LastHeard > _stormEnd || _stormStart - node.LastHeard > Near + TimeSpan.FromSeconds(bus.SilenceSeconds(node) ?? 0))
            {
                continue;
            }

            if (only is not null)
            {
                return;
            }

            only = node;
        }

        if (only is null || bus.Book.IsOpen(Catalogue.BusOff, bus.Name, Subject.OfNode(only.Address)))
        {
            return;
        }

        Finding finding = bus.Book.Raise(Catalogue.BusOff, bus.Name, Subject.OfNode(only.Address), _stormStart, now, 0.85);
        finding.Tell(Say($"{bus.Names.Node(only.Address)} probably cut itself off (bus-off): its frames were damaged again and again, then it was silent."));
        finding.AddEvidence(_stormStart, Say($"{ErrorsNeeded} errors or more within a second, and this node wasn't heard since."));
        finding.Causes = Causes.Of(
            (Cause.CableIntermittent, 4, Say($"Bits that are damaged only for this node point to its own drop.")),
            (Cause.CableShort, 2, Say($"A short for tens of milliseconds is enough.")),
            (Cause.DeviceFault, 2, Say($"Its transceiver or oscillator may be faulty.")),
            (Cause.AddressSetTwice, 1, Say($"Collisions with another module on its address end here too.")),
            (Cause.BitRateWrong, 1, Say($"A bit rate that is slightly off does the same.")));
        _stormEnd = Instant.MinValue;
    }

    /// <summary>The node was heard again.</summary>
    public void OnReturned(NodeState node, Instant time) => bus.Book.Close(Catalogue.BusOff, bus.Name, Subject.OfNode(node.Address), time);
}
