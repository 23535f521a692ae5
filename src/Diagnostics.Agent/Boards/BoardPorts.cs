using System.Device.Gpio;
using System.Device.Gpio.Drivers;
using System.Device.I2c;
using Diagnostics.Agent.Boards.Sensors;

namespace Diagnostics.Agent.Boards;

/// <summary>The ways out of the board to what is fitted on it: devices on an I2C bus, lines of a GPIO chip.</summary>
/// <param name="openI2c">A device by bus and address. May fail, and may hang.</param>
/// <param name="openGpio">The lines of a chip. May fail.</param>
/// <param name="clock">To tell a transfer that hangs.</param>
internal sealed class BoardPorts(Func<int, int, I2cDevice> openI2c, Func<int, GpioDriver> openGpio, TimeProvider clock)
{
    private readonly Dictionary<int, I2cGate> _gates = [];

    /// <summary>Those of this machine: /dev/i2c-N, and /dev/gpiochipN by libgpiod.</summary>
    public static BoardPorts OfThisMachine(TimeProvider clock) => new((bus, address) => I2cDevice.Create(new(bus, address)), OpenGpio, clock);

    public I2cDevice I2c(int bus, int address)
    {
        I2cGate? gate;
        lock (_gates)
        {
            if (!_gates.TryGetValue(bus, out gate))
            {
                _gates[bus] = gate = new(clock, Limits.SensorHangs);
            }
        }

        return new GatedI2cDevice(openI2c(bus, address), gate);
    }

    /// <summary>One controller for each part, so that one that fails takes no other along.</summary>
    public GpioController Gpio(int chip) => new(openGpio(chip));

    /// <summary>The library's major version decides which of the two drivers fits; Debian 12 has the first.</summary>
    private static GpioDriver OpenGpio(int chip)
    {
        if (!File.Exists($"/dev/gpiochip{chip}"))
        {
            throw new IOException($"there is no /dev/gpiochip{chip}");
        }

        try
        {
            return new LibGpiodDriver(chip);
        }
        catch (Exception problem) when (IsLibraryMissing(problem))
        {
            try
            {
                return new LibGpiodV2Driver(chip);
            }
            catch (Exception again) when (IsLibraryMissing(again))
            {
                throw new IOException("libgpiod is not installed (Debian: apt install libgpiod2, or libgpiod3)", again);
            }
        }
    }

    private static bool IsLibraryMissing(Exception problem) =>
        problem is DllNotFoundException or EntryPointNotFoundException or PlatformNotSupportedException or TypeInitializationException;
}
