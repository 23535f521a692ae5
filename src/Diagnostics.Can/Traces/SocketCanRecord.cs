using System.Buffers.Binary;

namespace Diagnostics.Can.Traces;

/// <summary>What the capture says about the kind of frame, beside the record itself.</summary>
internal enum RecordKind : byte
{
    /// <summary>Nothing (link type 227): the record decides.</summary>
    Open,

    /// <summary>Linux cooked with protocol 0x000C.</summary>
    Classic,

    /// <summary>Linux cooked with protocol 0x000D.</summary>
    Flexible,
}

/// <summary>
/// A record of link type 227 (LINKTYPE_CAN_SOCKETCAN, tcpdump.org); the same follows the header of Linux cooked captures.
/// </summary>
/// <remarks>
/// <code>
/// 0        4     5      6     7      8
/// | id+flags | length | FD flags | reserved | DLC above 8 | payload, padding
/// </code>
/// The identifier word is big-endian (some writers leave it little-endian: the caller says which). Bit 31 = extended, 30 = remote, 29 = error.
/// A frame is FD when FDF (0x04) stands in the flags; without it a record of 72 bytes is FD and one of 16 classic. Old recorders left
/// whatever was in memory in bytes 5–7, so FDF counts only where these bytes hold nothing that they never hold; once an interface has
/// shown such garbage its flags aren't believed any more.
/// </remarks>
internal static class SocketCanRecord
{
    public const int HeaderBytes = 8;
    private const int FlexibleRecordBytes = 72;
    private const uint ExtendedFlag = 0x8000_0000;
    private const uint RemoteFlag = 0x4000_0000;
    private const uint ErrorFlag = 0x2000_0000;
    private const uint KnownErrorClasses = 0x7FF;
    private const byte SwitchFlag = 0x01;
    private const byte PassiveFlag = 0x02;
    private const byte FlexibleFlag = 0x04;
    private const byte AllFlags = SwitchFlag | PassiveFlag | FlexibleFlag;

    /// <summary>CANXL_XLF of linux/can.h, in the byte that otherwise holds the length.</summary>
    private const byte ExtraLongFlag = 0x80;

    /// <summary>Which byte order makes sense of the identifier: above 0 = big-endian only, below 0 = little-endian only, 0 = both or neither.</summary>
    public static int ByteOrderEvidence(ReadOnlySpan<byte> record)
    {
        if (record.Length < HeaderBytes)
        {
            return 0;
        }

        uint word = BinaryPrimitives.ReadUInt32BigEndian(record);
        return (IsPlausible(word) ? 1 : 0) - (IsPlausible(BinaryPrimitives.ReverseEndianness(word)) ? 1 : 0);
    }

    /// <summary>Time and interface are the caller's. <paramref name="unreliable"/> = this interface's bytes 5–7 hold garbage.</summary>
    public static TraceDamage Read(ReadOnlySpan<byte> record, bool littleEndian, RecordKind kind, ref bool unreliable, ref CanFrame frame)
    {
        if (record.Length < HeaderBytes)
        {
            return TraceDamage.RecordTooShort;
        }

        uint word = littleEndian ? BinaryPrimitives.ReadUInt32LittleEndian(record) : BinaryPrimitives.ReadUInt32BigEndian(record);
        byte length = record[4];
        byte flags = record[5];
        byte code = record[7];
        if ((flags & ~AllFlags) != 0 || record[6] != 0 || (code != 0 && code is < 9 or > 15))
        {
            unreliable = true;
        }

        if (length > 8 && (length & ExtraLongFlag) != 0 && kind == RecordKind.Open)
        {
            return TraceDamage.UnsupportedFrame;
        }

        bool flexible = kind switch
        {
            RecordKind.Classic => false,
            RecordKind.Flexible => true,
            _ => length > 8 || record.Length == FlexibleRecordBytes || ((flags & FlexibleFlag) != 0 && !unreliable),
        };
        if ((word & ErrorFlag) != 0)
        {
            if (length > 8)
            {
                return TraceDamage.PayloadLength;
            }

            if (record.Length < HeaderBytes + length)
            {
                return TraceDamage.RecordTooShort;
            }

            frame.Flags = FrameFlags.Error;
            frame.ErrorClassBits = word & CanId.MaxExtended;
            frame.Length = 8;
            frame.DataLengthCode = 8;
            record.Slice(HeaderBytes, length).CopyTo(frame.Data);
            return TraceDamage.None;
        }

        if ((word & ExtendedFlag) == 0 && (word & CanId.MaxExtended) > CanId.MaxBase)
        {
            return TraceDamage.Identifier;
        }

        frame.Id = CanId.FromSocketCan(word);
        if ((word & RemoteFlag) != 0)
        {
            if (length > 8)
            {
                return TraceDamage.PayloadLength;
            }

            frame.Flags = FrameFlags.Remote;
            frame.DataLengthCode = length == 8 && !unreliable && code > 8 ? code : length;
            return TraceDamage.None;
        }

        int dataLengthCode = flexible ? FrameLength.FlexibleCode(length) : length <= 8 ? length : -1;
        if (dataLengthCode < 0)
        {
            return TraceDamage.PayloadLength;
        }

        if (record.Length < HeaderBytes + length)
        {
            return TraceDamage.RecordTooShort;
        }

        frame.Length = length;
        frame.DataLengthCode = (byte)dataLengthCode;
        if (flexible)
        {
            frame.Flags = FrameFlags.Flexible
                | (!unreliable && (flags & SwitchFlag) != 0 ? FrameFlags.BitRateSwitch : 0)
                | (!unreliable && (flags & PassiveFlag) != 0 ? FrameFlags.ErrorStateIndicator : 0);
        }
        else if (length == 8 && code > 8 && !unreliable)
        {
            frame.DataLengthCode = code;
        }

        record.Slice(HeaderBytes, length).CopyTo(frame.Data);
        return TraceDamage.None;
    }

    private static bool IsPlausible(uint word)
    {
        uint value = word & CanId.MaxExtended;
        return (word & (ErrorFlag | ExtendedFlag | RemoteFlag)) switch
        {
            0 or RemoteFlag => value <= CanId.MaxBase,
            ErrorFlag => value <= KnownErrorClasses,
            ExtendedFlag or (ExtendedFlag | RemoteFlag) => true,
            _ => false,
        };
    }
}
