using System.Globalization;

namespace Diagnostics.Agent.Boards;

/// <summary>
/// Reads the few files in which Linux tells how the board is. Under-voltage: <c>inY_lcrit_alarm</c> of a hwmon device (Documentation/ABI/testing/sysfs-class-hwmon; the driver
/// raspberrypi-hwmon has it as its only file); or the flags of the firmware behind it, where a kernel shows them (<see cref="FirmwareFlags"/>). Its lesser kin <c>inY_min_alarm</c> is left aside: on many boards it stands for inputs that aren't wired. Throttling: the state of a
/// cooling device that slows the processor (sysfs-class-thermal), and the processor's own count (sysfs-devices-system-cpu).
/// </summary>
/// <param name="root">Where the system's files begin: <c>/</c>, or fixtures of a test.</param>
/// <param name="logDirectory">On whose disk room is looked for; null = nowhere.</param>
internal sealed class BoardFiles(string root, string? logDirectory)
{
    /// <summary>Types of cooling devices that slow the processor: of ARM boards, and of ACPI.</summary>
    private static readonly string[] Slowing = ["cpufreq", "processor"];

    /// <summary>
    /// <c>get_throttled</c> of the firmware's own device, hexadecimal: bit 0 the supply is too low, 1 and 2 the processor is slowed, 3 it is near its limit of temperature; sixteen bits higher the same
    /// at some time since the board started. From memory; no kernel documentation lists it.
    /// </summary>
    [Flags]
    private enum FirmwareFlags
    {
        SupplyIsLow = 1 << 0,
        IsCapped = 1 << 1,
        IsThrottled = 1 << 2,
        IsHot = 1 << 3,
        SupplyWasLow = 1 << 16,
    }

    public BoardReading Read()
    {
        FirmwareFlags? firmware = Below("sys/devices/platform/soc", "*firmware").Select(device => Flags(Path.Combine(device, "get_throttled"))).FirstOrDefault(flags => flags is not null);
        bool[] alarms = [.. Below("sys/class/hwmon", "hwmon*").SelectMany(device => Files(device, "in*_lcrit_alarm")).Select(Number).OfType<long>().Select(value => value != 0)];
        long[] slowed = [.. Below("sys/class/thermal", "cooling_device*")
            .Where(device => Text(Path.Combine(device, "type")) is { } type && Array.Exists(Slowing, word => type.Contains(word, StringComparison.OrdinalIgnoreCase)))
            .Select(device => Number(Path.Combine(device, "cur_state"))).OfType<long>()];
        long[] counts = [.. Below("sys/devices/system/cpu", "cpu*").Select(core => Number(Path.Combine(core, "thermal_throttle", "core_throttle_count"))).OfType<long>()];
        double[] celsius = [.. Below("sys/class/thermal", "thermal_zone*").Select(zone => Number(Path.Combine(zone, "temp"))).OfType<long>().Select(value => value / 1000.0)];
        return new(
            Either(alarms.Length > 0 ? alarms.Contains(true) : null, Has(firmware, FirmwareFlags.SupplyIsLow)),
            Either(slowed.Length > 0 ? slowed.Any(state => state > 0) : null, Has(firmware, FirmwareFlags.IsCapped | FirmwareFlags.IsThrottled | FirmwareFlags.IsHot)),
            counts.Length > 0 ? counts.Sum() : null,
            celsius.Length > 0 ? celsius.Max() : null,
            Free())
        {
            SupplyWasLow = Has(firmware, FirmwareFlags.SupplyWasLow),
            DiskIsReadOnly = logDirectory is not null && Text(Path.Combine(root, "proc/self/mountinfo")) is { } table ? MountTable.IsReadOnly(table, Path.GetFullPath(logDirectory)) : null,
        };
    }

    private static bool? Either(bool? one, bool? other) => one == true || other == true ? true : one ?? other;

    private static bool? Has(FirmwareFlags? flags, FirmwareFlags any) => flags is { } known ? (known & any) != 0 : null;

    private static FirmwareFlags? Flags(string file) =>
        Text(file) is { } text && int.TryParse(text.StartsWith("0x", StringComparison.OrdinalIgnoreCase) ? text[2..] : text, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out int flags)
            ? (FirmwareFlags)flags
            : null;

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
