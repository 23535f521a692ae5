using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Core.Measuring;
using Diagnostics.Tests.Boards.Emulated;
using Iot.Device.Adc;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Tests.Boards.Sensors;

public class Ina219SensorTests
{
    private readonly EmulatedTime _time = new();
    private readonly EmulatedIna219 _chip;

    public Ina219SensorTests() => _chip = new(_time);

    private Ina219Sensor Sensor(double ohms = 0.1) => new(_chip, ElectricResistance.FromOhms(ohms));

    private Dictionary<Quantity, Measurement> Read(Ina219Sensor sensor)
    {
        _time.Pass(TimeSpan.FromMilliseconds(20));
        return sensor.Read(() => _time.Line).Select(value => value.ToMeasurement()).ToDictionary(value => value.Quantity);
    }

    /// <summary>
    /// The emulation itself against the worked example of the data sheet (SBOS448, "Programming the INA219" with its table of results; from memory): shunt 2 mΩ, a step of 1 mA, so a calibration of
    /// 0.04096 / (1 mA × 2 mΩ) = 20480; 20 mV and 11.98 V read as 07D0h and 5D98h, 2710h = 10 A, 1766h = 119.8 W.
    /// </summary>
    [Fact]
    public void TheEmulationGivesTheWorkedExampleOfTheDataSheet()
    {
        _chip.BusVolts = _ => 11.98;
        _chip.ShuntVolts = 0.020;
        using Ina219 binding = new(_chip);
        binding.Reset();
        binding.SetCalibration(20480, 0.001f);
        _time.Pass(TimeSpan.FromMilliseconds(20));
        Assert.Equal((0x07D0, 0x5D98, 0x2710, 0x1766), (_chip.Shunt, _chip.Bus & 0xFFF8, _chip.Current, _chip.Power));
        Assert.Equal(10, binding.ReadCurrent().Amperes, 3);
        Assert.Equal(11.98, binding.ReadBusVoltage().Volts, 6);
        Assert.Equal(119.8, (double)binding.ReadPower().Watts, 1);
    }

    /// <summary>Same example, through the sensor: 20 mV at 2 mΩ are 10 A (Ohm's law).</summary>
    [Fact]
    public void VoltsAndAmperesOfTheWorkedExample()
    {
        _chip.BusVolts = _ => 11.98;
        _chip.ShuntVolts = 0.020;
        using Ina219Sensor sensor = Sensor(0.002);
        Dictionary<Quantity, Measurement> read = Read(sensor);
        Assert.Equal(11.98, read[Quantity.SupplyVolts].Value, 6);
        Assert.Equal(10, read[Quantity.SupplyAmperes].Value, 6);
        Assert.Equal(8.51e-3, read[Quantity.SupplyVolts].End.SecondsSince(read[Quantity.SupplyVolts].Start), 6);
    }

    /// <summary>Steps of 4 mV over 13 bits (data sheet, bus voltage register). From 16.384 V on the highest bit is set, which the binding takes for a sign.</summary>
    [Theory]
    [InlineData(0)]
    [InlineData(11.98)]
    [InlineData(16.380)]
    [InlineData(16.384)]
    [InlineData(24)]
    [InlineData(26)]
    public void VoltsOverTheWholeRange(double volts)
    {
        _chip.BusVolts = _ => volts;
        using Ina219Sensor sensor = Sensor();
        Assert.Equal(volts, Read(sensor)[Quantity.SupplyVolts].Value, 6);
    }

    [Theory]
    [InlineData(0.319_99, 3.1999)]
    [InlineData(-0.000_01, -0.0001)]
    [InlineData(-0.319_99, -3.1999)]
    public void AmperesWithTheirSign(double shuntVolts, double amperes)
    {
        _chip.BusVolts = _ => 12;
        _chip.ShuntVolts = shuntVolts;
        using Ina219Sensor sensor = Sensor();
        Assert.Equal(amperes, Read(sensor)[Quantity.SupplyAmperes].Value, 6);
    }

