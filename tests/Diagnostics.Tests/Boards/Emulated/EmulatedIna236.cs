using System.Buffers.Binary;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>INA236, written from its data sheet SBOSA38 (registers, conversion times and flags from memory).</summary>
internal sealed class EmulatedIna236(EmulatedTime time) : EmulatedChip(time, 0x40)
{
    private const ushort ResetConfiguration = 0x4127;
    private const ushort ResetBit = 0x8000;

    private static readonly int[] Microseconds = [140, 204, 332, 588, 1100, 2116, 4156, 8244];
    private static readonly int[] Averages = [1, 4, 16, 64, 128, 256, 512, 1024];

    private ushort _configuration = ResetConfiguration;
    private ushort _calibration;
    private TimeSpan _cleared = time.Now;

    public double BusVolts { get; set; }

    public double ShuntVolts { get; set; }

    public TimeSpan? StuckSince { get; set; }

    private int ShuntSteps => (int)Math.Clamp(Math.Round(ShuntVolts / 2.5e-6), short.MinValue, short.MaxValue);

    private int CurrentSteps => ShuntSteps * _calibration / 2048;

    private TimeSpan Period => TimeSpan.FromMicroseconds(Averages[(_configuration >> 9) & 7] * (Microseconds[(_configuration >> 6) & 7] + Microseconds[(_configuration >> 3) & 7]));

    protected override void OnWrite(byte register, ReadOnlySpan<byte> value)
    {
        ushort word = BinaryPrimitives.ReadUInt16BigEndian(value);
        switch (register)
        {
            case 0:
                _configuration = (word & ResetBit) != 0 ? ResetConfiguration : word;
                _calibration = (word & ResetBit) != 0 ? (ushort)0 : _calibration;
                _cleared = Time.Now;
                break;
            case 5:
                _calibration = (ushort)(word & 0x7FFF);
                break;
        }
    }

    protected override void OnRead(byte register, Span<byte> value)
    {
        TimeSpan done = TimeSpan.FromTicks((StuckSince ?? Time.Now).Ticks / Period.Ticks * Period.Ticks);
        int flags = (done > _cleared ? 1 << 3 : 0) | (CurrentSteps is > short.MaxValue or < short.MinValue ? 1 << 2 : 0);
        int word = register switch
        {
            0 => _configuration,
            1 => ShuntSteps,
            2 => (int)Math.Clamp(Math.Round(BusVolts / 1.6e-3), 0, short.MaxValue),
            4 => CurrentSteps,
            5 => _calibration,
            6 => flags,
            0x3E => 0x5449,
            0x3F => 0xA080,
            _ => 0,
        };
        BinaryPrimitives.WriteUInt16BigEndian(value, (ushort)(word & 0xFFFF));
        _cleared = register == 6 ? Time.Now : _cleared;
    }
}
