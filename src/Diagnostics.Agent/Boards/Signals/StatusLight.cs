using System.Device.Gpio;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>One or two light-emitting diodes at lines of the GPIO chip, lit while the line is high. One alone shows everything.</summary>
internal sealed class StatusLight : IDisposable
{
    private readonly GpioController _gpio;
    private readonly LightSettings _settings;
    private (bool Green, bool Red) _lit;

    /// <param name="gpio">Becomes the light's own.</param>
    /// <param name="settings">Lines; -1 = not fitted.</param>
    public StatusLight(GpioController gpio, LightSettings settings)
    {
        _gpio = gpio;
        _settings = settings;
        foreach (int pin in new[] { settings.GreenPin, settings.RedPin }.Where(pin => pin >= 0))
        {
            gpio.OpenPin(pin, PinMode.Output, PinValue.Low);
        }
    }

    public void Show(LightPattern pattern, bool isLit)
    {
        bool isGreen = _settings.RedPin < 0 || (pattern.IsGreen && _settings.GreenPin >= 0);
        (bool Green, bool Red) lit = (isLit && isGreen, isLit && !isGreen);
        Write(_settings.GreenPin, _lit.Green, lit.Green);
        Write(_settings.RedPin, _lit.Red, lit.Red);
        _lit = lit;
    }

    public void Dispose() => _gpio.Dispose();

    private void Write(int pin, bool before, bool now)
    {
        if (pin >= 0 && before != now)
        {
            _gpio.Write(pin, now);
        }
    }
}
