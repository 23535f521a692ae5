using System.Text.Json.Serialization;
using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards;

/// <summary>What may be wrong with the board itself. Names are stored, so none is ever renamed.</summary>
internal enum BoardEventKind
{
    /// <summary>The kernel says that the supply is too low.</summary>
    SupplyLow,

    /// <summary>The processor was slowed.</summary>
    Throttled,

    /// <summary>The disk of the log is nearly full.</summary>
    DiskShort,

    /// <summary>This program did not get to run.</summary>
    AgentLate,

    /// <summary>The disk of the log can only be read.</summary>
    DiskReadOnly,

    /// <summary>The sensor of the bus's supply was found, is missing, hangs or can't be believed; so with the next ones.</summary>
    SupplySensor,

    /// <summary>See <see cref="SupplySensor"/>.</summary>
    LineSensor,

    /// <summary>See <see cref="SupplySensor"/>.</summary>
    AirSensor,

    /// <summary>See <see cref="SupplySensor"/>.</summary>
    BoardThermometer,

    /// <summary>Values of sensors were dropped, because the analysis could not keep up.</summary>
    MeasurementsLost,

    /// <summary>The status light can't be used.</summary>
    StatusLight,

    /// <summary>The small display can't be used.</summary>
    SmallDisplay,

    /// <summary>The button can't be used.</summary>
    MarkerButton,

    /// <summary>The button was held: a bundle was written onto a stick, or could not be.</summary>
    BundleOnStick,
}

/// <summary>Something that happened to the board.</summary>
/// <param name="Time">When it was noticed.</param>
/// <param name="Kind">What.</param>
/// <param name="IsOver">It ended.</param>
/// <param name="Text">One sentence.</param>
internal sealed record BoardEvent(Instant Time, BoardEventKind Kind, bool IsOver, string Text)
{
    /// <summary>What <see cref="Text"/> is made from; null where that has no parameters.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? Wording { get; init; }

    [JsonIgnore]
    public Sentence Said => Wording ?? Sentence.Plain(Text);

    public static BoardEvent Of(Instant time, BoardEventKind kind, bool isOver, Sentence text) => new(time, kind, isOver, text.English) { Wording = text.WhereNeeded };
}
