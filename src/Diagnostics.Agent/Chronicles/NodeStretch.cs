using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>One node in a stretch of time.</summary>
/// <param name="Interface">The bus that it is on.</param>
/// <param name="Address">Its address.</param>
/// <param name="Name">What it called itself, or the as-built record.</param>
/// <param name="Cells">By column.</param>
/// <param name="Restarts">When it announced a restart.</param>
/// <param name="Silences">From when to when it was silent; null = still is at the end of what is known.</param>
internal sealed record NodeStretch(
    string Interface, int Address, string? Name, IReadOnlyList<Presence> Cells, IReadOnlyList<Instant> Restarts, IReadOnlyList<(Instant From, Instant? To)> Silences)
{
    /// <summary>Something that a reader looks for.</summary>
    public bool IsTroubled => Restarts.Count > 0 || Silences.Count > 0;
}
