using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Core.Measuring;
using Diagnostics.Tests.Boards.Emulated;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Tests.Boards.Sensors;

public class AirSensorTests
{
    private readonly EmulatedTime _time = new();
    private readonly EmulatedBme280 _chip;

    public AirSensorTests() => _chip = new(_time);

    private Dictionary<Quantity, Measurement> Read(AirSensor sensor) => sensor.Read(() => _time.Line).Select(value => value.ToMeasurement()).ToDictionary(value => value.Quantity);

    /// <summary>The worked example of the data sheet of its sister with the same two converters (BST-BMP280-DS001, 3.12; from memory): 519888 is 25.08 °C.</summary>
    [Fact]
    public void TheWorkedExampleOfTheDataSheet()
    {
        using AirSensor sensor = new(_chip);
        Assert.Equal(25.08, Read(sensor)[Quantity.AirCelsius].Value, 0.005);
    }

    /// <summary>Humidity against the data sheet's own arithmetic in integers (BST-BME280-DS002, 4.2.3; from memory), which shares nothing with the binding's in floating point.</summary>
    [Theory]
    [InlineData(24000)]
    [InlineData(30000)]
    [InlineData(36000)]
    [InlineData(0)]
    [InlineData(65535)]
    public void HumidityIsThatOfTheDataSheetsIntegerArithmetic(int code)
    {
        _chip.HumidityCode = code;
        using AirSensor sensor = new(_chip);
        Assert.Equal(InIntegers(128_422, code) / 1024.0 / 100, Read(sensor)[Quantity.AirHumidityRatio].Value, 0.001);
    }

    /// <summary>The binding takes two numbers of 12 bits and a sign for numbers without: such a part gives its temperature only.</summary>
    [Theory]
    [InlineData(-5, 50)]
    [InlineData(313, -5)]
    public void ACalibrationThatTheBindingMisreadsGivesNoHumidity(short h4, short h5)
    {
        _chip.SetHumidityCalibration(75, 362, 0, h4, h5, 30);
        using AirSensor sensor = new(_chip);
        Assert.Equal([Quantity.AirCelsius], Read(sensor).Keys);
    }

    [Fact]
    public void EachReadingIsAMeasurementOfItsOwn()
    {
        using AirSensor sensor = new(_chip);
        Read(sensor);
        Read(sensor);
        Assert.Equal(2, _chip.Measurements);
    }

    [Fact]
    public void TheVerySameValueForAQuarterOfAnHourIsNoMeasurement()
    {
        using AirSensor sensor = new(_chip);
        Assert.Contains("measures no more", Assert.Throws<SensorDoubtException>(() => Enumerable.Range(0, 200).Select(_ => Read(sensor)).ToArray()).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void AQuietRoomIsNoSensorThatIsStuck()
    {
        using AirSensor sensor = new(_chip);
        for (int reading = 0; reading < 1000; reading++)
        {
            // The last bits are noise.
            _chip.TemperatureCode = 519888 + (reading % 50 == 0 ? 16 : 0);
            Assert.NotEmpty(Read(sensor));
        }
    }

    [Fact]
    public void AllOnesAreDoubtedAndAnotherChipIsNotTakenForOne()
    {
        using AirSensor sensor = new(_chip);
        _chip.Wiring = Wiring.AllOnes;
        Assert.Throws<SensorDoubtException>(() => Read(sensor));
        Assert.Throws<IOException>(() => new AirSensor(_chip));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0xFFFFF)]
    public void ATemperatureThatThePartCantMeasureIsDoubted(int code)
    {
        _chip.TemperatureCode = code;
        using AirSensor sensor = new(_chip);
        Assert.Throws<SensorDoubtException>(() => Read(sensor));
    }

    private static long InIntegers(int fine, int code)
    {
        const int H1 = 75, H2 = 362, H3 = 0, H4 = 313, H5 = 50, H6 = 30;
        int x = fine - 76_800;
        x = (((code << 14) - (H4 << 20) - (H5 * x) + 16_384) >> 15) * ((((((((x * H6) >> 10) * (((x * H3) >> 11) + 32_768)) >> 10) + 2_097_152) * H2) + 8192) >> 14);
        x -= ((((x >> 15) * (x >> 15)) >> 7) * H1) >> 4;
        return Math.Clamp(x, 0, 419_430_400) >> 12;
    }
}
