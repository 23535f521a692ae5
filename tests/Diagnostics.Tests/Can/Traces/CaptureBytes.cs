using System.Buffers.Binary;
using System.Text;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

/// <summary>Builds capture files by the drafts, in either byte order, apart from the product's own writer.</summary>
internal sealed class CaptureBytes(bool bigEndian = false)
{
    private readonly List<byte> _bytes = [];

    public byte[] ToArray() => [.. _bytes];

    public int Length => _bytes.Count;

    public CaptureBytes Raw(params byte[] bytes)
    {
        _bytes.AddRange(bytes);
        return this;
    }

    public CaptureBytes Block(uint type, params byte[][] parts)
    {
        int body = parts.Sum(part => part.Length);
        int padded = (body + 3) & ~3;
        Raw(U32(type)).Raw(U32((uint)(padded + 12)));
        foreach (byte[] part in parts)
        {
            Raw(part);
        }

        return Raw(new byte[padded - body]).Raw(U32((uint)(padded + 12)));
    }

    public CaptureBytes Section() => Block(0x0A0D0D0A, U32(0x1A2B3C4D), U16(1), U16(0), U64(ulong.MaxValue));

    public CaptureBytes Interface(string? name, int linkType = 227, byte? resolution = null, long? offset = null) => Block(
        1,
        U16((ushort)linkType),
        U16(0),
        U32(0),
        name == null ? [] : Option(2, Encoding.UTF8.GetBytes(name)),
        resolution == null ? [] : Option(9, [resolution.Value]),
        offset == null ? [] : Option(14, U64((ulong)offset.Value)),
        Option(0, []));

    public CaptureBytes Packet(uint index, ulong ticks, byte[] data, params byte[][] options) => Block(
        6, U32(index), U32((uint)(ticks >> 32)), U32((uint)ticks), U32((uint)data.Length), U32((uint)data.Length), Padded(data), [.. options.SelectMany(option => option)]);

    public CaptureBytes PcapHeader(int linkType = 227, bool nanoseconds = false) =>
        Raw(U32(nanoseconds ? 0xA1B23C4D : 0xA1B2C3D4)).Raw(U16(2)).Raw(U16(4)).Raw(U32(0)).Raw(U32(0)).Raw(U32(262144)).Raw(U32((uint)linkType));

    public CaptureBytes PcapRecord(uint seconds, uint fraction, byte[] data) =>
        Raw(U32(seconds)).Raw(U32(fraction)).Raw(U32((uint)data.Length)).Raw(U32((uint)data.Length)).Raw(data);

    public byte[] Option(ushort code, byte[] value) => [.. U16(code), .. U16((ushort)value.Length), .. Padded(value)];

    /// <summary>A record of link type 227: identifier word, length, flags, two reserved bytes, payload, cut or padded to <paramref name="size"/>.</summary>
    public static byte[] Record(uint word, byte length, byte flags, byte[] payload, int size = 0, bool littleEndianId = false)
    {
        byte[] record = new byte[size == 0 ? 8 + payload.Length : size];
        if (littleEndianId)
        {
            BinaryPrimitives.WriteUInt32LittleEndian(record, word);
        }
        else
        {
            BinaryPrimitives.WriteUInt32BigEndian(record, word);
        }

        record[4] = length;
        record[5] = flags;
        payload.CopyTo(record, 8);
        return record;
    }

    public static byte[] Classic(uint word, params byte[] payload) => Record(word, (byte)payload.Length, 0, payload);

    public byte[] U16(ushort value)
    {
        byte[] bytes = BitConverter.GetBytes(value);
        return Ordered(bytes);
    }

    public byte[] U32(uint value) => Ordered(BitConverter.GetBytes(value));

    public byte[] U64(ulong value) => Ordered(BitConverter.GetBytes(value));

    public static CollectingSink Read(byte[] bytes, out TraceParser parser, int piece = int.MaxValue)
    {
        CollectingSink sink = new();
        parser = TraceParser.Create(sink);
        for (int position = 0; position < bytes.Length; position += Math.Min(piece, bytes.Length - position))
        {
            parser.Feed(bytes.AsSpan(position, Math.Min(piece, bytes.Length - position)));
        }

        parser.Complete();
        return sink;
    }

    private byte[] Ordered(byte[] bytes)
    {
        if (bigEndian == BitConverter.IsLittleEndian)
        {
            Array.Reverse(bytes);
        }

        return bytes;
    }

    private static byte[] Padded(byte[] bytes)
    {
        byte[] padded = new byte[(bytes.Length + 3) & ~3];
        bytes.CopyTo(padded, 0);
        return padded;
    }
}
