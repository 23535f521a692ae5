using System.Diagnostics;
using System.Globalization;
using Diagnostics.Core.Reporting;
using static System.FormattableString;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>
/// Many sites drawn at random, each with one thing staged, through the whole analysis; prints how often it was right.
/// What is published is measured once, from <see cref="PublishedSeeds"/> up, on sites at which nobody had looked. Who looks into a miss there and mends a detector has
/// used these seeds up: all below it count as tuning, and the next table begins a million higher.
/// </summary>
internal static class AccuracyCommand
{
    internal const ulong PublishedSeeds = 3_000_000;

    /// <summary>12 of each fault: enough that one miss shows, few enough for minutes. Everything else comes on top.</summary>
    private const int DefaultRuns = 264;

    private const int BusesOfThirty = 15;
    private static readonly TimeSpan BusOfThirtyLength = TimeSpan.FromHours(10);
    private const int RunsPerGrade = 6;
    private const int Processors = 2;

    /// <param name="words">Runs with a fault, first seed, part of a scenario's name; "-v" lists each miss and false alarm on standard error.</param>
    public static int Run(IReadOnlyList<string> words)
    {
        bool verbose = words.Contains("-v");
        words = [.. words.Where(word => word != "-v")];
        int count = words.Count > 0 ? int.Parse(words[0], CultureInfo.InvariantCulture) : DefaultRuns;
        ulong seed = words.Count > 1 ? ulong.Parse(words[1], CultureInfo.InvariantCulture) : PublishedSeeds;
        SiteRun[] runs = [.. Plan(count, seed).Where(run => words.Count < 3 || run.Scenario.Name.Contains(words[2], StringComparison.Ordinal))];
        long began = Stopwatch.GetTimestamp();
        int done = 0;
        Parallel.ForEach(runs, new ParallelOptions { MaxDegreeOfParallelism = Processors }, run =>
        {
            run.Execute();
            if (verbose && Line(run) is string line)
            {
                Console.Error.WriteLine(line);
            }

            int now = Interlocked.Increment(ref done);
            if (now % 10 == 0 || now == runs.Length)
            {
                Console.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{now} of {runs.Length} runs, {Stopwatch.GetElapsedTime(began).TotalSeconds:0} s"));
            }
        });

        foreach (SiteRun run in runs.Where(run => run.Failure is not null))
        {
            Console.Error.WriteLine($"seed {run.Seed} {run.Scenario.Name} failed: {run.Failure}");
        }

        Console.Write(AccuracyTable.Write(runs, seed));
        return runs.Any(run => run.Failure is not null) ? 1 : 0;
    }

    /// <summary>Faults in turn with clean things in between, one seed each.</summary>
    private static IEnumerable<SiteRun> Plan(int count, ulong seed)
    {
        for (int i = 0; i < count; i++)
        {
            yield return new() { Seed = seed++, Scenario = Scenarios.Faulty[i % Scenarios.Faulty.Count] };
        }

        for (int i = 0; i < count / 2; i++)
        {
            yield return new() { Seed = seed++, Scenario = Scenarios.Clean[i % Scenarios.Clean.Count] };
        }

        Scenario nothing = Scenarios.Clean[0];
        for (int i = 0; i < BusesOfThirty * count / DefaultRuns; i++)
        {
            yield return new() { Seed = seed++, Scenario = nothing with { Length = BusOfThirtyLength }, Options = new() { Nodes = 30, BitRate = 125_000 } };
        }

        foreach ((double ratio, string? severity) in Scenarios.Grades)
        {
            Scenario grade = new(
                string.Create(CultureInfo.InvariantCulture, $"bit error ratio {ratio:0.#e-0}"), null, TimeSpan.FromHours(1),
                (_, _) => [new Simulation.BusNoise(ratio), new Simulation.HighLoad(Scenarios.GradedLoad)], "bus.error-rate", "bus.error-burst");
            for (int i = 0; i < RunsPerGrade * count / DefaultRuns; i++)
            {
                yield return new() { Seed = seed++, Scenario = grade, Grade = (ratio, severity), Options = new() { Nodes = 30, BitRate = 250_000, Supervision = Simulation.Supervision.Heartbeat } };
            }
        }
    }

    private static string? Line(SiteRun run)
    {
        bool isRight = run.FalseAlarms.Count == 0 && (run.Scenario.Finding is null || run.Delay is not null) && (run.Grade is null || run.GradeIsRight);
        return run.CanShow && run.Report is not null && !isRight ? Describe(run) : null;
    }

    /// <summary>All that is needed to look closer: the site, what was raised, and why.</summary>
    internal static string Describe(SiteRun run)
    {
        if (run.Report is not Report report)
        {
            return $"seed {run.Seed} '{run.Scenario.Name}': {(run.CanShow ? run.Failure : "can't show on this site")}";
        }

        bool missed = run.Scenario.Finding is not null && run.Delay is null;
        string what = string.Create(CultureInfo.InvariantCulture, $"{(missed ? "MISSED" : run.FalseAlarms.Count > 0 ? "false alarm" : run.Grade is not null && !run.GradeIsRight ? "grade" : "right")}: seed {run.Seed} '{run.Scenario.Name}' node {run.Node}, {run.Site!.BitRate} bit/s, {run.Site.Modules.Count} modules, heartbeat {run.Site.Modules[0].HeartbeatMilliseconds} ms, guard {run.Site.Controller?.GuardMilliseconds} ms, record {run.Seed % 2 == 0}, load {report.Buses[0].LoadMean:0.000}, frames {report.Buses[0].Frames}, errors {report.Buses[0].ErrorMessages}, protocol {report.Buses[0].Protocol}, node restarts {report.Buses[0].Nodes.FirstOrDefault(node => node.Address == run.Node)?.Restarts}, silence noticed within {report.Buses[0].Nodes.FirstOrDefault(node => node.Address == run.Node)?.SilenceNoticedWithinSeconds:0.0} s, last heard +{(report.Buses[0].Nodes.FirstOrDefault(node => node.Address == run.Node)?.LastHeard.Nanoseconds - report.Source.Start!.Value.Nanoseconds) / 1e9:0.0} s");
        what += string.Create(CultureInfo.InvariantCulture, $"\n    errors on the frames of {string.Join(", ", report.Buses[0].Nodes.Where(node => node.ErrorsOnItsFrames > 0).OrderByDescending(node => node.ErrorsOnItsFrames).Take(4).Select(node => Invariant($"{node.Address}: {node.ErrorsOnItsFrames} with {node.TrafficShare:0.000} of the traffic")))}");
        foreach (FindingReport finding in report.Findings)
        {
            double raised = (finding.Raised.Nanoseconds - report.Source.Start!.Value.Nanoseconds) / 1e9;
            what += string.Create(CultureInfo.InvariantCulture, $"\n    {(run.FalseAlarms.Contains(finding) ? "!" : " ")} {finding.Severity} {finding.Key} +{raised:0.0} s x{finding.Count} {finding.Confidence:0.000} {(finding.ExplainedBy is string leader ? $"by {leader}: " : string.Empty)}{finding.Summary}");
            foreach (EvidenceReport evidence in finding.Evidence.Take(run.FalseAlarms.Contains(finding) ? 4 : 0))
            {
                what += string.Create(CultureInfo.InvariantCulture, $"\n          +{(evidence.Time.Nanoseconds - report.Source.Start!.Value.Nanoseconds) / 1e9:0.0} s {evidence.Text}");
            }
        }

        return what;
    }
}
