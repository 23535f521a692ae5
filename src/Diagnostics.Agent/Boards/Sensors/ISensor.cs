using Diagnostics.Can;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// One sensor that answered when it was opened. Its thread alone uses it, and whatever it throws is told as trouble of this sensor: <see cref="SensorDoubtException"/> where it answers but
/// can't be believed, anything else where it doesn't answer.
/// </summary>
internal interface ISensor : IDisposable
{
    /// <summary>What it measured since the last call; none where it isn't ready yet.</summary>
    /// <param name="now">The time line of the frames.</param>
    IReadOnlyList<SensorValue> Read(Func<Instant> now);
}
