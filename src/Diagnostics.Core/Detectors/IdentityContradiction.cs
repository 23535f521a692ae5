using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;

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
                Text.Of($"Its serial number read {reading.Serial} and then {serial}, with no restart between."));
            reading.Before = reading.Serial;
            reading.Serial = serial;
        }

        reading.Time = time;
    }
}
