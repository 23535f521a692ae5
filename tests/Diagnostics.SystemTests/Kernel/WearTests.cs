using System.Globalization;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// What the log of a bus of twenty modules writes to a card in a day, counted where it reaches the block device: with a fault each hour, its frames kept, 1,900 presses of buttons.
/// <c>scripts/card-wear</c> plays whole days.
/// </summary>
[Collection("kernel")]
public class WearTests(ITestOutputHelper output)
{
    /// <summary>Cards wear by what is written: so much a day is allowed at default settings.</summary>
    private const double MostMegabytesADay = 200;

    /// <summary>In each the index is fed once.</summary>
    private const int UsualHours = 1;

    [Fact]
    public void ADayOfTwentyModulesWritesAtMostTwoHundredMegabytes()
    {
        if (KernelRig.SkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        int hours = int.TryParse(Environment.GetEnvironmentVariable("DIAGNOSTICS_WEAR_HOURS"), CultureInfo.InvariantCulture, out int asked) ? Math.Max(asked, UsualHours) : UsualHours;
        string folder = Directory.CreateTempSubdirectory("diagnostics-wear-").FullName;
        try
        {
            string wear = KernelRig.Program("Diagnostics.KernelGuest") + " wear";
            KernelRig.RunWithDisks(
                folder,
                [KernelRig.MakeDisk(folder, "disk.img", 1024)],
                "mount -t ext4 /dev/ubda /run/disk",
                $"{wear} /run/disk/plain ubda plain {hours} plain",
                $"'{Repository.PathOf("systemd/spare-the-card")}' /run/disk/spared",
                $"{wear} /run/disk/spared ubda spared {hours} lazytime",
                "umount /run/disk");
            Day plain = Day.Of(Path.Combine(folder, "plain"));
            Day spared = Day.Of(Path.Combine(folder, "spared"));
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"""
                | a day of twenty modules, played for {hours} h | |
                | --- | ---: |
                | written to the device, as installed (lazytime), MB | {spared.DeviceMegabytes:0} |
                | written to the device, ext4's usual settings, MB | {plain.DeviceMegabytes:0} |
                | state, MB | {spared.StateMegabytes:0.0} |
                | of that kept frames, MB | {spared.FramesMegabytes:0.0} |
                | records | {spared.Records:0} |
                """));
            Assert.InRange(spared.DeviceMegabytes, 2 * spared.StateMegabytes, MostMegabytesADay);

            // The journal was played, or there would be no difference.
            Assert.True(plain.DeviceMegabytes > spared.DeviceMegabytes + 80);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>The mean hour by 24, and the files of that day, which are filled with zeros before they are written.</summary>
    private sealed record Day(double DeviceMegabytes, double StateMegabytes, double Records, double FramesMegabytes)
    {
        public static Day Of(string file)
        {
            double[][] hours = [.. File.ReadAllLines(file).Select(line => line.Split(' ').Select(number => double.Parse(number, CultureInfo.InvariantCulture)).ToArray())];
            double[] mean = [.. Enumerable.Range(0, 4).Select(place => hours.Average(hour => hour[place]))];
            return new(24 * (mean[0] + mean[1] - mean[3]) / 1e6, 24 * mean[1] / 1e6, 24 * mean[2], 24 * mean[3] / 1e6);
        }
    }
}
