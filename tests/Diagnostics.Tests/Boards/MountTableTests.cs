using Diagnostics.Agent.Boards;

namespace Diagnostics.Tests.Boards;

/// <summary>Lines as man proc_pid_mountinfo has them.</summary>
public class MountTableTests
{
    private const string Board = """
        24 1 179:2 / / rw,noatime - ext4 /dev/mmcblk0p2 rw,errors=remount-ro
        30 24 0:25 / /run rw,nosuid,nodev shared:11 - tmpfs tmpfs rw,size=94284k,mode=755
        31 24 179:1 / /boot ro,relatime shared:12 - vfat /dev/mmcblk0p1 rw,fmask=0022
        36 24 8:1 / /media/a\040stick rw,relatime shared:13 master:1 propagate_from:2 - ext4 /dev/sda1 ro
        """;

    [Theory]
    [InlineData("/var/lib/diagnostics", false)]
    [InlineData("/boot/log", true)]
    [InlineData("/bootlog", false)]
    [InlineData("/media/a stick", true)]
    [InlineData("/media/a stick/log", true)]
    [InlineData("/media/another", false)]
    [InlineData("/", false)]
    public void TheNearestMountAboveAPathDecides(string path, bool isReadOnly) => Assert.Equal(isReadOnly, MountTable.IsReadOnly(Board, path));

    [Fact]
    public void WhatIsMountedLaterOnTheSamePlaceHidesWhatWasThere()
    {
        string covered = Board + "\n40 31 179:3 / /boot rw,relatime - ext4 /dev/mmcblk0p3 rw";
        Assert.False(MountTable.IsReadOnly(covered, "/boot/log"));
    }

    [Theory]
    [InlineData("rw,emergency_ro")]
    [InlineData("rw,shutdown,errors=continue")]
    public void AFileSystemThatGaveUpIsKnownByTheNameThatItsKernelHasForThat(string options) =>
        Assert.True(MountTable.IsReadOnly($"24 1 179:2 / / rw,noatime - ext4 /dev/root {options}", "/var/lib/diagnostics"));

    [Theory]
    [InlineData("")]
    [InlineData("24 1 179:2 / / rw,noatime")]
    [InlineData("- - - -")]
    [InlineData("24 1 179:2 / / rw -")]
    [InlineData("24 1 179:2 / / rw - ext4 /dev/root")]
    public void ATableThatDoesNotTellTellsNothing(string table) => Assert.Null(MountTable.IsReadOnly(table, "/var/lib/diagnostics"));

    [Fact]
    public void ThisMachinesOwnTableIsRead() => Assert.NotNull(MountTable.IsReadOnly(File.ReadAllText("/proc/self/mountinfo"), AppContext.BaseDirectory));

    /// <summary>As a hardened service sees it that was started from a USB disk: its root can only be read, its own directory is on the same disk, and none of that is a stick.</summary>
    [Fact]
    public void DisksOfTheSystemAreNoSticks()
    {
        const string Hardened = """
            24 1 8:2 / / ro,noatime - ext4 /dev/sda2 rw
            25 24 8:2 /var/lib/diagnostics /var/lib/diagnostics rw,noatime - ext4 /dev/sda2 rw
            30 24 0:25 / /run rw,nosuid - tmpfs tmpfs rw
            36 24 8:17 / /media/a\040stick rw,relatime - vfat /dev/sdb1 rw
            37 24 8:33 / /media/read ro,relatime - vfat /dev/sdc1 rw
            """;
        Assert.Equal([new Mount("/media/a stick", "8:17")], MountTable.Writable(Hardened));
    }
}
