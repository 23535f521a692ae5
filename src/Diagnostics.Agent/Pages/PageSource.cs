using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;

namespace Diagnostics.Agent.Pages;

/// <summary>What the parts of the page show and act on.</summary>
/// <param name="State">What the parts of the service show each other.</param>
/// <param name="Clock">To tell an analysis that stands still, and where the board is.</param>
internal sealed record PageSource(AgentState State, TimeProvider Clock)
{
    /// <summary>What was odd in what the service was given, for the page.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>Frames that were kept; null where there is no log.</summary>
    public CaptureFiles? Captures { get; init; }

    /// <summary>Makes bundles; null where there is no log, or nothing to make one of.</summary>
    public LiveBundles? Bundles { get; init; }

    public TimeZoneInfo Zone => State.ReadFrom?.Zone ?? Clock.LocalTimeZone;

    /// <summary>As it is at this moment.</summary>
    public PageModel Model() => PageModel.Of(State, Clock) with { CanBundle = Bundles is not null, Remarks = Remarks };
}
