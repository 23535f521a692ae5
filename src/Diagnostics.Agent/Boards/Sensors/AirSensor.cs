using System.Device.I2c;
using Diagnostics.Can;
using Iot.Device.Bmxx80;
using Iot.Device.Bmxx80.ReadResult;
using UnitsNet;
using static Diagnostics.Core.Wording.Wordings;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// Temperature and humidity of the air by a BME280 (data sheet BST-BME280; registers from memory), one measurement at a time, so that it doesn't warm itself. Beside the board it measures the board's warmth as well:
/// a wire's length away it is the room's.
/// </summary>
internal sealed class AirSensor : ISensor
{
    private const byte Identity = 0xD0;
    private const byte Bme280Identity = 0x60;
    private const byte HumidityCalibration4 = 0xE4;
    private const byte HumidityCalibration5 = 0xE6;

    /// <summary>The part's own range, °C.</summary>
    private const double Coldest = -40;
    private const double Hottest = 85;

    /// <summary>The converter has 20 bits of noise in its last ones: the very same pair of values a hundred times in a row, a quarter of an hour, is no measurement (common practice, no source).</summary>
    private const int MostSame = 100;

    private readonly I2cDevice _device;
    private readonly Bme280 _part;
    private readonly bool _hasHumidity;
    private (double Celsius, double Ratio)? _last;
    private int _same;

    /// <param name="device">Becomes this sensor's own.</param>
    public AirSensor(I2cDevice device)
    {
        _device = device;
        _part = new(device);

        // Two numbers of the calibration have 12 bits and a sign, which the binding (Iot.Device.Bindings 4.2.0) takes for none: where they are negative its humidity is wrong.
        _hasHumidity = (Byte(HumidityCalibration4) | Byte(HumidityCalibration5)) < 0x80;
    }

    public IReadOnlyList<SensorValue> Read(Func<Instant> now)
    {
        if (Byte(Identity) != Bme280Identity)
        {
            throw SensorDoubtException.NotAsSetUp();
        }

        Instant start = now();
        Bme280ReadResult read = _part.Read();
        Instant end = now();
        if (read is not { Temperature: { } temperature, Humidity: { } humidity } || temperature.DegreesCelsius is < Coldest or > Hottest)
        {
            throw new SensorDoubtException(Say($"it gives no temperature that this part can measure"));
        }

        (double, double) pair = (temperature.DegreesCelsius, humidity.Percent);
        _same = pair == _last ? _same + 1 : 0;
        _last = pair;
        if (_same >= MostSame)
        {
            throw new SensorDoubtException(Say($"it goes on giving its last value and measures no more"));
        }

        SensorValue celsius = new(Quantity.AirCelsius, temperature, start, end);
        return _hasHumidity ? [celsius, new(Quantity.AirHumidityRatio, Ratio.FromPercent(humidity.Percent), start, end)] : [celsius];
    }

    public void Dispose() => _part.Dispose();

    private byte Byte(byte register)
    {
        _device.WriteByte(register);
        return _device.ReadByte();
    }
}
