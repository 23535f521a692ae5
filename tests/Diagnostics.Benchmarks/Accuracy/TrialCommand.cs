using System.Diagnostics;
using System.Globalization;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>Runs the scenarios once on the library and prints each finding: for looking closely, not for figures.</summary>
internal static class TrialCommand
{
    /// <param name="words">Seed, and a part of a scenario's name.</param>
    public static int Run(IReadOnlyList<string> words)
    {
        ulong seed = words.Count > 0 ? ulong.Parse(words[0], CultureInfo.InvariantCulture) : 1;
        foreach (Scenario scenario in Scenarios.Faulty.Concat(Scenarios.Clean))
        {
            if (words.Count > 1 && !scenario.Name.Contains(words[1], StringComparison.Ordinal))
            {
                continue;
            }

            Site site = WrenfieldLibrary.Create(seed);
            long began = Stopwatch.GetTimestamp();
            (Report report, SiteSimulation simulation) = Trial.Run(site, scenario, 5);
            Print(report, simulation, scenario, Stopwatch.GetElapsedTime(began));
        }

        return 0;
    }

    internal static void Print(Report report, SiteSimulation simulation, Scenario scenario, TimeSpan took)
    {
        bool found = scenario.Finding is null || report.Findings.Any(finding => finding.Finding == scenario.Finding);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{(found ? "ok  " : "MISS")} {scenario.Name} expected {scenario.Finding} in {took.TotalSeconds:0.0}s frames {report.Buses[0].Frames} errors {report.Buses[0].ErrorMessages} load {report.Buses[0].LoadMean:0.000}"));
        foreach (FindingReport finding in report.Findings)
        {
            bool isFine = finding.Finding == scenario.Finding || scenario.Allowed.Contains(finding.Finding);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"     {(isFine ? " " : "!")} {finding.Severity} {finding.Finding} {finding.Key} +{(finding.Raised.Nanoseconds - simulation.Site.Start.Nanoseconds) / 1e9:0.0}s x{finding.Count} {finding.Confidence} {finding.Summary}"));
        }
    }
}
