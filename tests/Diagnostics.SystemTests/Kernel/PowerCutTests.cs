using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.History;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// One log on one ext4 disk lives through many power cuts at random moments, in a real kernel that is killed. <c>scripts/power-cut-test N</c> runs more of them.
/// </summary>
[Collection("kernel")]
public class PowerCutTests(ITestOutputHelper output)
{
    private const int UsualCuts = 5;

    /// <summary>Longest life of a run behind its opening; the index is fed in it, too.</summary>
    private const int LongestLifeMilliseconds = 4_000;

    [Fact]
    public void NothingThatWasKeptIsLostAtAPowerCut()
    {
        if (KernelRig.SkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        int cuts = int.TryParse(Environment.GetEnvironmentVariable("DIAGNOSTICS_POWER_CUTS"), CultureInfo.InvariantCulture, out int asked) ? asked : UsualCuts;
        string folder = Directory.CreateTempSubdirectory("diagnostics-power-").FullName;
        try
        {
            string disk = KernelRig.MakeDisk(folder, "disk.img", 256);
            string witness = Path.Combine(folder, "witness");
            string command = KernelRig.Program("Diagnostics.KernelGuest") + " log /run/disk/log witness ";
            Random random = new(cuts);
            int done = 0;
            for (int cut = 0; cut < cuts; cut++)
            {
                TimeSpan life = TimeSpan.FromMilliseconds(random.Next(LongestLifeMilliseconds));
                int before = Runs(witness);
                long? opened = null;
                done += KernelRig.RunOnDisk(folder, disk, command + "write", () =>
                {
                    if (opened is null && Runs(witness) > before)
                    {
                        opened = Stopwatch.GetTimestamp();
                    }

                    return opened is { } began && Stopwatch.GetElapsedTime(began) >= life;
                }) ? 1 : 0;
            }

            Assert.False(KernelRig.RunOnDisk(folder, disk, command + "check", () => false));
            string[] lines = File.ReadAllLines(witness);
            string[][] runs = [.. lines.Where(line => line.StartsWith("run ", StringComparison.Ordinal)).Select(line => line.Split(' ', 5))];
            string[] problems = [.. lines.Where(line => line.StartsWith("problem ", StringComparison.Ordinal))];
            int made = runs.Count(run => run[4].Contains("made anew", StringComparison.Ordinal));
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"""
                | power cuts | {done} |
                | --- | ---: |
                | promises checked | {lines.Count(line => line.StartsWith("kept ", StringComparison.Ordinal))} |
                | promised records lost | {problems.Count(line => line.Contains("is gone", StringComparison.Ordinal))} |
                | other problems | {problems.Count(line => !line.Contains("is gone", StringComparison.Ordinal))} |
                | most that was missing before a cut, s of the log's time | {Most(runs, 3)} |
                | of that declared, s | {StoredHistory.LongestUnkept.TotalSeconds:0} |
                | index made anew, times | {made} |
                | slowest opening after a cut (this kernel is slow), ms | {Most(runs, 2)} |
                """));
            Assert.Empty(problems);
            Assert.Equal(cuts, done);
            Assert.Equal(cuts + 1, runs.Length);
            Assert.Equal(cuts, runs.Count(run => run[4].Contains("cut off", StringComparison.Ordinal)));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static double Most(string[][] runs, int place) => runs.Max(run => double.Parse(run[place], CultureInfo.InvariantCulture));

    private static int Runs(string witness)
    {
        if (!File.Exists(witness))
        {
            return 0;
        }

        using StreamReader reader = new(new FileStream(witness, FileMode.Open, FileAccess.Read, FileShare.ReadWrite));
        int runs = 0;
        while (reader.ReadLine() is { } line)
        {
            runs += line.StartsWith("run ", StringComparison.Ordinal) ? 1 : 0;
        }

        return runs;
    }
}
