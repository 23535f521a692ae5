using Diagnostics.Agent.Buses;
using Diagnostics.Simulation;

namespace Diagnostics.Agent.Commands;

/// <summary>The one place where commands meet interfaces, traces and the simulated site.</summary>
internal static class RealSources
{
    /// <summary>Five minutes of the demo's site in a second: the first finding shows within some seconds, all that is staged within a minute.</summary>
    private const double DemoPace = 300;

    /// <summary>The demo ends after a simulated weekend.</summary>
    private static readonly TimeSpan DemoLength = TimeSpan.FromHours(62);

    public static BusSources Create() => new()
    {
        Live = (settings, logger) => new LiveSource(settings.Interfaces, logger),
        Trace = (files, input) => new TraceSource(files, input),
        Simulated = clock => new SimulatedSource(DemoSite.Create(), DemoPace, DemoLength, clock),
    };
}
