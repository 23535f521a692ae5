using Diagnostics.Agent.Buses;
using Diagnostics.Simulation;

namespace Diagnostics.Agent.Commands;

/// <summary>The one place where commands meet interfaces, traces and the simulated site.</summary>
internal static class RealSources
{
    /// <summary>An hour of the demo's site in a minute.</summary>
    private const double DemoPace = 60;

    /// <summary>The demo ends after a simulated weekend.</summary>
    private static readonly TimeSpan DemoLength = TimeSpan.FromHours(62);

    public static BusSources Create() => new()
    {
        Live = _ => throw new SettingException("listen", "this build has no source of traffic for it", "build one that has"),
        Trace = (files, input) => new TraceSource(files, input),
        Simulated = clock => new SimulatedSource(WrenfieldLibrary.Create(), DemoPace, DemoLength, clock),
    };
}
