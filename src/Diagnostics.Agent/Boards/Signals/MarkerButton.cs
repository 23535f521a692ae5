using System.Device.Gpio;
using Iot.Device.Button;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>
/// A button that closes a line to ground. The binding (Iot.Device.Bindings 4.2.0) gives its edges only: it judges bounce and length by the wall clock, which a board without a clock battery sets while it runs, so that is
/// done by <see cref="PressReader"/>.
/// </summary>
internal sealed class MarkerButton : IDisposable
{
    private readonly Lock _lock = new();
    private readonly PressReader _reader = new();
    private readonly GpioController _gpio;
    private readonly GpioButton _button;
    private readonly Func<TimeSpan> _now;

    /// <param name="gpio">Becomes the button's own.</param>
    /// <param name="pin">Of the chip.</param>
    /// <param name="now">A clock that never jumps.</param>
    public MarkerButton(GpioController gpio, int pin, Func<TimeSpan> now)
    {
        _gpio = gpio;
        _now = now;
        _button = new(pin, isPullUp: true, hasExternalResistor: false, gpio, shouldDispose: false);
        _button.ButtonDown += (_, _) => OnEdge(isDown: true);
        _button.ButtonUp += (_, _) => OnEdge(isDown: false);
    }

    public Press Look()
    {
        lock (_lock)
        {
            return _reader.OnTick(_now());
        }
    }

    public void Dispose()
    {
        _button.Dispose();
        _gpio.Dispose();
    }

    /// <summary>On a thread of the driver.</summary>
    private void OnEdge(bool isDown)
    {
        lock (_lock)
        {
            _reader.OnEdge(isDown, _now());
        }
    }
}
