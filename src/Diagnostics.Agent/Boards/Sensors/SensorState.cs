using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>How a sensor stands.</summary>
internal enum SensorCondition
{
    /// <summary>It was not heard of yet.</summary>
    Looking,

    Working,

    /// <summary>It doesn't answer, hangs or can't be believed.</summary>
    InTrouble,
}

/// <param name="Kind">Which sensor.</param>
/// <param name="Name">What people call it.</param>
/// <param name="Part">What it is and where it sits.</param>
/// <param name="Condition">How it stands.</param>
/// <param name="Why">What is wrong with it, a whole sentence; null where nothing is.</param>
/// <param name="Values">Its latest values, on the line; empty while it is in trouble.</param>
internal sealed record SensorState(BoardEventKind Kind, Sentence Name, string Part, SensorCondition Condition, Sentence? Why, IReadOnlyList<Measurement> Values);
