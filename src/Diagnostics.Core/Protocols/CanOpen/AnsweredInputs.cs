using Diagnostics.Can;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Tells CANopen where nothing but process data is heard: modules without supervision, on a bus that was running when we came. Sign: a change on the
/// identifiers of digital inputs (TPDO1, CiA 401) is answered by a new command on the identifiers of outputs (RPDO), and commands come at no other
/// time. Limit: an answer comes within 100 ms; six answers and six times as many as unasked commands, from two nodes and to two nodes at least,
/// while a tenth of the time at most lies behind a change, so that chance would do it once in a million. Refused where any identifier is heard
/// that CANopen doesn't have: a layout alone is no proof, and bits of a foreign protocol must not be read as buttons.
/// Lost frames: a lost change makes an answer an unasked command, which only makes the decision later.
/// </summary>
internal sealed class AnsweredInputs
{
    private const int Needed = 6;
    private const double MostCovered = 0.1;
    private static readonly TimeSpan AnswerTime = TimeSpan.FromMilliseconds(100);

    private readonly HashSet<byte> _asking = [];
    private readonly HashSet<byte> _commanded = [];
    private Instant _start = Instant.MinValue;
    private Instant _lastChange = Instant.MinValue;
    private Instant _lastCommand = Instant.MinValue;
    private byte _changed;
    private long _changes;
    private int _answers;
    private int _unasked;
    private bool _isForeign;

    /// <summary>An identifier that was heard for the first time.</summary>
    public void OnIdentifier(Instant time, CanId id)
    {
        _start = _start == Instant.MinValue ? time : _start;
        bool isNode = (id.Value & 0x7F) != 0;
        _isForeign |= id.IsExtended || (id.Value >> 7) switch
        {
            0 or 2 => isNode && id.Value != 0x100,
            1 => false,
            <= 12 or 14 => !isNode,
            13 => true,
            _ => id.Value is not (0x7E4 or 0x7E5),
        };
    }

    public void OnInput(Instant time, byte node)
    {
        _changes += time == _lastChange ? 0 : 1;
        _lastChange = time;
        _changed = node;
    }

    /// <returns>Whether it is proof by now.</returns>
    public bool OnCommand(Instant time, byte node)
    {
        // One frame commands several outputs.
        if (time == _lastCommand)
        {
            return false;
        }

        _lastCommand = time;
        if (_lastChange == Instant.MinValue || time - _lastChange > AnswerTime)
        {
            _unasked++;
            return false;
        }

        _answers++;
        _asking.Add(_changed);
        _commanded.Add(node);
        return !_isForeign
            && _answers >= Needed * Math.Max(1, _unasked)
            && _asking.Count > 1
            && _commanded.Count > 1
            && _changes * AnswerTime.TotalSeconds <= MostCovered * time.SecondsSince(_start);
    }
}
