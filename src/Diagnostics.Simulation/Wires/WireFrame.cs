using Diagnostics.Can;

namespace Diagnostics.Simulation.Wires;

/// <summary>A classic frame that a device of the simulated site wants to send. <paramref name="Data"/> holds the first byte lowest.</summary>
internal readonly record struct WireFrame(uint Id, bool IsExtended, bool IsRemote, byte DataLengthCode, ulong Data)
{
    /// <summary>Bytes on the wire: none in a remote frame; a DLC above 8 means 8. ISO 11898-1.</summary>
    public int ByteCount => IsRemote ? 0 : Math.Min((int)DataLengthCode, 8);

    /// <summary>The bits of the arbitration field as one number, first bit highest: the lower number wins. ISO 11898-1.</summary>
    public uint ArbitrationKey => IsExtended
        ? ((Id >> 18) << 21) | (1u << 20) | (1u << 19) | ((Id & 0x3FFFF) << 1) | (IsRemote ? 1u : 0u)
        : (Id << 21) | (IsRemote ? 1u << 20 : 0u);

    public byte this[int index] => (byte)(Data >> (8 * index));

    public static WireFrame Of(uint id, ReadOnlySpan<byte> data)
    {
        ulong packed = 0;
        for (int i = 0; i < data.Length; i++)
        {
            packed |= (ulong)data[i] << (8 * i);
        }

        return new(id, false, false, (byte)data.Length, packed);
    }

    public static WireFrame Of(uint id, int length, ulong data) => new(id, false, false, (byte)length, data);

    public static WireFrame RemoteRequest(uint id, byte dataLengthCode) => new(id, false, true, dataLengthCode, 0);

    public CanFrame ToCanFrame(Instant time, byte interfaceIndex)
    {
        CanId id = IsExtended ? CanId.Extended(Id) : CanId.Base(Id);
        CanFrame frame;
        if (IsRemote)
        {
            frame = CanFrame.RemoteRequest(time, id, DataLengthCode);
        }
        else
        {
            Span<byte> bytes = stackalloc byte[8];
            System.Buffers.Binary.BinaryPrimitives.WriteUInt64LittleEndian(bytes, Data);
            frame = CanFrame.Classic(time, id, bytes[..ByteCount]);
            frame.DataLengthCode = DataLengthCode;
        }

        frame.Interface = interfaceIndex;
        return frame;
    }
}
