using System.Buffers.Binary;
using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: its serial number (1018h:4) reads differently, and no boot-up lies between. One change may be an exchange whose
/// boot-up went unheard; back to the first number is no exchange. And whatever part of its identity (1018h:1-4, CiA 301) is answered in two ways within a
/// second, for nobody exchanges a module in that time.
/// Lost frames: a loss since the last reading may hide the boot-up, and then the reading only replaces the number.
/// </summary>
internal sealed class IdentityContradiction(Bus bus, DuplicateAddressDetector duplicate)
{
    private sealed class Reading
    {
        public uint Serial;
        public uint? Before;
        public Instant Time;
    }

    private const int Parts = 4;
    private static readonly TimeSpan NoExchange = TimeSpan.FromSeconds(1);

    private readonly Dictionary<byte, Reading> _readings = [];
    private readonly uint[] _answer = new uint[128 * Parts];
    private readonly Instant[] _answered = PerNode.Never(Parts);

    public void OnBootUp(NodeState node)
    {
        _readings.Remove(node.Address);
        Array.Fill(_answered, Instant.MinValue, node.Address * Parts, Parts);
    }

    /// <summary>Any answer of its SDO server. One that nobody waits for any more is an answer, too, so no conversation is asked.</summary>
    public void OnAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        // Upload, expedited (CiA 301): specifier 2, bit 1 set; object and sub-index; four bytes.
        const byte SpecifierAndExpedited = 0xE2;
        if (data.Length < 8 || (data[0] & SpecifierAndExpedited) != 0x42 || BinaryPrimitives.ReadUInt16LittleEndian(data[1..]) != 0x1018 || data[3] is 0 or > Parts)
        {
            return;
        }

        int part = (node * Parts) + data[3] - 1;
        uint value = BinaryPrimitives.ReadUInt32LittleEndian(data[4..]);
        if (_answered[part] != Instant.MinValue && value != _answer[part] && time - _answered[part] < NoExchange && _answered[part] > bus.WholeSince)
        {
            Sentence apart = Text.Seconds(time.SecondsSince(_answered[part]));
            duplicate.Add(
                Subject.OfNode(node),
                DuplicateAddressDetector.Sign.Identities,
                0.98,
                _answered[part],
                time,
                data[3] == 4
                    ? Join(Say($"Its serial number was answered as {_answer[part]} and as {value} within {apart}."), AgainstRecord(node, _answer[part], value))
                    : Say($"A part of its identity (1018h:{data[3]}) was answered as {_answer[part]} and as {value} within {apart}."));
        }

        _answer[part] = value;
        _answered[part] = time;
    }

    public void OnSerial(Instant time, NodeState node, uint serial)
    {
        if (!_readings.TryGetValue(node.Address, out Reading? reading) || bus.WholeSince > reading.Time)
        {
            _readings[node.Address] = new() { Serial = serial, Time = time };
            return;
        }

        if (serial != reading.Serial)
        {
            bool isBack = reading.Before == serial;
            duplicate.Add(
                Subject.OfNode(node.Address),
                DuplicateAddressDetector.Sign.Identities,
                isBack ? 0.98 : 0.8,
                reading.Time,
                time,
                Join(Say($"Its serial number read {reading.Serial} and then {serial}, with no restart between."), AgainstRecord(node.Address, reading.Serial, serial)));
            reading.Before = reading.Serial;
            reading.Serial = serial;
        }

        reading.Time = time;
    }

    /// <summary>Which of the two belongs here, where the as-built record tells; empty where it holds no serial number.</summary>
    private Sentence AgainstRecord(byte address, uint first, uint second)
    {
        if (bus.Names.Built(address)?.Serial is not string recorded)
        {
            return Sentence.Empty;
        }

        return (Is(recorded, first), Is(recorded, second)) switch
        {
            (true, _) => Say($"The as-built record has {first}, so {second} is the one that doesn't belong here."),
            (_, true) => Say($"The as-built record has {second}, so {first} is the one that doesn't belong here."),
            _ => Say($"The as-built record has neither: it says {recorded}."),
        };
    }

    /// <summary>A record may give the number in decimal, or as 0x… like a data sheet.</summary>
    private static bool Is(string recorded, uint serial)
    {
        string text = recorded.Trim();
        return text.StartsWith("0x", StringComparison.OrdinalIgnoreCase)
            ? uint.TryParse(text.AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out uint number) && number == serial
            : uint.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out number) && number == serial;
    }
}
