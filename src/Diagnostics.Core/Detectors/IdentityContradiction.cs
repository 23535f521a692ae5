using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Sign of two devices on one address: its serial number (1018h:4) reads differently, and no boot-up lies between. One change may be an exchange whose
/// boot-up went unheard; back to the first number is no exchange.
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

    private readonly Dictionary<byte, Reading> _readings = [];

    public void OnBootUp(NodeState node) => _readings.Remove(node.Address);

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
