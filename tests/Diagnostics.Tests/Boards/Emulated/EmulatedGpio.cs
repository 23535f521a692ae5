using System.Device;
using System.Device.Gpio;

namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>Lines of a GPIO chip in the hands of a test. Those with a pull-up are high until somebody closes them to ground.</summary>
internal sealed class EmulatedGpio : GpioDriver
{
    private readonly Dictionary<int, PinMode> _modes = [];
    private readonly Dictionary<int, bool> _levels = [];
    private readonly List<(int Pin, PinEventTypes Types, PinChangeEventHandler Handler)> _handlers = [];

    /// <summary>What was written to outputs, in order.</summary>
    public List<(int Pin, bool IsHigh)> Written { get; } = [];

    protected override int PinCount => 64;

    /// <summary>Whether somebody listens for edges of a line.</summary>
    public bool HasHandler(int pin)
    {
        lock (_modes)
        {
            return _handlers.Exists(handler => handler.Pin == pin);
        }
    }

    /// <summary>Level of a line.</summary>
    public bool IsHigh(int pin) => Read(pin) == PinValue.High;

    /// <summary>Lines that are open.</summary>
    public IReadOnlyCollection<int> Open
    {
        get
        {
            lock (_modes)
            {
                return [.. _modes.Keys];
            }
        }
    }

    /// <summary>Closes a line to ground, or opens it: the edge is told on this thread.</summary>
    public void Set(int pin, bool isHigh)
    {
        (int Pin, PinEventTypes Types, PinChangeEventHandler Handler)[] handlers;
        lock (_modes)
        {
            _levels[pin] = isHigh;
            handlers = [.. _handlers.Where(handler => handler.Pin == pin)];
        }

        PinEventTypes edge = isHigh ? PinEventTypes.Rising : PinEventTypes.Falling;
        foreach ((_, PinEventTypes types, PinChangeEventHandler handler) in handlers)
        {
            if (types.HasFlag(edge))
            {
                handler(this, new(edge, pin));
            }
        }
    }

    protected override void OpenPin(int pinNumber) => Locked(() => _modes[pinNumber] = PinMode.Input);

    protected override void ClosePin(int pinNumber) => Locked(() => _modes.Remove(pinNumber));

    protected override void SetPinMode(int pinNumber, PinMode mode) => Locked(() =>
    {
        _modes[pinNumber] = mode;
        _levels.TryAdd(pinNumber, mode == PinMode.InputPullUp);
    });

    protected override PinMode GetPinMode(int pinNumber)
    {
        lock (_modes)
        {
            return _modes[pinNumber];
        }
    }

    protected override bool IsPinModeSupported(int pinNumber, PinMode mode) => true;

    protected override PinValue Read(int pinNumber)
    {
        lock (_modes)
        {
            return _levels.GetValueOrDefault(pinNumber);
        }
    }

    protected override void Write(int pinNumber, PinValue value) => Locked(() =>
    {
        _levels[pinNumber] = value == PinValue.High;
        Written.Add((pinNumber, value == PinValue.High));
    });

    protected override WaitForEventResult WaitForEvent(int pinNumber, PinEventTypes eventTypes, CancellationToken cancellationToken) => throw new NotSupportedException();

    protected override void AddCallbackForPinValueChangedEvent(int pinNumber, PinEventTypes eventTypes, PinChangeEventHandler callback) => Locked(() => _handlers.Add((pinNumber, eventTypes, callback)));

    protected override void RemoveCallbackForPinValueChangedEvent(int pinNumber, PinChangeEventHandler callback) => Locked(() => _handlers.RemoveAll(handler => handler.Handler == callback));

    private void Locked(Action act)
    {
        lock (_modes)
        {
            act();
        }
    }
}
