using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>A sensor answers, but what it says can't be true.</summary>
internal sealed class SensorDoubtException(Sentence why) : Exception(why.English)
{
    public Sentence Why { get; } = why;
}
