using System.Globalization;

namespace Diagnostics.Agent.Boards;

/// <summary>
/// Reads the few files in which Linux tells how the board is. Under-voltage: <c>inY_lcrit_alarm</c> of a hwmon device (Documentation/ABI/testing/sysfs-class-hwmon; the driver
/// raspberrypi-hwmon has it as its only file). Its lesser kin <c>inY_min_alarm</c> is left aside: on many boards it stands for inputs that aren't wired. Throttling: the state of a
/// cooling device that slows the processor (sysfs-class-thermal), and the processor's own count (sysfs-devices-system-cpu).
/// </summary>
/// <param name="root">Where the system's files begin: <c>/</c>, or fixtures of a test.</param>
/// <param name="logDirectory">On whose disk room is looked for; null = nowhere.</param>
internal sealed class BoardFiles(string root, string? logDirectory)
{
    /// <summary>Types of cooling devices that slow the processor: of ARM boards, and of ACPI.</summary>
    private static readonly string[] Slowing = ["cpufreq", "processor"];

    public BoardReading Read()
    {
        bool[] alarms = [.. Below("sys/class/hwmon", "hwmon*").SelectMany(device => Files(device, "in*_lcrit_alarm")).Select(Number).OfType<long>().Select(value => value != 0)];
        long[] slowed = [.. Below("sys/class/thermal", "cooling_device*")
            .Where(device => Text(Path.Combine(device, "type")) is { } type && Array.Exists(Slowing, word => type.Contains(word, StringComparison.OrdinalIgnoreCase)))
            .Select(device => Number(Path.Combine(device, "cur_state"))).OfType<long>()];
        long[] counts = [.. Below("sys/devices/system/cpu", "cpu*").Select(core => Number(Path.Combine(core, "thermal_throttle", "core_throttle_count"))).OfType<long>()];
        double[] celsius = [.. Below("sys/class/thermal", "thermal_zone*").Select(zone => Number(Path.Combine(zone, "temp"))).OfType<long>().Select(value => value / 1000.0)];
        return new(
            alarms.Length > 0 ? alarms.Contains(true) : null,
            slowed.Length > 0 ? slowed.Any(state => state > 0) : null,
            counts.Length > 0 ? counts.Sum() : null,
            celsius.Length > 0 ? celsius.Max() : null,
            Free());
    }

    private string[] Below(string folder, string pattern) => Entries(() => Directory.GetDirectories(Path.Combine(root, folder), pattern));

    private static string[] Files(string folder, string pattern) => Entries(() => Directory.GetFiles(folder, pattern));

    /// <summary>What isn't there, or goes while it is read, says nothing.</summary>
    private static string[] Entries(Func<string[]> list)
    {
        try
        {
            return list();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return [];
        }
    }

    private static string? Text(string file)
    {
        try
        {
            return File.ReadAllText(file).Trim();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    private static long? Number(string file) =>
        long.TryParse(Text(file), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out long value) ? value : null;

    private long? Free()
    {
        try
        {
            return logDirectory is null ? null : new DriveInfo(logDirectory).AvailableFreeSpace;
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return null;
        }
    }
}
