using Diagnostics.Can;
using Iot.Device.CpuTemperature;
using UnitsNet;
using static Diagnostics.Core.Wording.Wordings;
using Quantity = Diagnostics.Core.Measuring.Quantity;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>The board's own temperature, that of its processor, as its kernel tells it in thermal_zone0.</summary>
internal sealed class BoardThermometer : ISensor
{
    /// <summary>What no processor survives, °C; a driver without its part gives such numbers.</summary>
    private const double Coldest = -50;
    private const double Hottest = 150;

    private readonly CpuTemperature _part = new();

    public IReadOnlyList<SensorValue> Read(Func<Instant> now)
    {
        if (!_part.IsAvailable)
        {
            throw new IOException("the kernel tells of none");
        }

        Instant start = now();
        Temperature temperature = _part.Temperature;
        return temperature.DegreesCelsius is > Coldest and < Hottest
            ? [new(Quantity.BoardCelsius, temperature, start, now())]
            : throw new SensorDoubtException(Say($"it gives no temperature that this part can measure"));
    }

    public void Dispose() => _part.Dispose();
}
