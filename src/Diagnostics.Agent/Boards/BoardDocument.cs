using System.Text.Json.Serialization;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Can;
using Diagnostics.Core.Measuring;

namespace Diagnostics.Agent.Boards;

/// <summary>What is fitted to the board and how it stands, with the check after clipping on: <c>GET /board.json</c>. Members are added, never renamed. Texts are English.</summary>
/// <param name="Schema">1.</param>
/// <param name="Sensors">Those that the settings name, and the board's own thermometer.</param>
/// <param name="Signals">Light, button and display that the settings name, where each sits.</param>
/// <param name="Clip">The check; null where no service runs.</param>
internal sealed record BoardDocument(int Schema, IReadOnlyList<SensorDocument> Sensors, IReadOnlyList<SignalDocument> Signals, ClipDocument? Clip)
{
    public const string Path = "/board.json";

    /// <param name="settings">What is fitted.</param>
    /// <param name="sensors">How each stands.</param>
    /// <param name="troubles">What can't be used now; null where nobody tried, because no service runs.</param>
    /// <param name="check">Null where no service runs.</param>
    public static BoardDocument Of(BoardSettings settings, IReadOnlyList<SensorState> sensors, IReadOnlyList<Trouble>? troubles, ClipCheck? check) => new(
        1,
        [.. sensors.Select(sensor => new SensorDocument(
            sensor.Name.English,
            sensor.Part,
            sensor.Condition switch { SensorCondition.Working => "working", SensorCondition.InTrouble => "in-trouble", _ => "looking" },
            sensor.Why?.English,
            [.. sensor.Values.Select(value => new ValueDocument(Quantities.NameOf(value.Quantity), Quantities.UnitOf(value.Quantity), Math.Round(value.Value, 6), value.End))]))],
        [.. SignalsOf(settings).Select(signal => Tried(signal.Kind, signal.Name, troubles))],
        check is null ? null : new(
            check.Verdict switch { ClipVerdict.Checking => "checking", ClipVerdict.AllWell => "all-well", ClipVerdict.CheckClip => "check-clip", ClipVerdict.BusFault => "bus-fault", _ => "look-at-page" },
            check.Said.English,
            [.. check.Answers.Select(answer => new AnswerDocument(
                answer.Outcome switch { ClipOutcome.Good => "good", ClipOutcome.Bad => "bad", ClipOutcome.Waiting => "waiting", _ => "cannot-tell" }, answer.Text.English))]));

    private static SignalDocument Tried(BoardEventKind kind, string name, IReadOnlyList<Trouble>? troubles)
    {
        Trouble? trouble = troubles?.FirstOrDefault(trouble => trouble.Part == kind.ToString());
        return new(name, troubles is null ? "not-tried" : trouble is null ? "working" : "in-trouble", trouble?.Text.English);
    }

    private static IEnumerable<(BoardEventKind Kind, string Name)> SignalsOf(BoardSettings settings)
    {
        if (settings.Light is { } light)
        {
            string[] diodes = [.. new[] { ("green", light.GreenPin), ("red", light.RedPin) }.Where(diode => diode.Item2 >= 0).Select(diode => $"{diode.Item1} at line {diode.Item2}")];
            yield return (BoardEventKind.StatusLight, $"status light (gpiochip{settings.GpioChip}, {string.Join(", ", diodes)})");
        }

        if (settings.Button is { } button)
        {
            yield return (BoardEventKind.MarkerButton, $"button (gpiochip{settings.GpioChip}, line {button.Pin})");
        }

        if (settings.DisplayAddress is { } address)
        {
            yield return (BoardEventKind.SmallDisplay, $"small display (SSD1306 at I2C bus {settings.I2cBus}, 0x{address:x2})");
        }
    }
}

internal sealed record SensorDocument(string Name, string Part, string Condition, string? Why, IReadOnlyList<ValueDocument> Values);

/// <param name="Name">With its place.</param>
/// <param name="Condition"><c>working</c>, <c>in-trouble</c>, or <c>not-tried</c> where no service runs.</param>
internal sealed record SignalDocument(string Name, string Condition, string? Why);

/// <param name="At">The end of its window; on the line of the frames.</param>
internal sealed record ValueDocument(string Quantity, string Unit, double Value, Instant At);

internal sealed record ClipDocument(string Verdict, string Said, IReadOnlyList<AnswerDocument> Answers);

internal sealed record AnswerDocument(string Outcome, string Text);

[JsonSourceGenerationOptions(PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase)]
[JsonSerializable(typeof(BoardDocument))]
internal sealed partial class BoardJson : JsonSerializerContext;
