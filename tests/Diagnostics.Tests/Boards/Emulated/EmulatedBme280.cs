using System.Buffers.Binary;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>BME280, written from its data sheet BST-BME280-DS002 (registers from memory). What the converters give is set; a measurement is done at once when it is asked for.</summary>
internal sealed class EmulatedBme280 : EmulatedChip
{
    private readonly byte[] _registers = new byte[256];

    public EmulatedBme280(EmulatedTime time)
        : base(time, 0x76)
    {
        _registers[0xD0] = 0x60;

        // The calibration of the worked example for temperature and pressure (BST-BMP280-DS001, 3.12, from memory), at 88h from the lower byte on.
        short[] words = [27504, 26435, -1000, unchecked((short)36477), -10685, 3024, 2855, 140, -7, 15500, -14600, 6000];
        for (int index = 0; index < words.Length; index++)
        {
            BinaryPrimitives.WriteInt16LittleEndian(_registers.AsSpan(0x88 + (2 * index)), words[index]);
        }

        SetHumidityCalibration(75, 362, 0, 313, 50, 30);
    }

    public int TemperatureCode { get; set; } = 519888;

    public int PressureCode { get; set; } = 415148;

    public int HumidityCode { get; set; } = 30000;

    public int Measurements { get; private set; }

    public void SetHumidityCalibration(byte h1, short h2, byte h3, short h4, short h5, sbyte h6)
    {
        _registers[0xA1] = h1;
        BinaryPrimitives.WriteInt16LittleEndian(_registers.AsSpan(0xE1), h2);
        _registers[0xE3] = h3;
        _registers[0xE4] = (byte)(h4 >> 4);
        _registers[0xE5] = (byte)((h4 & 0xF) | ((h5 & 0xF) << 4));
        _registers[0xE6] = (byte)(h5 >> 4);
        _registers[0xE7] = (byte)h6;
    }

    protected override void OnWrite(byte register, ReadOnlySpan<byte> value)
    {
        // Register and value in turn.
        for (int at = 0; ; at += 2)
        {
            Set(register, value[at]);
            if (at + 2 >= value.Length)
            {
                return;
            }

            register = value[at + 1];
        }
    }

    protected override void OnRead(byte register, Span<byte> value)
    {
        for (int index = 0; index < value.Length; index++)
        {
            value[index] = _registers[(byte)(register + index)];
        }
    }

    private void Set(byte register, byte value)
    {
        if (register == 0xE0)
        {
            if (value == 0xB6)
            {
                Array.Clear(_registers, 0xF2, 4);
                Data(0x80000, 0x80000, 0x8000);
            }

            return;
        }

        if (register is 0xF2 or 0xF4 or 0xF5)
        {
            _registers[register] = value;
        }

        bool isForced = register == 0xF4 && (value & 3) is 1 or 2;
        if (isForced)
        {
            Measurements++;
            _registers[0xF4] &= 0xFC;

            // What is skipped has a value of its own.
            Data((value >> 5) == 0 ? 0x80000 : TemperatureCode, ((value >> 2) & 7) == 0 ? 0x80000 : PressureCode, (_registers[0xF2] & 7) == 0 ? 0x8000 : HumidityCode);
        }
    }

    private void Data(int temperature, int pressure, int humidity)
    {
        Twenty(0xF7, pressure);
        Twenty(0xFA, temperature);
        BinaryPrimitives.WriteUInt16BigEndian(_registers.AsSpan(0xFD), (ushort)humidity);

        void Twenty(int at, int code)
        {
            _registers[at] = (byte)(code >> 12);
            _registers[at + 1] = (byte)(code >> 4);
            _registers[at + 2] = (byte)(code << 4);
        }
    }
}
