using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Agent.Commands;

/// <summary>A moment that a person types: ISO 8601 with a zone (2026-11-24T14:00Z, 2026-11-24T14:00+01:00), or without one as the clock on the wall of this machine's zone.</summary>
internal static class TimeArgument
{
    private const string Remedy = "write it as 2026-11-24T14:00, or with its zone as 2026-11-24T14:00+01:00 or …Z";

    private static readonly string[] Local = ["yyyy-MM-dd'T'HH:mm", "yyyy-MM-dd'T'HH:mm:ss", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFF", "yyyy-MM-dd HH:mm", "yyyy-MM-dd HH:mm:ss", "yyyy-MM-dd"];
    private static readonly string[] WithZone = [.. Local.Where(format => format.Contains("HH", StringComparison.Ordinal)).SelectMany(format => new[] { format + "K", format + "zzz" })];

    /// <exception cref="SettingException">It is no time, or one that the zone doesn't have or has twice.</exception>
    public static Instant Read(string option, string text, TimeZoneInfo zone)
    {
        if (DateTime.TryParseExact(text, Local, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateTime wall))
        {
            if (zone.IsInvalidTime(wall) || zone.IsAmbiguousTime(wall))
            {
                string why = zone.IsInvalidTime(wall) ? "the clock jumped over it" : "the clock showed it twice";
                throw new SettingException(option, $"'{text}' isn't one moment in this machine's zone, as {why}", "write it with its zone, as 2026-11-24T14:00+01:00 or …Z");
            }

            return Instant.FromDateTime(new(wall, zone.GetUtcOffset(wall)));
        }

        return DateTimeOffset.TryParseExact(text, WithZone, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out DateTimeOffset time)
            ? Instant.FromDateTime(time)
            : throw new SettingException(option, $"'{text}' is no time", Remedy);
    }
}
