using System.Device.I2c;
using Diagnostics.Can;
using Iot.Device.Adc;
using UnitsNet;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// Supply of the bus by an INA219 (data sheet SBOS448; registers from memory). Volts are the mean of 16 samples, 8.51 ms, and amperes those of one, 0.53 ms, in turn, so that 94 % of the time the supply is
/// looked at. The current is worked out here, from the drop at the shunt: the part's own calibration would only round it.
/// <para>
/// The binding (Iot.Device.Bindings 4.2.0) reads both voltages with the wrong sign where their highest bit is set (a bus voltage from 16.384 V on, a shunt voltage below zero), can't set the averaging of the
/// shunt, and hides the two flags in the bus voltage's register. The first two are put right here, the others read and written beside it.
/// </para>
/// </summary>
internal sealed class Ina219Sensor : ISensor
{
    /// <summary>Beyond this the part is destroyed (absolute maximum ratings), so no larger value is believed.</summary>
    public const double MostVolts = 26;

    private const byte ConfigurationRegister = 0;
    private const byte BusVoltageRegister = 2;
    private const byte PowerRegister = 3;

    /// <summary>32 V range; shunt up to ±320 mV; bus 16 samples; shunt 12 bits; both for ever.</summary>
    private const ushort Configuration = 0x2000 | (0b11 << 11) | (0b1100 << 7) | (0b0011 << 3) | 0b111;

    private const ushort ConversionReady = 0b10;
    private const ushort Overflow = 0b01;

    private static readonly TimeSpan Window = TimeSpan.FromMicroseconds(8510);

    /// <summary>8192 steps of 4 mV: what a voltage that was read with the wrong sign lacks.</summary>
    private static readonly ElectricPotential BusSpan = ElectricPotential.FromMillivolts(4 * (1 << 13));

    /// <summary>16 bits of 10 µV.</summary>
    private static readonly ElectricPotential ShuntSpan = ElectricPotential.FromMicrovolts(10 * (1 << 16));

    /// <summary>Half a step below the end of ±320 mV.</summary>
    private static readonly ElectricPotential MostAtShunt = ElectricPotential.FromMillivolts(319.995);

    private readonly I2cDevice _device;
    private readonly Ina219 _part;
    private readonly ElectricResistance _shunt;
    private readonly ConversionWatch _watch = new();

    /// <param name="device">Becomes this sensor's own.</param>
    /// <param name="shunt">Zero = no current is measured.</param>
    public Ina219Sensor(I2cDevice device, ElectricResistance shunt)
    {
        _device = device;
        _shunt = shunt;
        _part = new(device);
        Registers.Write(device, ConfigurationRegister, Configuration);
        CheckConfiguration();
    }

    public IReadOnlyList<SensorValue> Read(Func<Instant> now)
    {
        ushort bus = Registers.Read(_device, BusVoltageRegister);
        Instant end = now();
        bool isNew = (bus & ConversionReady) != 0;
        _watch.OnLook(isNew, end);
        if (!isNew)
        {
            return [];
        }

        ElectricPotential volts = _part.ReadBusVoltage();
        volts = volts < ElectricPotential.Zero ? volts + BusSpan : volts;
        if (volts.Volts > MostVolts)
        {
            // All ones, as a line of the I2C bus that is stuck gives, is 32.764 V.
            throw SensorDoubtException.Beyond(volts);
        }

        CheckConfiguration();
        List<SensorValue> values = [new(Quantity.SupplyVolts, volts, end - Window, end)];
        if (_shunt > ElectricResistance.Zero && (bus & Overflow) == 0)
        {
            ElectricPotential drop = _part.ReadShuntVoltage();
            drop = drop > ShuntSpan / 2 ? drop - ShuntSpan : drop;

            // At its end the converter says no more than that there is more.
            if (drop.Abs() < MostAtShunt)
            {
                values.Add(new(Quantity.SupplyAmperes, drop / _shunt, end - Window, end));
            }
        }

        // Reading the power is what clears the flag of a conversion.
        Registers.Read(_device, PowerRegister);
        return values;
    }

    public void Dispose()
    {
        _part.Dispose();
        _device.Dispose();
    }

    /// <summary>A part that lost its supply for a moment answers with its settings as they were made, and means something else.</summary>
    private void CheckConfiguration()
    {
        ushort read = Registers.Read(_device, ConfigurationRegister);
        if (read != Configuration)
        {
            throw SensorDoubtException.NotAsSetUp();
        }
    }
}
