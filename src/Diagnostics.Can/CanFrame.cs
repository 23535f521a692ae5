using System.Diagnostics.CodeAnalysis;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace Diagnostics.Can;

/// <summary>What kind of frame it is. Classic data frames have no flag set.</summary>
[Flags]
public enum FrameFlags : byte
{
    None = 0,

    /// <summary>Remote frame: asks for data, carries none whatever its DLC.</summary>
    Remote = 0x01,

    /// <summary>Not a frame on the wire but a SocketCAN error message (linux/can/error.h); read it with <see cref="ErrorMessage"/>.</summary>
    Error = 0x02,

    /// <summary>CAN FD format.</summary>
    Flexible = 0x04,

    /// <summary>CAN FD with the data phase at the second bit rate (BRS).</summary>
    BitRateSwitch = 0x08,

    /// <summary>CAN FD: the sender was error-passive (ESI).</summary>
    ErrorStateIndicator = 0x10,

    /// <summary>Sent by this host (MSG_DONTROUTE), so heard back rather than received.</summary>
    OwnHost = 0x20,
}

/// <summary>Room for the payload of one frame: 8 bytes classic, up to 64 FD.</summary>
[InlineArray(Capacity)]
public struct Payload
{
    public const int Capacity = 64;
    private byte _first;
}

/// <summary>
/// One frame or error message as received: a plain value of 88 bytes, so batches of them can be pooled and no frame allocates.
/// The time stamp is taken as the end of the frame.
/// </summary>
public struct CanFrame
{
    public Instant Time;
    public CanId Id;

    /// <summary>SocketCAN's error class bits when <see cref="FrameFlags.Error"/> is set, otherwise 0.</summary>
    public uint ErrorClassBits;
    public FrameFlags Flags;

    /// <summary>Bytes of payload present: 0–8 classic, 0–64 FD. 0 for a remote frame.</summary>
    public byte Length;

    /// <summary>The data length code as sent, 0–15; a remote frame's DLC says how much it asks for.</summary>
    public byte DataLengthCode;

    /// <summary>Index of the interface within the source.</summary>
    public byte Interface;

    public Payload Data;

    public readonly bool IsRemote => (Flags & FrameFlags.Remote) != 0;

    public readonly bool IsError => (Flags & FrameFlags.Error) != 0;

    public readonly bool IsFlexible => (Flags & FrameFlags.Flexible) != 0;

    /// <summary>The payload that is present.</summary>
    [UnscopedRef]
    public readonly ReadOnlySpan<byte> Bytes => ((ReadOnlySpan<byte>)Data)[..Length];

    /// <summary>The first eight bytes as one little-endian number; bytes that are absent read as 0.</summary>
    public readonly ulong FirstEight => MemoryMarshal.Read<ulong>(Data);

    /// <summary>A classic data frame.</summary>
    public static CanFrame Classic(Instant time, CanId id, ReadOnlySpan<byte> data)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(data.Length, 8);
        CanFrame frame = new() { Time = time, Id = id, Length = (byte)data.Length, DataLengthCode = (byte)data.Length };
        data.CopyTo(frame.Data);
        return frame;
    }

    /// <summary>A remote frame that asks for <paramref name="dataLengthCode"/> bytes.</summary>
    public static CanFrame RemoteRequest(Instant time, CanId id, byte dataLengthCode) =>
        new() { Time = time, Id = id, Flags = FrameFlags.Remote, DataLengthCode = dataLengthCode };

    /// <summary>A SocketCAN error message: class bits without the error flag, and its eight bytes of detail.</summary>
    public static CanFrame ErrorReport(Instant time, uint classBits, ReadOnlySpan<byte> detail)
    {
        CanFrame frame = new() { Time = time, Flags = FrameFlags.Error, ErrorClassBits = classBits & CanId.MaxExtended, Length = 8, DataLengthCode = 8 };
        detail[..Math.Min(8, detail.Length)].CopyTo(frame.Data);
        return frame;
    }
}
