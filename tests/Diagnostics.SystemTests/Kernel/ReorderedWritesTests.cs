using System.Globalization;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// Killing a kernel loses what it had in memory, but in order. A disk with a memory of its own also forgets what it wasn't told to flush, and what it keeps of that isn't in order. So every write
/// of a log on ext4 is recorded (dm-log-writes), and the disk is made anew as the plug would have left it at many moments: with nothing that wasn't flushed, and with any part of it.
/// </summary>
[Collection("kernel")]
public class ReorderedWritesTests(ITestOutputHelper output)
{
    private const int UsualDisks = 30;

    /// <summary>Long enough for the index to be fed twice.</summary>
    private const int Seconds = 640;

    [Fact]
    public void WhatWasPromisedIsThereWhateverTheDiskForgetsOrReorders()
    {
        if (KernelRig.DiskSkipReason is { } reason)
        {
            Assert.Skip(reason);
        }

        int count = int.TryParse(Environment.GetEnvironmentVariable("DIAGNOSTICS_REORDERED_DISKS"), CultureInfo.InvariantCulture, out int asked) ? asked : UsualDisks;
        string folder = Directory.CreateTempSubdirectory("diagnostics-reordered-").FullName;
        try
        {
            string disk = KernelRig.MakeDisk(folder, "disk", 64);
            string before = Path.Combine(folder, "before");
            File.Copy(disk, before);
            string log = KernelRig.MakeDisk(folder, "log", 1024, isFormatted: false);
            string guest = KernelRig.Program("Diagnostics.KernelGuest");
            KernelRig.RunWithDisks(
                folder,
                [disk, log],
                $"{guest} modules {KernelRig.Module("drivers/md/dm-mod.ko")} {KernelRig.Module("drivers/md/dm-log-writes.ko")}",
                $"dmsetup --noudevsync create logged --table '0 {new FileInfo(disk).Length / 512} log-writes /dev/ubda /dev/ubdb'",
                "mount -t ext4 /dev/dm-0 /run/disk",
                $"{guest} record /run/disk/log logged {Seconds}",
                "umount /run/disk",
                "dmsetup --noudevsync remove logged");
            RecordedWrites writes = new(before, log);
            IReadOnlyList<(int Place, string Promised)> marks = writes.Marks("kept");
            Assert.InRange(marks.Count, Seconds / 8, Seconds);

            string images = Directory.CreateDirectory(Path.Combine(folder, "images")).FullName;
            Random chance = new(count);
            writes.WriteDisks(Enumerable.Range(0, count)
                .Select(n => marks[0].Place + 1 + (int)((long)n * (writes.Places - marks[0].Place - 1) / count))
                .Select((place, n) => (place, Path.Combine(images, string.Create(CultureInfo.InvariantCulture, $"{n:D4}-{marks.Last(mark => mark.Place < place).Promised}.img")), n % 3 == 0 ? null : chance)));

            // And one that holds less than was promised: a check that can't fail checks nothing.
            writes.WriteDisks([(marks[^10].Place, Path.Combine(images, $"liar-{marks[^1].Promised}.img"), null)]);
            KernelRig.RunWithDisks(folder, [], $"{guest} modules {KernelRig.Module("drivers/block/loop.ko")}", $"{guest} judge images judged");

            string[] judged = File.ReadAllLines(Path.Combine(folder, "judged"));
            Assert.Equal(count + 1, judged.Length);
            Assert.Contains("had been kept and is gone", Assert.Single(judged, line => line.StartsWith("liar-", StringComparison.Ordinal)), StringComparison.Ordinal);
            Assert.DoesNotContain(judged, line => line.Contains(": problem", StringComparison.Ordinal) && !line.StartsWith("liar-", StringComparison.Ordinal));
            Assert.Contains(judged, line => line.Contains(": sound", StringComparison.Ordinal) && line.Contains("cut off", StringComparison.Ordinal));
            output.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{count} disks out of {writes.Count} writes and flushes with {marks.Count} promises; {judged.Count(line => line.Contains("made anew", StringComparison.Ordinal))} times the index was made anew; nothing promised is missing."));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
