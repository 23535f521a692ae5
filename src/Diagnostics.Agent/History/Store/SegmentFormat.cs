using System.Buffers.Binary;
using System.Numerics;
using Diagnostics.Can;

namespace Diagnostics.Agent.History.Store;

/// <summary>
/// The bytes of one segment file, little-endian. A header of 32 bytes (mark of the format, version, series, first sequence, CRC), then records one behind the
/// other, each of 32 bytes of header (mark, length of the payload, CRC, kind, two bytes of zero, sequence, time) and its payload, filled with zeros to a multiple of 8; behind the
/// last record zeros to the end. Every byte is covered: by a CRC-32C, or by having to be zero. A record is never rewritten.
/// CRC-32C (Castagnoli), because processors compute it and it is the one of iSCSI (RFC 3720, B.4).
/// </summary>
internal static class SegmentFormat
{
    public const int Version = 1;
    public const int HeaderBytes = 32;
    public const int RecordHeaderBytes = 32;

    /// <summary>A thousand records a second for thirty thousand years. A larger one is forged, and would leave none for what comes.</summary>
    public const long LargestSequence = 1_000_000_000_000_000;

    /// <summary>"DIAGLOG" and a zero.</summary>
    private const ulong FormatMark = 0x00_47_4F_4C_47_41_49_44;

    private const uint RecordMark = 0x44_52_45_43;

    private const int Alignment = 8;

    /// <summary>How often the bytes of a segment may be read in search of the next whole record: files made to waste time end here.</summary>
    private const int SearchEffort = 16;

    /// <summary>Bytes that a record takes in the file.</summary>
    public static int SizeOf(int payloadBytes) => (RecordHeaderBytes + payloadBytes + Alignment - 1) / Alignment * Alignment;

    public static void WriteHeader(Span<byte> target, StoreSeries series, long firstSequence)
    {
        target[..HeaderBytes].Clear();
        BinaryPrimitives.WriteUInt64LittleEndian(target, FormatMark);
        BinaryPrimitives.WriteUInt16LittleEndian(target[8..], Version);
        target[10] = (byte)series;
        BinaryPrimitives.WriteInt64LittleEndian(target[16..], firstSequence);
        BinaryPrimitives.WriteUInt32LittleEndian(target[28..], Crc32C(target[..28]));
    }

    /// <param name="target">As long as <see cref="SizeOf"/> says.</param>
    /// <param name="record">What is written.</param>
    public static void WriteRecord(Span<byte> target, in StoreRecord record)
    {
        BinaryPrimitives.WriteUInt32LittleEndian(target, RecordMark);
        BinaryPrimitives.WriteInt32LittleEndian(target[4..], record.Payload.Length);
        BinaryPrimitives.WriteUInt16LittleEndian(target[12..], (ushort)record.Kind);
        target[14] = target[15] = 0;
        BinaryPrimitives.WriteInt64LittleEndian(target[16..], record.Sequence);
        BinaryPrimitives.WriteInt64LittleEndian(target[24..], record.Time.Nanoseconds);
        record.Payload.Span.CopyTo(target[RecordHeaderBytes..]);
        target[(RecordHeaderBytes + record.Payload.Length)..SizeOf(record.Payload.Length)].Clear();
        BinaryPrimitives.WriteUInt32LittleEndian(target[8..], RecordCrc(target, record.Payload.Length));
    }

    /// <summary>Reads what is whole. Damage between whole records is counted and passed over; behind the last whole record everything but zeros is a torn tail.</summary>
    public static SegmentContent Read(ReadOnlyMemory<byte> file)
    {
        ReadOnlySpan<byte> bytes = file.Span;
        if (bytes.Length < HeaderBytes
            || BinaryPrimitives.ReadUInt64LittleEndian(bytes) != FormatMark
            || BinaryPrimitives.ReadUInt32LittleEndian(bytes[28..]) != Crc32C(bytes[..28])
            || BinaryPrimitives.ReadInt64LittleEndian(bytes[16..]) is < 0 or > LargestSequence)
        {
            return new() { IsHeaderDamaged = true, Version = 0 };
        }

        SegmentContent content = new()
        {
            Version = BinaryPrimitives.ReadUInt16LittleEndian(bytes[8..]),
            Series = (StoreSeries)bytes[10],
            FirstSequence = BinaryPrimitives.ReadInt64LittleEndian(bytes[16..]),
        };
        if (content.Version > Version)
        {
            return content;
        }

        int position = HeaderBytes;
        int end = bytes.LastIndexOfAnyExcept((byte)0) + 1;
        long effort = (long)SearchEffort * bytes.Length;
        while (position < end)
        {
            if (TryRead(file[position..], content.Series, ref effort, out StoreRecord record, out int size))
            {
                if (record.Kind != RecordKind.Void)
                {
                    content.Records.Add(record);
                }

                position += size;
                continue;
            }

            int next = Search(file, position + Alignment, content.Series, ref effort);
            if (next < 0)
            {
                content.TornBytes = end - position;
                break;
            }

            content.Holes.Add((position, next - position));
            position = next;
        }

        content.Length = position;
        return content;
    }

