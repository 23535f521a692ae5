using System.Buffers.Binary;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>ADS1115, written from its data sheet SBAS444 (registers, codes and input resistances from memory). Behind each input a divider from a line, loaded by the input itself.</summary>
internal sealed class EmulatedAds1115(EmulatedTime time) : EmulatedChip(time, 0x48)
{
    private const ushort ResetConfiguration = 0x8583;
    private const ushort Busy = 0x8000;

    private static readonly double[] FullScale = [6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256];
    private static readonly double[] DifferentialOhms = [22e6, 15e6, 4.9e6, 2.4e6, 710e3, 710e3, 710e3, 710e3];
    private static readonly double[] CommonOhms = [10e6, 6e6, 6e6, 3e6, 100e6, 100e6, 100e6, 100e6];
    private static readonly int[] SamplesPerSecond = [8, 16, 32, 64, 128, 250, 475, 860];

    private ushort _configuration = ResetConfiguration;
    private short _conversion;
    private TimeSpan _ready = time.Now;
    private TimeSpan _began = time.Now;

    /// <summary>Volts of what the dividers of the four inputs hang on, at a time.</summary>
    public Func<TimeSpan, double>[] Lines { get; } = [_ => 0, _ => 0, _ => 0, _ => 0];

    public double UpperOhms { get; set; }

    public double LowerOhms { get; set; } = double.PositiveInfinity;

    /// <summary>The converter's clock may be off by a tenth.</summary>
    public double ClockRatio { get; set; } = 1;

    /// <summary>It begins conversions and never ends one.</summary>
    public bool NeverReady { get; set; }

    /// <summary>Its supply was away for a moment.</summary>
    public void LoseSupply() => _configuration = ResetConfiguration;

    private int Gain => (_configuration >> 9) & 7;

    protected override void OnWrite(byte register, ReadOnlySpan<byte> value)
    {
        if (register != 1)
        {
            return;
        }

        _configuration = (ushort)(BinaryPrimitives.ReadUInt16BigEndian(value) & ~Busy);
        if ((value[0] & 0x80) != 0)
        {
            _began = Time.Now;
            _ready = NeverReady ? TimeSpan.MaxValue : Time.Now + TimeSpan.FromSeconds(1 / (ClockRatio * SamplesPerSecond[(_configuration >> 5) & 7]));
        }
    }

    protected override void OnRead(byte register, Span<byte> value)
    {
        bool isDone = Time.Now >= _ready;
        if (isDone && _began != _ready)
        {
            _conversion = Code((_configuration >> 12) & 7);
            _began = _ready;
        }

        BinaryPrimitives.WriteUInt16BigEndian(value, register == 0 ? (ushort)_conversion : (ushort)(_configuration | (isDone ? Busy : 0)));
    }

    private short Code(int multiplexer)
    {
        (int plus, int minus) = multiplexer switch { 0 => (0, 1), 1 => (0, 3), 2 => (1, 3), 3 => (2, 3), var single => (single - 4, -1) };
        double mean = Enumerable.Range(0, 64).Average(part => At(part));
        return (short)Math.Clamp(Math.Round(mean / FullScale[Gain] * 32768), short.MinValue, short.MaxValue);

        double At(int part)
        {
            TimeSpan moment = _began + ((_ready - _began) * ((part + 0.5) / 64));
            return Pin(plus, moment) - (minus < 0 ? 0 : Pin(minus, moment));
        }
    }

    /// <summary>The lower resistor and what the input takes stand side by side.</summary>
    private double Pin(int input, TimeSpan moment)
    {
        double below = 1 / ((1 / LowerOhms) + (1 / DifferentialOhms[Gain]) + (1 / CommonOhms[Gain]));
        return Lines[input](moment) * below / (UpperOhms + below);
    }
}
