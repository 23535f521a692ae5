using System.Diagnostics;
using System.Globalization;

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
                int runs = Runs(witness);
                long? opened = null;
                done += KernelRig.RunOnDisk(folder, disk, command + "write", () =>
                {
                    if (opened is null && Runs(witness) > runs)
                    {
                        opened = Stopwatch.GetTimestamp();
                    }

                    return opened is { } began && Stopwatch.GetElapsedTime(began) >= life;
                }) ? 1 : 0;
            }

            Assert.False(KernelRig.RunOnDisk(folder, disk, command + "check", () => false));
            string[] lines = File.ReadAllLines(witness);
            Assert.Equal(cuts, done);
            Assert.Equal(cuts + 1, lines.Count(line => line.StartsWith("run ", StringComparison.Ordinal)));
            Assert.DoesNotContain(lines, line => line.StartsWith("problem ", StringComparison.Ordinal));
            Assert.Contains(lines, line => line.StartsWith("run ", StringComparison.Ordinal) && line.Contains("cut off", StringComparison.Ordinal));
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{done} cuts; {lines.Count(line => line.StartsWith("kept ", StringComparison.Ordinal))} promises; {lines.Count(line => line.Contains("made anew", StringComparison.Ordinal))} times the index was made anew; nothing lost."));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

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
