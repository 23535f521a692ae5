using System.Globalization;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>Runs single runs of the accuracy measurement again and prints each finding: for looking closely, not for figures.</summary>
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

            SiteRun run = new() { Seed = seed, Scenario = scenario };
            run.Execute();
            Console.WriteLine(AccuracyCommand.Describe(run));
        }

        return 0;
    }
}
