using System.Device.I2c;
using Diagnostics.Can;
using Iot.Device.Adc;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// Supply of the bus by an INA236 (data sheet SBOSA38; registers from memory). A conversion of the bus voltage takes 8.244 ms and one of the shunt 0.14 ms, in turn, so that 98 % of the time the supply is looked at.
/// The binding (Iot.Device.Bindings 4.2.0) reads the shunt's voltage without its sign, but the current with it; the flags are read beside it.
/// </summary>
internal sealed class Ina236Sensor : ISensor
{
    /// <summary>Recommended operating conditions: up to 48 V.</summary>
    public const double MostVolts = 48;

    private const byte ConfigurationRegister = 0;
    private const byte MaskRegister = 6;
    private const ushort ConversionReady = 1 << 3;
    private const ushort MathOverflow = 1 << 2;
    private const int BusMicroseconds = 8244;
    private const int ShuntMicroseconds = 140;

    /// <summary>Where no shunt is fitted the binding still wants one.</summary>
    private static readonly ElectricResistance AnyShunt = ElectricResistance.FromOhms(1);

    /// <summary>2.5 µV × 2^15.</summary>
    private static readonly ElectricPotential MostAtShunt = ElectricPotential.FromMillivolts(81.92);

    private static readonly TimeSpan Window = TimeSpan.FromMicroseconds(BusMicroseconds);

    private readonly I2cDevice _device;
    private readonly Ina236 _part;
    private readonly bool _hasShunt;
    private readonly ElectricCurrent _most;
    private readonly ushort _configuration;
    private readonly ConversionWatch _watch = new();

    /// <param name="device">Becomes this sensor's own.</param>
    /// <param name="shunt">Zero = no current is measured.</param>
    public Ina236Sensor(I2cDevice device, ElectricResistance shunt)
    {
        _device = device;
        _hasShunt = shunt > ElectricResistance.Zero;
        ElectricResistance resistance = _hasShunt ? shunt : AnyShunt;
        _most = MostAtShunt / resistance;
        try
        {
            // The binding sets a step of twice its largest current's 2^15th part: with half, the current has the steps of the shunt's voltage, and its whole range.
            _part = new(device, resistance, _most / 2)
            {
                AverageOverNoSamples = 1,
                BusConversionTime = BusMicroseconds,
                ShuntConversionTime = ShuntMicroseconds,
                OperatingMode = Ina236OperatingMode.ContinuousShuntAndBusVoltage,
            };
        }
        catch (InvalidOperationException)
        {
            throw SensorDoubtException.NotAsSetUp();
        }

        _configuration = Registers.Read(device, ConfigurationRegister);
    }

    public IReadOnlyList<SensorValue> Read(Func<Instant> now)
    {
        ushort flags = Registers.Read(_device, MaskRegister);
        Instant end = now();
        bool isNew = (flags & ConversionReady) != 0;
        _watch.OnLook(isNew, end);
        if (!isNew)
        {
            return [];
        }

        ElectricPotential volts = _part.ReadBusVoltage();
        if (volts.Volts > MostVolts)
        {
            throw SensorDoubtException.Beyond(volts);
        }

        if (Registers.Read(_device, ConfigurationRegister) != _configuration)
        {
            throw SensorDoubtException.NotAsSetUp();
        }

        List<SensorValue> values = [new(Quantity.SupplyVolts, volts, end - Window, end)];
        if (_hasShunt && (flags & MathOverflow) == 0 && _part.ReadCurrent() is { } current && current.Abs() < _most * ((short.MaxValue - 0.5) / (1 << 15)))
        {
            values.Add(new(Quantity.SupplyAmperes, current, end - Window, end));
        }

        return values;
    }

    public void Dispose() => _part.Dispose();
}
