using Diagnostics.Agent.Boards;

namespace Diagnostics.Tests.Boards;

/// <summary>The kernel's files as its documentation has them (Documentation/ABI/testing: sysfs-class-hwmon, sysfs-class-thermal), in a folder of the test.</summary>
public sealed class BoardFilesTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("board");

    public void Dispose() => _root.Delete(recursive: true);

    private void Put(string path, string text)
    {
        string file = Path.Combine(_root.FullName, path);
        Directory.CreateDirectory(Path.GetDirectoryName(file)!);
        File.WriteAllText(file, text);
    }

    private BoardReading Read(string? log = null) => new BoardFiles(_root.FullName, log).Read();

    [Fact]
    public void WhereTheKernelSaysNothingNothingIsKnown() => Assert.Equal(new(null, null, null, null, null), Read());

    [Theory]
    [InlineData("0\n", false)]
    [InlineData("1\n", true)]
    [InlineData("", null)]
    [InlineData("on\n", null)]
    public void TheCriticalAlarmOfTheSupplyIsRead(string text, bool? low)
    {
        Put("sys/class/hwmon/hwmon1/name", "rpi_volt\n");
        Put("sys/class/hwmon/hwmon1/in0_lcrit_alarm", text);
        Assert.Equal(low, Read().SupplyIsLow);
    }

    [Fact]
    public void OneAlarmOfSeveralIsEnoughAndTheLesserAlarmIsLeftAside()
    {
        Put("sys/class/hwmon/hwmon0/in3_min_alarm", "1\n");
        Assert.Null(Read().SupplyIsLow);
        Put("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "0\n");
        Put("sys/class/hwmon/hwmon2/in1_lcrit_alarm", "1\n");
        Assert.True(Read().SupplyIsLow);
    }

    [Fact]
    public void OnlyWhatSlowsTheProcessorCountsAsThrottling()
    {
        Put("sys/class/thermal/cooling_device0/type", "pwm-fan\n");
        Put("sys/class/thermal/cooling_device0/cur_state", "3\n");
        Assert.Null(Read().IsThrottled);
        Put("sys/class/thermal/cooling_device1/type", "cpufreq-cpu0\n");
        Put("sys/class/thermal/cooling_device1/cur_state", "0\n");
        Assert.False(Read().IsThrottled);
        Put("sys/class/thermal/cooling_device1/cur_state", "2\n");
        Assert.True(Read().IsThrottled);
    }

    [Fact]
    public void CountsAndTheHottestZoneAndTheRoomOfTheLogAreRead()
    {
        Put("sys/devices/system/cpu/cpu0/thermal_throttle/core_throttle_count", "4\n");
        Put("sys/devices/system/cpu/cpu1/thermal_throttle/core_throttle_count", "3\n");
        Put("sys/class/thermal/thermal_zone0/temp", "48312\n");
        Put("sys/class/thermal/thermal_zone1/temp", "51000\n");
        BoardReading reading = Read(_root.FullName);
        Assert.Equal((7, 51.0), (reading.ThrottleCount, reading.Celsius));
        Assert.True(reading.FreeBytes > 0);
    }

    /// <summary>Hexadecimal, with or without its mark: bit 0 too low now, bit 16 since the start, bits 1 to 3 slowed. From memory.</summary>
    [Theory]
    [InlineData("0\n", false, false, false)]
    [InlineData("50005\n", true, true, true)]
    [InlineData("0x50000\n", false, true, false)]
    [InlineData("8\n", false, false, true)]
    [InlineData("five\n", null, null, null)]
    public void TheFlagsOfTheFirmwareAreReadWhereAKernelShowsThem(string text, bool? low, bool? wasLow, bool? slowed)
    {
        Put("sys/devices/platform/soc/soc:firmware/get_throttled", text);
        BoardReading reading = Read();
        Assert.Equal((low, wasLow, slowed), (reading.SupplyIsLow, reading.SupplyWasLow, reading.IsThrottled));
    }

    [Fact]
    public void EitherSignOfALowSupplyIsEnough()
    {
        Put("sys/devices/platform/soc/soc:firmware/get_throttled", "0\n");
        Put("sys/class/hwmon/hwmon1/in0_lcrit_alarm", "1\n");
        Assert.True(Read().SupplyIsLow);
    }

    [Fact]
    public void ADiskThatCanOnlyBeReadIsKnownFromTheTableOfMounts()
    {
        string log = Path.Combine(_root.FullName, "log");
        Put("proc/self/mountinfo", $"24 1 98:0 / {log} rw,relatime - ext4 /dev/mmcblk0p2 ro,errors=remount-ro\n");
        Assert.True(Read(log).DiskIsReadOnly);
        Put("proc/self/mountinfo", $"24 1 98:0 / {log} rw,relatime - ext4 /dev/mmcblk0p2 rw\n");
        Assert.False(Read(log).DiskIsReadOnly);
        Assert.Null(Read().DiskIsReadOnly);
    }
}
