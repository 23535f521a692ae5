using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Core.Measuring;
using Diagnostics.Tests.Boards.Emulated;
using Iot.Device.Ads1115;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Tests.Boards.Sensors;

public class LineSensorTests
{
    private readonly EmulatedTime _time = new();
    private readonly EmulatedAds1115 _chip;
    private readonly Divider _divider = new(ElectricResistance.FromOhms(91_000), ElectricResistance.FromOhms(10_000), 0.001);

    public LineSensorTests() => _chip = new(_time) { UpperOhms = 91_000, LowerOhms = 10_000 };

    private LineSensor Sensor(int rate = 64) => new(_chip, new(0x48, ElectricPotential.FromVolts(3.3), rate, 0, 1, _divider), _time.Pass);

    private Dictionary<Quantity, Measurement> Read(LineSensor sensor) => sensor.Read(() => _time.Line).Select(value => value.ToMeasurement()).ToDictionary(value => value.Quantity);

    /// <summary>The table of ideal output codes of the data sheet (SBAS444, from memory): full scale gives 7FFFh, one step 0001h, minus one step FFFFh, minus full scale 8000h.</summary>
    [Theory]
    [InlineData(4.096, 0x7FFF)]
    [InlineData(4.096 / 32768, 0x0001)]
    [InlineData(0, 0)]
    [InlineData(-4.096 / 32768, 0xFFFF)]
    [InlineData(-4.096, 0x8000)]
    public void TheEmulationGivesTheCodesOfTheDataSheet(double volts, int code)
    {
        _chip.UpperOhms = 0;
        _chip.Lines[0] = _ => volts;
        using Ads1115 binding = new(_chip, InputMultiplexer.AIN0, MeasuringRange.FS4096, DataRate.SPS128, DeviceMode.PowerDown);
        Assert.Equal(unchecked((short)code), binding.ReadRaw());
    }

    /// <summary>The usual levels of ISO 11898-2: recessive 2.5 V on both, dominant 3.5 V and 1.5 V. The emulated input loads the divider as the real one does, so the correction for it is tested, too; a step is 0.3 mV at the line.</summary>
    [Theory]
    [InlineData(2.5, 2.5)]
    [InlineData(3.5, 1.5)]
    [InlineData(7, 7)]
    [InlineData(0, 0)]
    [InlineData(-2, -2)]
    public void LevelsAreThoseOfTheLines(double high, double low)
    {
        _chip.Lines[0] = _ => high;
        _chip.Lines[1] = _ => low;
        using LineSensor sensor = Sensor();
        Dictionary<Quantity, Measurement> read = Read(sensor);
        Assert.Equal(high, read[Quantity.LineHighVolts].Value, 0.002);
        Assert.Equal(low, read[Quantity.LineLowVolts].Value, 0.002);
        Assert.Equal(high - low, read[Quantity.LineDifferenceVolts].Value, 0.002);
    }

    /// <summary>Beyond the fine range, as on a line that touches the supply, the coarse one is used.</summary>
    [Fact]
    public void ALineAtTheSupplyIsStillMeasured()
    {
        _chip.Lines[0] = _ => 24;
        _chip.Lines[1] = _ => 2.5;
        using LineSensor sensor = Sensor();
        Dictionary<Quantity, Measurement> read = Read(sensor);
        Assert.Equal(24, read[Quantity.LineHighVolts].Value, 0.01);
        Assert.Equal(21.5, read[Quantity.LineDifferenceVolts].Value, 0.01);
    }

    /// <summary>A window is the conversion and nothing else, so that it can be set against the traffic in it: here the line is dominant in it for a quarter of the time.</summary>
    [Theory]
    [InlineData(64, 1.0)]
    [InlineData(64, 0.9)]
    [InlineData(64, 1.1)]
    [InlineData(8, 1.0)]
    public void AWindowIsOneConversionAndItsMean(int rate, double clock)
    {
        _chip.ClockRatio = clock;
        TimeSpan bit = TimeSpan.FromMicroseconds(8);
        _chip.Lines[0] = moment => moment.Ticks / bit.Ticks % 4 == 0 ? 3.5 : 2.5;
        _chip.Lines[1] = moment => moment.Ticks / bit.Ticks % 4 == 0 ? 1.5 : 2.5;
        using LineSensor sensor = Sensor(rate);
        Measurement difference = Read(sensor)[Quantity.LineDifferenceVolts];
        double conversion = 1 / (rate * clock);
        Assert.InRange(difference.End.SecondsSince(difference.Start), conversion, conversion + 0.003);
        Assert.True(difference.End.SecondsSince(difference.Start) >= 0.008);
        Assert.Equal(0.5, difference.Value, 0.2);
    }

    [Fact]
    public void AConversionIsNotAskedForAllTheTime()
    {
        using LineSensor sensor = Sensor();
        int before = _chip.Writes;
        Read(sensor);
        Assert.InRange(_chip.Writes - before, 9, 40);
    }

    [Fact]
    public void APartThatIsNeverReadyIsNoAnswer()
    {
        using LineSensor sensor = Sensor();
        _chip.NeverReady = true;
        Assert.Throws<TimeoutException>(() => Read(sensor));
        _chip.NeverReady = false;
    }

    [Fact]
    public void AllOnesAreDoubted()
    {
        using LineSensor sensor = Sensor();
        _chip.Wiring = Wiring.AllOnes;
        Assert.Throws<SensorDoubtException>(() => Read(sensor));
    }

    /// <summary>It loses it between the conversion and the look at its settings: then what was read is worth nothing.</summary>
    [Fact]
    public void APartThatLostItsSupplyIsDoubted()
    {
        using LineSensor sensor = Sensor();
        int calls = 0;
        Assert.Throws<SensorDoubtException>(() => sensor.Read(() =>
        {
            if (++calls == 2)
            {
                _chip.LoseSupply();
            }

            return _time.Line;
        }));
    }
}
