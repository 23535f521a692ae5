using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Core.Measuring;
using Diagnostics.Tests.Boards.Emulated;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Tests.Boards.Sensors;

public class Ina236SensorTests
{
    private readonly EmulatedTime _time = new();
    private readonly EmulatedIna236 _chip;

    public Ina236SensorTests() => _chip = new(_time);

    private Ina236Sensor Sensor(double ohms = 0.01) => new(_chip, ElectricResistance.FromOhms(ohms));

    private Dictionary<Quantity, Measurement> Read(Ina236Sensor sensor)
    {
        _time.Pass(TimeSpan.FromMilliseconds(20));
        return sensor.Read(() => _time.Line).Select(value => value.ToMeasurement()).ToDictionary(value => value.Quantity);
    }

    /// <summary>1.6 mV and 2.5 µV a step (data sheet SBOSA38, from memory); 25 mV at 10 mΩ are 2.5 A.</summary>
    [Theory]
    [InlineData(24.0, 0.025, 2.5)]
    [InlineData(48.0, -0.0000025, -0.00025)]
    [InlineData(0, 0.0819, 8.19)]
    [InlineData(12.0, -0.0819, -8.19)]
    public void VoltsAndAmperes(double volts, double shuntVolts, double amperes)
    {
        _chip.BusVolts = volts;
        _chip.ShuntVolts = shuntVolts;
        using Ina236Sensor sensor = Sensor();
        Dictionary<Quantity, Measurement> read = Read(sensor);
        Assert.Equal(volts, read[Quantity.SupplyVolts].Value, 6);
        Assert.Equal(amperes, read[Quantity.SupplyAmperes].Value, 6);
        Assert.Equal(8.244e-3, read[Quantity.SupplyVolts].End.SecondsSince(read[Quantity.SupplyVolts].Start), 6);
    }

    [Fact]
    public void MoreCurrentThanTheShuntTakesIsNotGiven()
    {
        _chip.BusVolts = 24;
        _chip.ShuntVolts = 0.1;
        using Ina236Sensor sensor = Sensor();
        Assert.Equal([Quantity.SupplyVolts], Read(sensor).Keys);
    }

    [Fact]
    public void NothingIsGivenTwiceAndAPartThatConvertsNoMoreIsDoubted()
    {
        _chip.BusVolts = 24;
        using Ina236Sensor sensor = Sensor();
        Assert.NotEmpty(Read(sensor));
        Assert.Empty(sensor.Read(() => _time.Line));
        _chip.StuckSince = _time.Now;
        Assert.Throws<SensorDoubtException>(() => Enumerable.Range(0, 100).Select(_ => Read(sensor)).ToArray());
    }

    [Fact]
    public void AllOnesAreDoubtedFromTheBeginningAndLater()
    {
        using Ina236Sensor sensor = Sensor();
        _chip.Wiring = Wiring.AllOnes;
        Assert.Throws<SensorDoubtException>(() => Read(sensor));
        Assert.Throws<SensorDoubtException>(() => Sensor());
    }

    [Fact]
    public void NoAcknowledgeIsNoAnswer()
    {
        _chip.Wiring = Wiring.NoAcknowledge;
        Assert.Throws<IOException>(() => Sensor());
    }
}
