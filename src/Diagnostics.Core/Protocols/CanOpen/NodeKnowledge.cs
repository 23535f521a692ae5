using System.Text;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>One entry of 1016h: a heartbeat that the node itself watches.</summary>
internal readonly record struct WatchedHeartbeat(byte Node, ushort Milliseconds);

/// <summary>What was heard of one TPDO's settings, 180xh.</summary>
internal readonly record struct TransmitSettings(byte? TransmissionType, ushort? InhibitTimeIn100Microseconds, ushort? EventTimerMilliseconds);

/// <summary>
/// What finished SDO transfers told of one node; null = not heard. Feed it every value read from or written to the node.
/// Objects and their layout: CiA 301 (reference values 7.1); 100Ch, 100Dh and 1800h from memory.
/// </summary>
internal sealed class NodeKnowledge
{
    private readonly TransmitSettings[] _transmit = new TransmitSettings[CanOpenLimits.PdosPerDirection];
    private readonly List<(byte SubIndex, WatchedHeartbeat Entry)> _watched = [];

    /// <summary>1000h: profile in the lower word, kinds of input and output in the upper.</summary>
    public uint? DeviceType { get; private set; }

    /// <summary>Profile number, e.g. 401 for inputs and outputs.</summary>
    public int? Profile => DeviceType is uint type ? (ushort)type : null;

    public uint? Vendor { get; private set; }

    public uint? Product { get; private set; }

    public uint? Revision { get; private set; }

    public uint? Serial { get; private set; }

    public string? DeviceName { get; private set; }

    public string? HardwareVersion { get; private set; }

    public string? FirmwareVersion { get; private set; }

    /// <summary>1017h; 0 = the node sends no heartbeat.</summary>
    public ushort? HeartbeatMilliseconds { get; private set; }

    /// <summary>100Ch; 0 = not guarded.</summary>
    public ushort? GuardTimeMilliseconds { get; private set; }

    /// <summary>100Dh: a node gives up its guardian after this many guard times.</summary>
    public byte? LifeTimeFactor { get; private set; }

    /// <summary>1016h, entries in use only, by sub-index.</summary>
    public IEnumerable<WatchedHeartbeat> WatchedHeartbeats => _watched.Select(watched => watched.Entry);

    /// <summary>180xh of TPDO <paramref name="number"/>, 1–4.</summary>
    public TransmitSettings Transmit(int number) => _transmit[number - 1];

    /// <summary>Takes one object's value; what isn't among the members above, or is shorter than the object, is ignored.</summary>
    public void Apply(ushort index, byte subIndex, ReadOnlySpan<byte> value)
    {
        switch (index, subIndex)
        {
            case (0x1000, 0):
                DeviceType = Number(value, 4) ?? DeviceType;
                break;
            case (0x1008, 0):
                DeviceName = Text(value);
                break;
            case (0x1009, 0):
                HardwareVersion = Text(value);
                break;
            case (0x100A, 0):
                FirmwareVersion = Text(value);
                break;
            case (0x100C, 0):
                GuardTimeMilliseconds = (ushort?)Number(value, 2) ?? GuardTimeMilliseconds;
                break;
            case (0x100D, 0):
                LifeTimeFactor = (byte?)Number(value, 1) ?? LifeTimeFactor;
                break;
            case (0x1016, > 0 and <= CanOpenLimits.HeartbeatConsumers):
                Watch(subIndex, Number(value, 4));
                break;
            case (0x1017, 0):
                HeartbeatMilliseconds = (ushort?)Number(value, 2) ?? HeartbeatMilliseconds;
                break;
            case (0x1018, 1):
                Vendor = Number(value, 4) ?? Vendor;
                break;
            case (0x1018, 2):
                Product = Number(value, 4) ?? Product;
                break;
            case (0x1018, 3):
                Revision = Number(value, 4) ?? Revision;
                break;
            case (0x1018, 4):
                Serial = Number(value, 4) ?? Serial;
                break;
            case ( >= 0x1800 and < 0x1800 + CanOpenLimits.PdosPerDirection, _):
                ApplyTransmit(ref _transmit[index - 0x1800], subIndex, value);
                break;
        }
    }

    private static void ApplyTransmit(ref TransmitSettings settings, byte subIndex, ReadOnlySpan<byte> value) => settings = subIndex switch
    {
        2 => settings with { TransmissionType = (byte?)Number(value, 1) ?? settings.TransmissionType },
        3 => settings with { InhibitTimeIn100Microseconds = (ushort?)Number(value, 2) ?? settings.InhibitTimeIn100Microseconds },
        5 => settings with { EventTimerMilliseconds = (ushort?)Number(value, 2) ?? settings.EventTimerMilliseconds },
        _ => settings,
    };

    /// <summary>The first <paramref name="bytes"/> bytes, little-endian; null when fewer are there.</summary>
    private static uint? Number(ReadOnlySpan<byte> value, int bytes)
    {
        if (value.Length < bytes)
        {
            return null;
        }

        uint number = 0;
        for (int i = 0; i < bytes; i++)
        {
            number |= (uint)value[i] << (8 * i);
        }

        return number;
    }

    /// <summary>
    /// Visible strings are 7-bit (CiA 301). Up to the first zero byte, whatever isn't printable ASCII as '?', so that no device can smuggle control
    /// characters into the report. Null when nothing is left.
    /// </summary>
    private static string? Text(ReadOnlySpan<byte> value)
    {
        int zero = value.IndexOf((byte)0);
        ReadOnlySpan<byte> used = zero >= 0 ? value[..zero] : value;
        StringBuilder text = new(CanOpenLimits.TextCharacters);
        foreach (byte character in used[..Math.Min(used.Length, CanOpenLimits.TextCharacters)])
        {
            text.Append(character is >= 0x20 and < 0x7F ? (char)character : '?');
        }

        string trimmed = text.ToString().Trim();
        return trimmed.Length == 0 ? null : trimmed;
    }

    /// <summary>Bits 0–15 time, 16–23 address; a time or an address of 0 switches the entry off.</summary>
    private void Watch(byte subIndex, uint? entry)
    {
        if (entry is not uint value)
        {
            return;
        }

        int place = _watched.FindIndex(watched => watched.SubIndex >= subIndex);
        place = place < 0 ? _watched.Count : place;
        if (place < _watched.Count && _watched[place].SubIndex == subIndex)
        {
            _watched.RemoveAt(place);
        }

        WatchedHeartbeat watched = new((byte)(value >> 16), (ushort)value);
        if (watched.Milliseconds != 0 && watched.Node is >= 1 and <= CanOpenLimits.HighestNode)
        {
            _watched.Insert(place, (subIndex, watched));
        }
    }
}