    [Theory]
    [InlineData(0.4)]
    [InlineData(-0.4)]
    public void MoreCurrentThanTheShuntTakesIsNotGiven(double shuntVolts)
    {
        _chip.BusVolts = _ => 12;
        _chip.ShuntVolts = shuntVolts;
        using Ina219Sensor sensor = Sensor();
        Assert.Equal([Quantity.SupplyVolts], Read(sensor).Keys);
    }

    /// <summary>The flag of the calculation: a calibration that somebody left in the part makes the current not fit.</summary>
    [Fact]
    public void AnOverflowLeavesTheCurrentOut()
    {
        _chip.BusVolts = _ => 12;
        _chip.ShuntVolts = 0.3;
        using Ina219Sensor sensor = Sensor();
        _chip.Write([5, 0xFF, 0xFE]);
        Assert.Equal([Quantity.SupplyVolts], Read(sensor).Keys);
    }

    [Fact]
    public void WithoutAShuntThereAreVoltsOnly()
    {
        _chip.BusVolts = _ => 12;
        using Ina219Sensor sensor = Sensor(0);
        Assert.Equal([Quantity.SupplyVolts], Read(sensor).Keys);
    }

    /// <summary>A conversion is a mean: 2 ms without supply in 8.51 ms of 24 V.</summary>
    [Fact]
    public void ADipShorterThanAWindowIsTheMeanOverIt()
    {
        using Ina219Sensor sensor = Sensor();
        TimeSpan period = TimeSpan.FromMicroseconds(8510 + 532);
        TimeSpan dip = (period * 200) - TimeSpan.FromMilliseconds(4);
        _chip.BusVolts = moment => moment >= dip && moment < dip + TimeSpan.FromMilliseconds(2) ? 0 : 24;
        _time.Pass((period * 200) - _time.Now + TimeSpan.FromMilliseconds(1));
        double volts = sensor.Read(() => _time.Line)[0].ToMeasurement().Value;
        Assert.Equal(24 * (1 - (2 / 8.51)), volts, 0.5);
    }

    [Fact]
    public void NothingIsGivenTwice()
    {
        _chip.BusVolts = _ => 12;
        using Ina219Sensor sensor = Sensor();
        Assert.NotEmpty(Read(sensor));
        Assert.Empty(sensor.Read(() => _time.Line));
    }

    [Fact]
    public void APartThatConvertsNoMoreIsDoubted()
    {
        _chip.BusVolts = _ => 12;
        using Ina219Sensor sensor = Sensor();
        Assert.NotEmpty(Read(sensor));
        _chip.StuckSince = _time.Now;
        SensorDoubtException doubt = Assert.Throws<SensorDoubtException>(() => Enumerable.Range(0, 100).Select(_ => Read(sensor)).ToArray());
        Assert.Contains("measures no more", doubt.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void ASteadySupplyIsNoPartThatIsStuck()
    {
        _chip.BusVolts = _ => 12;
        using Ina219Sensor sensor = Sensor();
        Assert.All(Enumerable.Range(0, 1000), _ => Assert.NotEmpty(Read(sensor)));
    }

    [Fact]
    public void AllOnesAreDoubted()
    {
        using Ina219Sensor sensor = Sensor();
        _chip.Wiring = Wiring.AllOnes;
        Assert.Contains("32.8 V", Assert.Throws<SensorDoubtException>(() => Read(sensor)).Message, StringComparison.Ordinal);
        Assert.Throws<SensorDoubtException>(() => Sensor());
    }

    [Fact]
    public void APartThatLostItsSupplyIsDoubted()
    {
        _chip.BusVolts = _ => 12;
        using Ina219Sensor sensor = Sensor();
        _chip.LoseSupply();
        Assert.Contains("lost its supply", Assert.Throws<SensorDoubtException>(() => Read(sensor)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void NoAcknowledgeIsNoAnswer()
    {
        _chip.Wiring = Wiring.NoAcknowledge;
        Assert.Throws<IOException>(() => Sensor());
    }
}
