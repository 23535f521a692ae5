using System.Buffers;
using System.Buffers.Binary;
using System.Text;

namespace Diagnostics.Can.Traces;

/// <summary>
/// Writes pcapng, little-endian, link type 227, nanoseconds: one section, its interfaces, frames, and at the end what each interface counted.
/// Layouts as in draft-tuexen-opsawg-pcapng and LINKTYPE_CAN_SOCKETCAN (tcpdump.org): classic records of 16 bytes, FD records of 72 with the FDF flag.
/// </summary>
public sealed class PcapngWriter
{
    private const uint ExtendedFlag = 0x8000_0000;
    private const uint RemoteFlag = 0x4000_0000;
    private const uint ErrorFlag = 0x2000_0000;
    private const int ClassicRecord = 16;
    private const int FlexibleRecord = 72;
    private const int PacketHeader = 28;
    private const byte SwitchFlag = 0x01;
    private const byte PassiveFlag = 0x02;
    private const byte FlexibleFlag = 0x04;
    private const byte NanosecondResolution = 9;
    private readonly IBufferWriter<byte> _output;
    private int _interfaces;

    /// <summary>Begins the section.</summary>
    public PcapngWriter(IBufferWriter<byte> output)
    {
        _output = output;
        Span<byte> block = Begin(0x0A0D0D0A, 28);
        BinaryPrimitives.WriteUInt32LittleEndian(block[8..], 0x1A2B3C4D);
        BinaryPrimitives.WriteUInt16LittleEndian(block[12..], 1);
        BinaryPrimitives.WriteInt64LittleEndian(block[16..], -1);
        _output.Advance(block.Length);
    }

    /// <summary>Describes the next interface: the first is 0, as in <see cref="CanFrame.Interface"/>.</summary>
    /// <param name="name">As the kernel calls it.</param>
    /// <param name="bitRate">bit/s, null = not known.</param>
    public void WriteInterface(string name, int? bitRate = null)
    {
        int nameBytes = Encoding.UTF8.GetByteCount(name);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(nameBytes, TraceLimits.InterfaceNameBytes, nameof(name));
        int padded = Pad(nameBytes);
        Span<byte> block = Begin(1, 16 + 4 + padded + 8 + (bitRate is null ? 0 : 12) + 4 + 4);
        BinaryPrimitives.WriteUInt16LittleEndian(block[8..], LinkTypes.SocketCan);
        WriteOption(block[16..], 2, nameBytes);
        Encoding.UTF8.GetBytes(name, block[20..]);
        WriteOption(block[(20 + padded)..], 9, 1);
        block[24 + padded] = NanosecondResolution;
        if (bitRate is { } speed)
        {
            WriteOption(block[(28 + padded)..], 8, 8);
            BinaryPrimitives.WriteInt64LittleEndian(block[(32 + padded)..], speed);
        }

        _output.Advance(block.Length);
        _interfaces++;
    }

    /// <summary>The caller guarantees that the frame's interface was described. A time before 1970 is written as 1970: the format has no sign.</summary>
    public void Write(in CanFrame frame)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual((int)frame.Interface, _interfaces, nameof(frame));
        int record = frame.IsFlexible ? FlexibleRecord : ClassicRecord;
        bool ownHost = (frame.Flags & FrameFlags.OwnHost) != 0;
        Span<byte> block = Begin(6, PacketHeader + record + (ownHost ? 12 : 0) + 4);
        BinaryPrimitives.WriteUInt32LittleEndian(block[8..], frame.Interface);
        WriteTime(block[12..], frame.Time);
        BinaryPrimitives.WriteInt32LittleEndian(block[20..], record);
        BinaryPrimitives.WriteInt32LittleEndian(block[24..], record);
        Span<byte> can = block[PacketHeader..];
        uint word = frame.IsError
            ? ErrorFlag | (frame.ErrorClassBits & CanId.MaxExtended)
            : frame.Id.Value | (frame.Id.IsExtended ? ExtendedFlag : 0) | (frame.IsRemote ? RemoteFlag : 0);
        BinaryPrimitives.WriteUInt32BigEndian(can, word);
        can[4] = frame.IsRemote ? Math.Min(frame.DataLengthCode, (byte)8) : frame.Length;
        if (frame.IsFlexible)
        {
            can[5] = (byte)(FlexibleFlag
                | ((frame.Flags & FrameFlags.BitRateSwitch) != 0 ? SwitchFlag : 0)
                | ((frame.Flags & FrameFlags.ErrorStateIndicator) != 0 ? PassiveFlag : 0));
        }
        else if (frame.DataLengthCode > 8)
        {
            can[7] = frame.DataLengthCode;
        }

        frame.Bytes.CopyTo(can[SocketCanRecord.HeaderBytes..]);
        if (ownHost)
        {
            Span<byte> option = block[(PacketHeader + record)..];
            WriteOption(option, 2, 4);
            option[4] = 2;
        }

        _output.Advance(block.Length);
    }

    /// <summary>What an interface counted up to that time: frames received and dropped.</summary>
    public void WriteStatistics(byte index, Instant time, long received, long dropped)
    {
        Span<byte> block = Begin(5, 52);
        BinaryPrimitives.WriteUInt32LittleEndian(block[8..], index);
        WriteTime(block[12..], time);
        WriteOption(block[20..], 4, 8);
        BinaryPrimitives.WriteInt64LittleEndian(block[24..], received);
        WriteOption(block[32..], 5, 8);
        BinaryPrimitives.WriteInt64LittleEndian(block[36..], dropped);
        _output.Advance(block.Length);
    }

    private Span<byte> Begin(uint type, int length)
    {
        Span<byte> block = _output.GetSpan(length)[..length];
        block.Clear();
        BinaryPrimitives.WriteUInt32LittleEndian(block, type);
        BinaryPrimitives.WriteInt32LittleEndian(block[4..], length);
        BinaryPrimitives.WriteInt32LittleEndian(block[(length - 4)..], length);
        return block;
    }

    private static void WriteOption(Span<byte> target, ushort code, int length)
    {
        BinaryPrimitives.WriteUInt16LittleEndian(target, code);
        BinaryPrimitives.WriteUInt16LittleEndian(target[2..], (ushort)length);
    }

    private static void WriteTime(Span<byte> target, Instant time)
    {
        ulong ticks = (ulong)Math.Max(0, time.Nanoseconds);
        BinaryPrimitives.WriteUInt32LittleEndian(target, (uint)(ticks >> 32));
        BinaryPrimitives.WriteUInt32LittleEndian(target[4..], (uint)ticks);
    }

    private static int Pad(int length) => (length + 3) & ~3;
}
