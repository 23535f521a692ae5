namespace Diagnostics.Tests.Boards.Emulated;

/// <summary>A stick as Linux shows it in /proc and /sys, below a directory that stands for the root: a link for each disk and partition, and what the whole disk says of itself.</summary>
internal static class EmulatedStick
{
    private const string OwnCard = "24 1 179:2 / / rw,noatime - ext4 /dev/mmcblk0p2 rw\n";

    /// <param name="root">Stands for <c>/</c>.</param>
    /// <param name="place">Where it is mounted.</param>
    /// <param name="bus">That the disk hangs on, as in <c>pci0000:00/usb1/1-1</c>.</param>
    /// <param name="removable">What the disk says of it.</param>
    public static void Mount(string root, string place, string bus = "pci0000:00/usb1/1-1", string removable = "1")
    {
        string disk = Path.Combine(root, $"sys/devices/{bus}/block/sdb");
        Directory.CreateDirectory(Path.Combine(disk, "sdb1"));
        File.WriteAllText(Path.Combine(disk, "removable"), removable + "\n");
        Directory.CreateDirectory(Path.Combine(root, "sys/dev/block"));
        File.CreateSymbolicLink(Path.Combine(root, "sys/dev/block/8:17"), Path.Combine(disk, "sdb1"));
        Table(root, OwnCard + $"36 24 8:17 / {place} rw,relatime - vfat /dev/sdb1 rw\n");
    }

    /// <summary>It is pulled out.</summary>
    public static void Unmount(string root) => Table(root, OwnCard);

    private static void Table(string root, string lines)
    {
        Directory.CreateDirectory(Path.Combine(root, "proc/self"));
        File.WriteAllText(Path.Combine(root, "proc/self/mountinfo"), lines);
    }
}