    /// <summary>Check value of "123456789": E3069283 (RFC 3720, B.4, gives others of the same polynomial; this one is from memory).</summary>
    /// <param name="bytes">What is checked.</param>
    /// <param name="before">The CRC of what came before, 0 at the beginning.</param>
    public static uint Crc32C(ReadOnlySpan<byte> bytes, uint before = 0) => ~Append(~before, bytes);

    private static int Search(ReadOnlyMemory<byte> file, int from, StoreSeries series, ref long effort)
    {
        for (int position = from; position <= file.Length - RecordHeaderBytes && effort > 0; position += Alignment)
        {
            if (BinaryPrimitives.ReadUInt32LittleEndian(file.Span[position..]) == RecordMark && TryRead(file[position..], series, ref effort, out _, out _))
            {
                return position;
            }
        }

        return -1;
    }

    private static bool TryRead(ReadOnlyMemory<byte> rest, StoreSeries series, ref long effort, out StoreRecord record, out int size)
    {
        record = default;
        size = 0;
        ReadOnlySpan<byte> bytes = rest.Span;
        if (bytes.Length < RecordHeaderBytes || BinaryPrimitives.ReadUInt32LittleEndian(bytes) != RecordMark)
        {
            return false;
        }

        int length = BinaryPrimitives.ReadInt32LittleEndian(bytes[4..]);
        if (length < 0 || length > bytes.Length - RecordHeaderBytes)
        {
            return false;
        }

        // None is written so long, but for what covers a hole; what is read is held in memory by the thousand.
        if (length > RecordStore.LongestPayload && (RecordKind)BinaryPrimitives.ReadUInt16LittleEndian(bytes[12..]) != RecordKind.Void)
        {
            return false;
        }

        size = SizeOf(length);
        effort -= size;
        if (size > bytes.Length
            || bytes[14] != 0 || bytes[15] != 0
            || BinaryPrimitives.ReadInt64LittleEndian(bytes[16..]) is < 0 or > LargestSequence
            || bytes[(RecordHeaderBytes + length)..size].ContainsAnyExcept((byte)0)
            || BinaryPrimitives.ReadUInt32LittleEndian(bytes[8..]) != RecordCrc(bytes, length))
        {
            return false;
        }

        record = new(
            series,
            (RecordKind)BinaryPrimitives.ReadUInt16LittleEndian(bytes[12..]),
            BinaryPrimitives.ReadInt64LittleEndian(bytes[16..]),
            new Instant(BinaryPrimitives.ReadInt64LittleEndian(bytes[24..])),
            rest.Slice(RecordHeaderBytes, length));
        return true;
    }

    /// <summary>Over the length, and from the kind to the end of the payload: all but the mark and the CRC itself.</summary>
    private static uint RecordCrc(ReadOnlySpan<byte> record, int payloadBytes) =>
        ~Append(Append(~0u, record[4..8]), record[12..(RecordHeaderBytes + payloadBytes)]);

    private static uint Append(uint crc, ReadOnlySpan<byte> bytes)
    {
        for (; bytes.Length >= sizeof(ulong); bytes = bytes[sizeof(ulong)..])
        {
            crc = BitOperations.Crc32C(crc, BinaryPrimitives.ReadUInt64LittleEndian(bytes));
        }

        foreach (byte next in bytes)
        {
            crc = BitOperations.Crc32C(crc, next);
        }

        return crc;
    }
}

/// <summary>What a segment file holds.</summary>
internal sealed class SegmentContent
{
    public int Version { get; init; }

    public StoreSeries Series { get; init; }

    public long FirstSequence { get; init; }

    public List<StoreRecord> Records { get; } = [];

    /// <summary>The file isn't a segment, or its first bytes are damaged: nothing of it can be trusted.</summary>
    public bool IsHeaderDamaged { get; init; }

    /// <summary>Stretches between whole records that are none, multiples of 8 bytes.</summary>
    public List<(int Position, int Length)> Holes { get; } = [];

    /// <summary>Bytes behind the last whole record that are no record and not zero: a write that the cut tore.</summary>
    public int TornBytes { get; set; }

    /// <summary>Bytes up to the end of the last whole record.</summary>
    public int Length { get; set; }
}
