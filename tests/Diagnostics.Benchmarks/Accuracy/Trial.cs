using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>One run of one scenario on one site, through the same analysis as everything else.</summary>
internal static class Trial
{
    /// <summary>A working day, so that people are there.</summary>
    private static readonly Instant Morning = Instant.FromDateTime(new(2026, 1, 7, 9, 0, 0, TimeSpan.Zero));

    public static (Report Report, SiteSimulation Simulation) Run(Site site, Scenario scenario, int node)
    {
        SiteSimulation simulation = new(site with { Start = Morning, Faults = scenario.Faults(site, node) });
        Analyzer analyzer = new(new() { SourceKind = "simulated", SourceName = site.Name });
        TimeLine line = new(analyzer);
        simulation.Run(new Recording(line), scenario.Length);
        line.Complete();
        return (analyzer.Snapshot(), simulation);
    }

    /// <summary>A trace holds frames and drops, but no note that the recorder's clock stepped: the analysis has to find that out.</summary>
    private sealed class Recording(IFrameSink next) : IFrameSink
    {
        public void OnInterface(byte index, InterfaceFacts facts) => next.OnInterface(index, facts);

        public void OnFrame(in CanFrame frame) => next.OnFrame(in frame);

        public void OnNotSeen(in NotSeen notSeen)
        {
            if (notSeen.Kind != NotSeenKind.ClockStep)
            {
                next.OnNotSeen(in notSeen);
            }
        }
    }
}
