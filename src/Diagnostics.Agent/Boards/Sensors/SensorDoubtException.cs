using Diagnostics.Core.Wording;
using UnitsNet;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>A sensor answers, but what it says can't be true.</summary>
internal sealed class SensorDoubtException(Sentence why) : Exception(why.English)
{
    public static SensorDoubtException NotAsSetUp() => new(Say($"it answers, but not as it was set up: another part may be there, or it lost its supply"));

    /// <param name="volts">More than the part bears.</param>
    public static SensorDoubtException Beyond(ElectricPotential volts) => new(Say($"it says {volts.Volts:0.0} V, which this part can’t measure"));

    public Sentence Why { get; } = why;
}
