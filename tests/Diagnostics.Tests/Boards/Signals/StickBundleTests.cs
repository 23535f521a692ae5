using Diagnostics.Agent.Boards.Signals;

namespace Diagnostics.Tests.Boards.Signals;

public sealed class StickBundleTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("stick");

    public void Dispose() => _root.Delete(recursive: true);

    private StickBundle Stick(string? named = null) => new(_root.FullName, named, null);

    /// <summary>/proc and /sys as Linux has them: a link for each disk and partition, and what the whole disk says of itself.</summary>
    private void Mounted(string bus, string removable)
    {
        string disk = Path.Combine(_root.FullName, $"sys/devices/{bus}/block/sdb");
        Directory.CreateDirectory(Path.Combine(disk, "sdb1"));
        File.WriteAllText(Path.Combine(disk, "removable"), removable + "\n");
        Directory.CreateDirectory(Path.Combine(_root.FullName, "sys/dev/block"));
        File.CreateSymbolicLink(Path.Combine(_root.FullName, "sys/dev/block/8:17"), Path.Combine(disk, "sdb1"));
        Directory.CreateDirectory(Path.Combine(_root.FullName, "proc/self"));
        File.WriteAllText(Path.Combine(_root.FullName, "proc/self/mountinfo"), """
            24 1 179:2 / / rw,noatime - ext4 /dev/mmcblk0p2 rw
            36 24 8:17 / /media/stick rw,relatime - vfat /dev/sdb1 rw
            """);
    }

    [Theory]
    [InlineData("pci0000:00/usb1/1-1", "0", "/media/stick")]
    [InlineData("platform/card", "1", "/media/stick")]
    [InlineData("pci0000:00/sata", "0", null)]
    public void AStickIsARemovableDiskOrOneAtUsb(string bus, string removable, string? place)
    {
        Mounted(bus, removable);
        Assert.Equal(place, Stick().Find());
    }

    [Theory]
    [InlineData("/media/stick", "/media/stick")]
    [InlineData("/media/stick/", "/media/stick")]
    [InlineData("/media/other", null)]
    [InlineData("/var/lib", null)]
    public void ANamedPlaceMustBeMounted(string named, string? place)
    {
        Mounted("pci0000:00/sata", "0");
        Assert.Equal(place, Stick(named).Find());
    }

    [Fact]
    public async Task WithoutALogThereIsNothingToWrite()
    {
        Assert.Null(Stick().Find());
        (bool isDone, Core.Wording.Sentence text) = await Stick().WriteAsync(TestContext.Current.CancellationToken);
        Assert.False(isDone);
        Assert.Contains("no log is kept", text.English, StringComparison.Ordinal);
    }
}
