using System.Buffers.Binary;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>INA219, written from its data sheet SBOS448 (registers, conversion times and flags from memory).</summary>
internal sealed class EmulatedIna219(EmulatedTime time) : EmulatedChip(time, 0x40)
{
    private const ushort ResetConfiguration = 0x399F;
    private const ushort ResetBit = 0x8000;
    private const ushort WideRange = 0x2000;

    private ushort _configuration = ResetConfiguration;
    private ushort _calibration;
    private TimeSpan _cleared = time.Now;

    /// <summary>At IN−, volts.</summary>
    public Func<TimeSpan, double> BusVolts { get; set; } = _ => 0;

    /// <summary>From IN+ to IN−, volts.</summary>
    public double ShuntVolts { get; set; }

    /// <summary>It goes on answering and converts no more.</summary>
    public TimeSpan? StuckSince { get; set; }

    /// <summary>Its supply was away for a moment.</summary>
    public void LoseSupply() => (_configuration, _calibration, _cleared) = (ResetConfiguration, 0, Time.Now);

    public ushort Shunt => (ushort)(short)Math.Clamp(Math.Round(ShuntVolts / 10e-6), -MostShunt, MostShunt);

    public ushort Current => (ushort)(short)(CurrentUnclamped & 0xFFFF);

    /// <summary>Data sheet: power = current × bus voltage / 5000.</summary>
    public ushort Power => (ushort)((short)Current * (BusSteps) / 5000);

    /// <summary>The bus voltage's register: steps of 4 mV from bit 3 on, bit 1 conversion ready, bit 0 overflow of the calculation.</summary>
    public ushort Bus => (ushort)((BusSteps << 3) | (IsReady ? 0b10 : 0) | (CurrentUnclamped is > short.MaxValue or < short.MinValue ? 1 : 0));

    private int CurrentUnclamped => (short)Shunt * _calibration / 4096;

    /// <summary>Gain 1, ½, ¼, ⅛: ±40 to ±320 mV in steps of 10 µV.</summary>
    private int MostShunt => 4000 << ((_configuration >> 11) & 3);

    private TimeSpan BusTime => ConversionTime((_configuration >> 7) & 0xF);

    private TimeSpan ShuntTime => ConversionTime((_configuration >> 3) & 0xF);

    private bool IsReady => Done > _cleared;

    /// <summary>When the last bus conversion ended: shunt and bus in turn.</summary>
    private TimeSpan Done
    {
        get
        {
            TimeSpan until = StuckSince ?? Time.Now;
            return TimeSpan.FromTicks(until.Ticks / (BusTime + ShuntTime).Ticks * (BusTime + ShuntTime).Ticks);
        }
    }

    /// <summary>Mean over the conversion.</summary>
    private int BusSteps
    {
        get
        {
            double mean = Enumerable.Range(0, 32).Average(part => BusVolts(Done - (BusTime * ((part + 0.5) / 32))));
            return (int)Math.Clamp(Math.Floor((mean / 0.004) + 1e-9), 0, (_configuration & WideRange) != 0 ? 8000 : 4000);
        }
    }

    private static TimeSpan ConversionTime(int bits) => TimeSpan.FromMicroseconds((bits & 8) == 0
        ? (bits & 3) switch { 0 => 84, 1 => 148, 2 => 276, _ => 532 }
        : (bits & 7) switch { 0 => 532, 1 => 1060, 2 => 2130, 3 => 4260, 4 => 8510, 5 => 17_020, 6 => 34_050, _ => 68_100 });

    protected override void OnWrite(byte register, ReadOnlySpan<byte> value)
    {
        ushort word = BinaryPrimitives.ReadUInt16BigEndian(value);
        switch (register)
        {
            case 0 when (word & ResetBit) != 0:
                LoseSupply();
                break;
            case 0:
                _configuration = word;
                _cleared = Time.Now;
                break;
            case 5:
                _calibration = (ushort)(word & 0xFFFE);
                break;
        }
    }

    protected override void OnRead(byte register, Span<byte> value)
    {
        BinaryPrimitives.WriteUInt16BigEndian(value, register switch { 0 => _configuration, 1 => Shunt, 2 => Bus, 3 => Power, 4 => Current, _ => _calibration });
        _cleared = register == 3 ? Time.Now : _cleared;
    }
}
