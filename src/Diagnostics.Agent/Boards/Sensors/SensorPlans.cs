using System.Device.I2c;
using System.Globalization;
using Iot.Device.CpuTemperature;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>From the settings to the sensors that they name.</summary>
internal static class SensorPlans
{
    /// <summary>Shorter than a conversion and the readings of it, so that few are missed.</summary>
    private static readonly TimeSpan SupplyPause = TimeSpan.FromMilliseconds(6);

    /// <summary>Five rows of three windows a second: an hour gives a regression 18,000 of them.</summary>
    private static readonly TimeSpan LinePause = TimeSpan.FromMilliseconds(150);

    /// <summary>A pause and three conversions are nearly 200 ms, and heartbeats come every 100 ms or a multiple of that: spread over one whole beat, no reading stands where the one before stood.</summary>
    private static readonly TimeSpan LineSpread = TimeSpan.FromMilliseconds(50);

    /// <summary>Air and boards change within minutes.</summary>
    private static readonly TimeSpan AirPause = TimeSpan.FromSeconds(10);

    public static IReadOnlyList<SensorPlan> Of(BoardSettings settings, BoardPorts ports)
    {
        List<SensorPlan> plans = [];
        if (settings.Supply is { } supply)
        {
            plans.Add(supply.Part == SupplyPart.Ina219
                ? new(BoardEventKind.SupplySensor, Say($"Supply sensor"), Part("INA219", supply.Address), SupplyPause, () => Opened(supply.Address, device => new Ina219Sensor(device, supply.Shunt)))
                : new(BoardEventKind.SupplySensor, Say($"Supply sensor"), Part("INA236", supply.Address), SupplyPause, () => Opened(supply.Address, device => new Ina236Sensor(device, supply.Shunt))));
        }

        if (settings.Line is { } line)
        {
            plans.Add(new(BoardEventKind.LineSensor, Say($"Line sensor"), Part("ADS1115", line.Address), LinePause, () => Opened(line.Address, device => new LineSensor(device, line, Thread.Sleep))) { Spread = LineSpread });
        }

        if (settings.AirAddress is { } air)
        {
            plans.Add(new(BoardEventKind.AirSensor, Say($"Air sensor"), Part("BME280", air), AirPause, () => Opened(air, device => new AirSensor(device))));
        }

        // A board whose kernel tells of no temperature lacks nothing.
        if (settings.Temperature && new CpuTemperature().IsAvailable)
        {
            plans.Add(new(BoardEventKind.BoardThermometer, Say($"Thermometer of this board"), "thermal_zone0", AirPause, () => new BoardThermometer()));
        }

        return plans;

        string Part(string part, int address) => string.Create(CultureInfo.InvariantCulture, $"{part}, I2C bus {settings.I2cBus}, 0x{address:x2}");

        ISensor Opened(int address, Func<I2cDevice, ISensor> open)
        {
            I2cDevice device = ports.I2c(settings.I2cBus, address);
            try
            {
                return open(device);
            }
            catch
            {
                device.Dispose();
                throw;
            }
        }
    }
}
