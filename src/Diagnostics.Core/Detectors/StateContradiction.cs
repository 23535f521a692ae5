using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NmtState = Diagnostics.Core.Protocols.CanOpen.NodeState;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: error control reports operational and another state in turn, with no command and no boot-up between.
/// Limit: three changes within 60 s that nobody commanded. Why three: a device may leave operational by itself after an error (1029h), but it
/// doesn't come back without a command, and even then that is one change.
/// A command explains what the next report says, however long that takes to come.
/// Lost frames: a lost command would explain a change, so changes within 5 s after a loss don't count.
/// </summary>
internal sealed class StateContradiction(Bus bus, DuplicateAddressDetector duplicate)
{
    private const int ChangesNeeded = 3;
    private static readonly TimeSpan Window = TimeSpan.FromSeconds(60);
    private static readonly TimeSpan Excused = TimeSpan.FromSeconds(5);

    private readonly Instant[] _excusedAt = PerNode.Never();
    private readonly Instant[] _reported = PerNode.Never();
    private readonly Instant[] _firstChange = PerNode.Never();
    private readonly int[] _changes = new int[128];

    public void OnNetworkCommand(Instant time, byte node)
    {
        if (node == 0)
        {
            Array.Fill(_excusedAt, time);
        }
        else if (node < 128)
        {
            _excusedAt[node] = time;
        }
    }

    public void OnBootUp(Instant time, NodeState node) => _excusedAt[node.Address] = time;

    /// <summary>Called before the node takes this state as its own.</summary>
    public void OnState(Instant time, NodeState node, NmtState state)
    {
        byte address = node.Address;
        Instant reported = _reported[address];
        _reported[address] = time;
        if (node.Reported is not NmtState before || before == state || before == NmtState.Initialising)
        {
            return;
        }

        Instant excuse = Instant.Max(_excusedAt[address], bus.WholeSince);
        if (excuse != Instant.MinValue && (time - excuse < Excused || excuse > reported))
        {
            return;
        }

        if (_changes[address] == 0 || time - _firstChange[address] > Window)
        {
            _firstChange[address] = time;
            _changes[address] = 0;
        }

        if (++_changes[address] >= ChangesNeeded)
        {
            duplicate.Add(
                Findings.Subject.OfNode(address),
                DuplicateAddressDetector.Sign.States,
                0.95,
                _firstChange[address],
                time,
                Say($"Its reported state changed {_changes[address]} times within {Text.Seconds(time.SecondsSince(_firstChange[address]))} with no command and no restart between."));
        }
    }
}
