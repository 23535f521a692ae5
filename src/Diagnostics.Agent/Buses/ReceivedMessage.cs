using System.Runtime.InteropServices;
using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>Why bytes from a CAN socket were no frame.</summary>
internal enum ReceivedDefect : byte
{
    None = 0,

    /// <summary>Neither 16 bytes (classic) nor 72 (FD).</summary>
    UnknownSize,

    /// <summary>The length says more than the format carries.</summary>
    LengthBeyondFormat,
}

/// <summary>What came along with a frame; null where the kernel did not say.</summary>
internal readonly record struct ReceivedControl(long? SoftwareNanoseconds, long? HardwareNanoseconds, uint? DropTotal);

/// <summary>
/// Reads what a raw CAN socket hands out. Pure.
/// <code>
/// can_frame    16 bytes: identifier word 0 (u32, host order), length 4, –, –, raw DLC 7, data 8..15
/// canfd_frame  72 bytes: identifier word 0 (u32, host order), length 4, flags 5, –, –,    data 8..71
/// control      cmsghdr (size_t length, int level, int type), payload, padded to size_t
/// </code>
/// Sources: linux/can.h, Documentation/networking/can.rst ("the length that was read tells the kind"), Documentation/networking/timestamping.rst.
/// </summary>
internal static class ReceivedMessage
{
    internal const int ClassicSize = 16;
    internal const int FlexibleSize = 72;

    /// <summary>Room for 48 bytes of stamps and 4 of drops, each with its header and padding.</summary>
    internal const int ControlCapacity = 128;

    /// <summary>MSG_DONTROUTE: the frame was made on this host (can.rst).</summary>
    internal const int MadeOnThisHost = 0x4;

    private const int LengthOffset = 4;
    private const int FlagsOffset = 5;
    private const int RawCodeOffset = 7;
    private const int DataOffset = 8;

    private const uint RemoteFlag = 0x4000_0000;
    private const uint ErrorFlag = 0x2000_0000;
    private const byte BitRateSwitchFlag = 0x01;
    private const byte ErrorStateFlag = 0x02;

    private const long NanosecondsPerSecond = 1_000_000_000;

    /// <summary>The time and the interface are left for the caller to set.</summary>
    internal static ReceivedDefect TryReadFrame(ReadOnlySpan<byte> bytes, int messageFlags, out CanFrame frame)
    {
        frame = default;
        if (bytes.Length is not (ClassicSize or FlexibleSize))
        {
            return ReceivedDefect.UnknownSize;
        }

        bool flexible = bytes.Length == FlexibleSize;
        byte length = bytes[LengthOffset];
        if (length > bytes.Length - DataOffset)
        {
            return ReceivedDefect.LengthBeyondFormat;
        }

        uint word = MemoryMarshal.Read<uint>(bytes);
        FrameFlags flags = (messageFlags & MadeOnThisHost) != 0 ? FrameFlags.OwnHost : FrameFlags.None;
        if ((word & ErrorFlag) != 0)
        {
            frame = CanFrame.ErrorReport(default, word, bytes.Slice(DataOffset, 8));
            frame.Flags |= flags;
            return ReceivedDefect.None;
        }

        frame.Id = CanId.FromSocketCan(word);
        if (flexible)
        {
            flags |= FrameFlags.Flexible;
            flags |= (bytes[FlagsOffset] & BitRateSwitchFlag) != 0 ? FrameFlags.BitRateSwitch : FrameFlags.None;
            flags |= (bytes[FlagsOffset] & ErrorStateFlag) != 0 ? FrameFlags.ErrorStateIndicator : FrameFlags.None;
            frame.DataLengthCode = CodeOfLength(length);
        }
        else
        {
            // A classic frame may be sent with a code of 9 to 15 and still carries eight bytes (CAN_CTRLMODE_CC_LEN8_DLC).
            byte rawCode = bytes[RawCodeOffset];
            frame.DataLengthCode = length == 8 && rawCode is > 8 and <= 15 ? rawCode : length;
        }

        if (!flexible && (word & RemoteFlag) != 0)
        {
            frame.Flags = flags | FrameFlags.Remote;
            return ReceivedDefect.None;
        }

        frame.Flags = flags;
        frame.Length = length;
        bytes.Slice(DataOffset, length).CopyTo(frame.Data);
        return ReceivedDefect.None;
    }

    /// <summary>Control messages that are unknown or cut short are passed over: the frame counts without them.</summary>
    internal static ReceivedControl ReadControl(ReadOnlySpan<byte> control)
    {
        int headerSize = nint.Size + 8;
        long? software = null;
        long? hardware = null;
        uint? drops = null;
        while (control.Length >= headerSize)
        {
            nint stated = MemoryMarshal.Read<nint>(control);
            if (stated < headerSize || stated > control.Length)
            {
                break;
            }

            int level = MemoryMarshal.Read<int>(control[nint.Size..]);
            int type = MemoryMarshal.Read<int>(control[(nint.Size + 4)..]);
            ReadOnlySpan<byte> payload = control[headerSize..(int)stated];
            if (level == LinuxCalls.LevelSocket)
            {
                if (type is LinuxCalls.OptionTimestamping or LinuxCalls.OptionTimestampingNew && payload.Length >= 48)
                {
                    // Three time stamps of two 64-bit numbers: software, unused, hardware; all zero = there is none.
                    software = TimeOf(payload);
                    hardware = TimeOf(payload[32..]);
                }
                else if (type == LinuxCalls.OptionReceiveQueueOverflow && payload.Length >= 4)
                {
                    drops = MemoryMarshal.Read<uint>(payload);
                }
            }

            int step = ((int)stated + nint.Size - 1) & ~(nint.Size - 1);
            if (step >= control.Length)
            {
                break;
            }

            control = control[step..];
        }

        return new(software, hardware, drops);
    }

    private static long? TimeOf(ReadOnlySpan<byte> stamp)
    {
        long seconds = MemoryMarshal.Read<long>(stamp);
        long nanoseconds = MemoryMarshal.Read<long>(stamp[8..]);
        bool plausible = seconds is >= 0 and < long.MaxValue / NanosecondsPerSecond && nanoseconds is >= 0 and < NanosecondsPerSecond;
        return plausible && (seconds | nanoseconds) != 0 ? (seconds * NanosecondsPerSecond) + nanoseconds : null;
    }

    /// <summary>ISO 11898-1, DLC of CAN FD: 0–8, then 12, 16, 20, 24, 32, 48, 64 bytes. A length in between takes the next larger code.</summary>
    private static byte CodeOfLength(byte length) => length switch
    {
        <= 8 => length,
        <= 12 => 9,
        <= 16 => 10,
        <= 20 => 11,
        <= 24 => 12,
        <= 32 => 13,
        <= 48 => 14,
        _ => 15,
    };
}
