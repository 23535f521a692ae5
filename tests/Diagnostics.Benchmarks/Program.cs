using System.Diagnostics;
using System.Globalization;
using Diagnostics.Benchmarks.Accuracy;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;

foreach (Scenario scenario in Scenarios.Faulty.Concat(Scenarios.Clean))
{
    if (args.Length > 1 && !scenario.Name.Contains(args[1], StringComparison.Ordinal))
    {
        continue;
    }

    ulong seed = args.Length > 0 ? ulong.Parse(args[0], CultureInfo.InvariantCulture) : 1;
    Site site = WrenfieldLibrary.Create(seed);
    long began = Stopwatch.GetTimestamp();
    (Report report, SiteSimulation simulation) = Trial.Run(site, scenario, 5);
    bool found = scenario.Finding is null || report.Findings.Any(finding => finding.Finding == scenario.Finding);
    Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{(found ? "ok  " : "MISS")} {scenario.Name} expected {scenario.Finding} in {Stopwatch.GetElapsedTime(began).TotalSeconds:0.0}s frames {report.Buses[0].Frames} errors {report.Buses[0].ErrorMessages} load {report.Buses[0].LoadMean:0.000}"));
    foreach (FindingReport finding in report.Findings)
    {
        bool isFine = finding.Finding == scenario.Finding || scenario.Allowed.Contains(finding.Finding);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"     {(isFine ? " " : "!")} {finding.Severity} {finding.Finding} {finding.Key} +{(finding.Raised.Nanoseconds - simulation.Site.Start.Nanoseconds) / 1e9:0.0}s x{finding.Count} {finding.Confidence} {finding.Summary}"));
    }
}
