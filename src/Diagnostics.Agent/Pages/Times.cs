using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Agent.Pages;

/// <summary>Times as a person reads them: 24 hours, UTC said, no finer than a second unless asked.</summary>
internal static class Times
{
    /// <summary>25 Nov 2026, 14:05:09 UTC.</summary>
    public static string Full(Instant time) => At(time).ToString("d MMM yyyy, HH:mm:ss", CultureInfo.InvariantCulture) + " UTC";

    /// <summary>14:05:09 UTC where it is the same day as the end of the report, otherwise with the day.</summary>
    public static string Short(Instant time, Instant? end)
    {
        DateTimeOffset at = At(time);
        return end is { } last && At(last).Date == at.Date
            ? at.ToString("HH:mm:ss", CultureInfo.InvariantCulture) + " UTC"
            : at.ToString("d MMM, HH:mm:ss", CultureInfo.InvariantCulture) + " UTC";
    }

    /// <summary>With milliseconds, for evidence.</summary>
    public static string Exact(Instant time, Instant? end)
    {
        DateTimeOffset at = At(time);
        string format = end is { } last && At(last).Date == at.Date ? "HH:mm:ss.fff" : "d MMM, HH:mm:ss.fff";
        return at.ToString(format, CultureInfo.InvariantCulture) + " UTC";
    }

    /// <summary>14:05, or 25 Nov where the axis counts days.</summary>
    public static string Axis(Instant time, bool isDay) => At(time).ToString(isDay ? "d MMM" : "HH:mm", CultureInfo.InvariantCulture);

    public static string AxisSeconds(Instant time) => At(time).ToString("HH:mm:ss", CultureInfo.InvariantCulture);

    /// <summary>Two largest units: 2 h 10 min, 3 d 4 h, 5.2 s, 40 ms.</summary>
    public static string Span(double seconds)
    {
        if (double.IsNaN(seconds) || seconds < 0)
        {
            return "not known";
        }

        if (seconds < 1)
        {
            return (seconds * 1000).ToString(seconds < 0.01 ? "0.#" : "0", CultureInfo.InvariantCulture) + " ms";
        }

        if (seconds < 59.95)
        {
            return seconds.ToString(seconds < 10 ? "0.#" : "0", CultureInfo.InvariantCulture) + " s";
        }

        long whole = (long)Math.Round(Math.Min(seconds, 1e12));
        (long large, string largeUnit, long small, string smallUnit) = whole switch
        {
            < 3600 => (whole / 60, "min", whole % 60, "s"),
            < 86_400 => (whole / 3600, "h", whole % 3600 / 60, "min"),
            _ => (whole / 86_400, "d", whole % 86_400 / 3600, "h"),
        };
        return small == 0
            ? string.Create(CultureInfo.InvariantCulture, $"{large} {largeUnit}")
            : string.Create(CultureInfo.InvariantCulture, $"{large} {largeUnit} {small} {smallUnit}");
    }

    public static string Machine(Instant time) => time.ToString();

    private static DateTimeOffset At(Instant time)
    {
        long ticks = Math.Clamp(time.Nanoseconds / 100, DateTimeOffset.MinValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks, DateTimeOffset.MaxValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks);
        return DateTimeOffset.UnixEpoch.AddTicks(ticks);
    }
}
