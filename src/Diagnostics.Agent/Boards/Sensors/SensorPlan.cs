using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>One sensor that the settings name.</summary>
/// <param name="Kind">How its trouble is told.</param>
/// <param name="Name">What people call it.</param>
/// <param name="Part">What it is and where it sits, as in "INA219, I2C bus 1, 0x40".</param>
/// <param name="Pause">Between two readings.</param>
/// <param name="Open">Opens it; throws where it doesn't answer.</param>
internal sealed record SensorPlan(BoardEventKind Kind, Sentence Name, string Part, TimeSpan Pause, Func<ISensor> Open)
{
    /// <summary>A pause is shorter or longer by up to this, where readings in step with the traffic would mislead.</summary>
    public TimeSpan Spread { get; init; }

    /// <summary>Before it is looked for again, once it is in trouble.</summary>
    public TimeSpan Retry { get; init; } = Limits.RetrySensor;
}
