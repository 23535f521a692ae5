using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>One thing that may be the matter with a site, and how to stage it.</summary>
/// <param name="Name">Stable, for the published table.</param>
/// <param name="Finding">The catalogue's entry that must be raised; null where nothing may be.</param>
/// <param name="Length">Simulated time.</param>
/// <param name="Faults">Stages it on a site; the node is one that can show it.</param>
/// <param name="Allowed">Findings that follow from it and are no false alarms.</param>
internal sealed record Scenario(string Name, string? Finding, TimeSpan Length, Func<Site, int, IReadOnlyList<Fault>> Faults, params string[] Allowed)
{
    /// <summary>Whether the fault can show on this site at this node at all; by the site's plan, never by what the analysis says.</summary>
    public Func<Site, ModulePlan, bool> CanShow { get; init; } = (_, _) => true;

    /// <summary>The same rule in words.</summary>
    public string Rule { get; init; } = "always";

    /// <summary>What must not be left to the draw for this to be staged.</summary>
    public RandomSiteOptions? Options { get; init; }

    /// <summary>What else of the drawn site has to be otherwise; the node is the one it is staged at.</summary>
    public Func<Site, int, Site> Adapt { get; init; } = (site, _) => site;

    /// <summary>It concerns our own adapter: a finding that names a node is another one.</summary>
    public bool IsOurs { get; init; }
}
