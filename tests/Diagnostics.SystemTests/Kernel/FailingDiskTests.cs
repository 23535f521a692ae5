using System.Globalization;
using System.Text.RegularExpressions;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>A card that fails, lies or is full, in a real kernel: the bus is heard on, it is told, and the log goes on when it can.</summary>
[Collection("kernel")]
public class FailingDiskTests(ITestOutputHelper output)
{
    private const int Mebibytes = 64;
    private const int Sectors = Mebibytes << 11;

    private string[] Run(string steps, IReadOnlyList<string> before, params int[] disks)
    {
        if (KernelRig.DiskSkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        string folder = Directory.CreateTempSubdirectory("diagnostics-failing-").FullName;
        try
        {
            string guest = KernelRig.Program("Diagnostics.KernelGuest");
            KernelRig.RunWithDisks(
                folder,
                [.. disks.Select((mebibytes, n) => KernelRig.MakeDisk(folder, $"disk{n}", mebibytes))],
                [$"{guest} modules {KernelRig.Module("drivers/md/dm-mod.ko")} {KernelRig.Module("drivers/md/dm-flakey.ko")}", .. before, $"{guest} {steps} result"]);
            string[] lines = File.ReadAllLines(Path.Combine(folder, "result"));
            output.WriteLine(string.Join('\n', lines));
            return lines;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void TheServiceListensOnSaysWhatIsWrongAndKeepsWhatCame()
    {
        string[] lines = Run(
            string.Create(CultureInfo.InvariantCulture, $"failing '{Path.Combine(AppContext.BaseDirectory, "diagnostics.dll")}' /dev/ubda {Sectors}"),
            ["ip link show vcan0", "mkdir /run/full", "mount -t ext4 /dev/ubdb /run/full"],
            Mebibytes,
            16);
        Assert.DoesNotContain(lines, line => line.Contains(" no;", StringComparison.Ordinal));
        Assert.Contains("ended: 0 0", lines);

        // The card failed for a few seconds and was left alone for ten: what came meanwhile was held in memory.
        Match card = Regex.Match(string.Join('\n', lines), @"card: rows (\d+), longest gap ([\d.]+)");
        Assert.InRange(int.Parse(card.Groups[1].Value, CultureInfo.InvariantCulture), 15, 300);
        Assert.InRange(double.Parse(card.Groups[2].Value, CultureInfo.InvariantCulture), 0.5, 8);
        Assert.Contains("full: it just happened 1 without frames, it just happened 2 with frames", lines);
    }

    [Fact]
    public void ACardThatLiesOrDiesTakesNothingOfWhatWasSafeBefore()
    {
        string[] lines = Run(string.Create(CultureInfo.InvariantCulture, $"flaky /dev/ubda {Sectors}"), [], Mebibytes);
        string Line(string begin) => Assert.Single(lines, line => line.StartsWith(begin, StringComparison.Ordinal));

        // Reported as written and dropped: nobody could know, but the log opens, says where something is missing, and has the rest.
        Assert.Contains(" 0 of ", Line("dropped writes: missing before"), StringComparison.Ordinal);
        Assert.DoesNotContain(" 0 of ", Line("dropped writes: missing meanwhile"), StringComparison.Ordinal);
        Assert.Contains(" 0 of ", Line("dropped writes: missing behind"), StringComparison.Ordinal);
        Assert.Contains("that are no record: what stood there is missing", Line("dropped writes: the log says"), StringComparison.Ordinal);

        // Failing: told, held, written when it is well again.
        Assert.Contains("fdatasync failed with EIO", Line("failing writes: told"), StringComparison.Ordinal);
        Assert.EndsWith("told nothing", Line("failing writes: when it is well again"), StringComparison.Ordinal);

        // A file system that gave up stays read-only until it is mounted anew; what was kept is there then.
        Assert.Contains("Read-only", Line("given up: told"), StringComparison.Ordinal);
        Assert.Contains("start the board again", Line("given up: told"), StringComparison.Ordinal);
        Assert.EndsWith(" False", Line("before: the disk can only be read"), StringComparison.Ordinal);
        Assert.EndsWith(" True", Line("read-only: the disk can only be read"), StringComparison.Ordinal);
        Assert.Contains("Read-only", Line("given up: when the card is well again"), StringComparison.Ordinal);
        Assert.Contains(" 0 of ", Line("given up: missing of what was kept"), StringComparison.Ordinal);
        Assert.Contains("cut off", Line("given up: the log says"), StringComparison.Ordinal);
    }
}
