using System.Buffers.Binary;
using System.Device.I2c;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>Registers of 16 bits, the higher byte first, behind a pointer of 8: how the converters here are read beside their bindings, which don't show their flags and settings.</summary>
internal static class Registers
{
    public static ushort Read(I2cDevice device, byte register)
    {
        Span<byte> value = stackalloc byte[2];
        device.WriteRead([register], value);
        return BinaryPrimitives.ReadUInt16BigEndian(value);
    }

    public static void Write(I2cDevice device, byte register, ushort value) => device.Write([register, (byte)(value >> 8), (byte)value]);
}
