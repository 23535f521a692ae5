using Diagnostics.Core.Comparison;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.History;

/// <summary>
/// A soak test is gone on with by the analysis itself, which must not fall over what stands in a log, and judged by exact tails, whose reckoning never ends for a count that can't be. This says
/// whether everything that is promised is there, and every count one that a bus can bring.
/// </summary>
internal static class WholeSoak
{
    /// <summary>Longer than any board lives, s.</summary>
    private const double LongestSeconds = 1e10;

    /// <summary>More than the fastest bus carries in that time.</summary>
    private const long MostFrames = 1_000_000_000_000_000;

    private const double MostBits = 1e18;

    public static bool Is(SoakRecord soak) =>
        soak is { Id: not null, Name: not null, Source: not null, LostFrames: >= 0 and <= MostFrames, Rules: { Fails: not null, MostErrorRatio: null or (>= 0 and <= 1) }, Buses: not null, Findings: not null, Interruptions: not null }
        && IsLength(soak.AskedSeconds)
        && IsLength(soak.ListenedSeconds)
        && soak.Rules.Fails.All(word => word is not null)
        && soak.Buses.All(Is)
        && AreApart(soak.Buses, bus => bus.Interface)
        && soak.Findings.All(finding => finding is { Key: not null, Finding: not null, Severity: not null, Summary: not null, Episodes: >= 0 })
        && AreApart(soak.Findings, finding => finding.Key)
        && soak.Interruptions.All(gap => gap is not null);

    private static bool Is(SoakBus bus) =>
        bus is
        {
            Interface: not null,
            Totals: { Frames: >= 0 and <= MostFrames, Bits: null or (>= -MostBits and <= MostBits), ErrorEpisodes: null or (>= 0 and <= ObservedBus.MostCounted), Restarts: null or (>= 0 and <= ObservedBus.MostCounted) },
            Nodes: not null,
        }
        && IsLength(bus.Totals.HeardSeconds)
        && bus.Nodes.All(node => node is not null)
        && AreApart(bus.Nodes, node => node.Address);

    /// <summary>A gap that is noticed late takes from what was counted before, so a length may be a little below zero.</summary>
    private static bool IsLength(double seconds) => Math.Abs(seconds) <= LongestSeconds;

    private static bool AreApart<T, TKey>(IReadOnlyList<T> items, Func<T, TKey> key) => items.DistinctBy(key).Count() == items.Count;
}
