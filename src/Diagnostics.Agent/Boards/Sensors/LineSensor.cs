using System.Device.I2c;
using Diagnostics.Can;
using Iot.Device.Ads1115;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// Levels of CAN_H and CAN_L by an ADS1115 behind two equal dividers (data sheet SBAS444; registers from memory): three conversions one after the other, the difference of both as one among them. A conversion is
/// the mean over its whole length (a delta-sigma converter that settles within one), so at 64 samples a second a window is 15.6 ms ± 10 %: long enough to be set against the share of dominant bits in it
/// (methods.md section 8), and blind to every edge.
/// </summary>
internal sealed class LineSensor : ISensor
{
    public const int DefaultRate = 64;

    /// <summary>Slower than these a window is useless, faster too short: 8 ms are needed.</summary>
    public static readonly int[] Rates = [8, 16, 32, 64];

    private const byte ConfigurationRegister = 1;

    /// <summary>The common mode that ISO 11898-2 allows (from memory): what the finer range must take; beyond it the coarser one is used.</summary>
    private const double HighestLineVolts = 7;

    /// <summary>The converter's clock may be off by a tenth.</summary>
    private const double RateTolerance = 1.1;

    private static readonly DataRate[] BindingRates = [DataRate.SPS008, DataRate.SPS016, DataRate.SPS032, DataRate.SPS064];

    /// <summary>Full scale, and what an input takes against ground: the differential and the common-mode resistance side by side, by the data sheet's table of analog inputs (from memory).</summary>
    private static readonly (MeasuringRange Range, double Volts, double Ohms)[] Ranges =
    [
        (MeasuringRange.FS0256, 0.256, Parallel(710e3, 100e6)),
        (MeasuringRange.FS0512, 0.512, Parallel(710e3, 100e6)),
        (MeasuringRange.FS1024, 1.024, Parallel(2.4e6, 3e6)),
        (MeasuringRange.FS2048, 2.048, Parallel(4.9e6, 6e6)),
        (MeasuringRange.FS4096, 4.096, Parallel(15e6, 6e6)),
        (MeasuringRange.FS6144, 6.144, Parallel(22e6, 10e6)),
    ];

    private readonly PatientDevice _device;
    private readonly Ads1115 _part;
    private readonly LineSettings _settings;
    private readonly DataRate _rate;
    private readonly int _fine;
    private readonly int _coarse;

    /// <param name="device">Becomes this sensor's own.</param>
    /// <param name="settings">Checked.</param>
    /// <param name="pause">Waits; a conversion is waited for by the clock, not by asking for it all the time.</param>
    public LineSensor(I2cDevice device, LineSettings settings, Action<TimeSpan> pause)
    {
        _settings = settings;
        _rate = BindingRates[Array.IndexOf(Rates, settings.SamplesPerSecond)];
        _fine = Array.FindIndex(Ranges, range => range.Volts >= HighestLineVolts * settings.Divider.HighestRatio);
        _coarse = Array.FindIndex(Ranges, range => range.Volts >= settings.Supply.Volts);
        _device = new(device, TimeSpan.FromSeconds(1 / (RateTolerance * settings.SamplesPerSecond)), pause);
        _part = new(_device, Single(settings.HighInput), Ranges[_fine].Range, _rate, DeviceMode.PowerDown);
    }

    /// <summary>Pairs of inputs whose difference the part can take.</summary>
    public static bool CanSubtract(int high, int low) => Difference(high, low) is not null;

    public IReadOnlyList<SensorValue> Read(Func<Instant> now) =>
    [
        Convert(Quantity.LineDifferenceVolts, Difference(_settings.HighInput, _settings.LowInput)!.Value, now),
        Convert(Quantity.LineHighVolts, Single(_settings.HighInput), now),
        Convert(Quantity.LineLowVolts, Single(_settings.LowInput), now),
    ];

    public void Dispose() => _part.Dispose();

    private SensorValue Convert(Quantity quantity, InputMultiplexer input, Func<Instant> now)
    {
        (ElectricPotential Volts, Instant Start, Instant End, bool IsAtEnd) taken = Take(input, _fine, now);
        if (taken.IsAtEnd && _coarse > _fine)
        {
            taken = Take(input, _coarse, now);
        }

        return new(quantity, taken.Volts, taken.Start, taken.End);
    }

    private (ElectricPotential Volts, Instant Start, Instant End, bool IsAtEnd) Take(InputMultiplexer input, int range, Func<Instant> now)
    {
        Instant start = now();
        short raw = _part.ReadRaw(input, Ranges[range].Range, _rate);
        Instant end = now();
        CheckConfiguration(input, range);
        ElectricPotential volts = _settings.Divider.Line(_part.RawToVoltage(raw), ElectricResistance.FromOhms(Ranges[range].Ohms));
        return (volts, start, end, raw is short.MaxValue or short.MinValue);
    }

    /// <summary>All ones and a part that lost its supply look like converted already; what it was asked for doesn't stand there then. The highest bit says whether it converts.</summary>
    private void CheckConfiguration(InputMultiplexer input, int range)
    {
        const int SingleShot = 1;
        ushort expected = (ushort)(((int)input << 12) | ((int)Ranges[range].Range << 9) | (SingleShot << 8) | ((int)_rate << 5));
        const ushort Compared = 0x7FE0;
        if ((Registers.Read(_device, ConfigurationRegister) & Compared) != expected)
        {
            throw SensorDoubtException.NotAsSetUp();
        }
    }

    private static InputMultiplexer Single(int input) => InputMultiplexer.AIN0 + input;

    private static InputMultiplexer? Difference(int high, int low) => (high, low) switch
    {
        (0, 1) => InputMultiplexer.AIN0_AIN1,
        (0, 3) => InputMultiplexer.AIN0_AIN3,
        (1, 3) => InputMultiplexer.AIN1_AIN3,
        (2, 3) => InputMultiplexer.AIN2_AIN3,
        _ => null,
    };

    private static double Parallel(double one, double other) => one * other / (one + other);

    /// <summary>
    /// Waits after a conversion was begun until it is nearly done. The binding asks whether it is done without pause, which would keep the I2C bus from all others and a processor busy.
    /// </summary>
    private sealed class PatientDevice(I2cDevice device, TimeSpan conversion, Action<TimeSpan> pause) : I2cDevice
    {
        private const byte Begin = 0x80;

        public override I2cConnectionSettings ConnectionSettings => device.ConnectionSettings;

        public override void Read(Span<byte> buffer) => device.Read(buffer);

        public override void WriteRead(ReadOnlySpan<byte> writeBuffer, Span<byte> readBuffer) => device.WriteRead(writeBuffer, readBuffer);

        public override void Write(ReadOnlySpan<byte> buffer)
        {
            device.Write(buffer);
            if (buffer is [ConfigurationRegister, var high, _] && (high & Begin) != 0)
            {
                pause(conversion);
            }
        }

        protected override void Dispose(bool disposing)
        {
            if (disposing)
            {
                device.Dispose();
            }

            base.Dispose(disposing);
        }
    }
}
