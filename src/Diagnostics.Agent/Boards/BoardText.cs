using System.Globalization;
using System.Text;

namespace Diagnostics.Agent.Boards;

/// <summary>The board in words, for a terminal.</summary>
internal static class BoardText
{
    public static string Render(BoardDocument document)
    {
        StringBuilder text = new();
        text.Append("Fitted, as the settings say\n");
        foreach (SensorDocument sensor in document.Sensors)
        {
            Part($"{sensor.Name} ({sensor.Part})", sensor.Condition, sensor.Why);
            foreach (ValueDocument value in sensor.Values)
            {
                text.Append(CultureInfo.InvariantCulture, $"    {Named(value)}\n");
            }
        }

        foreach (SignalDocument signal in document.Signals)
        {
            Part(signal.Name, signal.Condition, signal.Why);
        }

        if (document.Sensors.Count == 0 && document.Signals.Count == 0)
        {
            text.Append("  nothing; see \"board\" in the settings\n");
        }

        if (document.Clip is { } clip)
        {
            text.Append(CultureInfo.InvariantCulture, $"\nCheck after clipping on: {clip.Said}\n");
            foreach (AnswerDocument answer in clip.Answers)
            {
                text.Append(CultureInfo.InvariantCulture, $"  {(answer.Outcome switch { "good" => "yes", "bad" => "NO ", "waiting" => "…  ", _ => "?  " })}  {SettingException.OneLine(answer.Text)}\n");
            }
        }

        return text.ToString().TrimEnd('\n');

        void Part(string name, string condition, string? why)
        {
            text.Append(CultureInfo.InvariantCulture, $"  {name}: {(condition switch { "working" => "works", "in-trouble" => "in trouble", "not-tried" => "not tried here", _ => "not heard of yet" })}\n");
            if (why is not null)
            {
                text.Append("    ").Append(SettingException.OneLine(why)).Append('\n');
            }
        }
    }

    private static string Named(ValueDocument value) => value switch
    {
        { Quantity: "airHumidityRatio" } => string.Create(CultureInfo.InvariantCulture, $"{"relative humidity",-18} {value.Value * 100:0} %"),
        { Unit: "°C" } => string.Create(CultureInfo.InvariantCulture, $"{(value.Quantity == "airCelsius" ? "air" : "processor"),-18} {value.Value:0.0} °C"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{Words(value.Quantity),-18} {value.Value:0.000} {value.Unit}"),
    };

    private static string Words(string quantity) => quantity switch
    {
        "supplyVolts" or "supplyAmperes" => "supply of the bus",
        "lineHighVolts" => "CAN_H",
        "lineLowVolts" => "CAN_L",
        "lineDifferenceVolts" => "CAN_H less CAN_L",
        _ => quantity,
    };
}
