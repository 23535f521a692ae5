using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>
/// What was really the matter, for measuring how well it is found. <paramref name="Finding"/> names the catalogue's entry that should be
/// raised, null where nothing may be raised. Times are true times; the observer's stamps differ by its own clock.
/// </summary>
public sealed record GroundTruth(Fault Fault, string? Finding, Instant Start, Instant? End, int? Node, int? Input, int? Output)
{
    public bool IsBenign => Finding is null;
}
