using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Core.Detectors;

/// <summary>Numbers and times as sentences show them: invariant, 24 hours, UTC.</summary>
internal static class Text
{
    public static string Of(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    public static string Clock(Instant time) =>
        DateTimeOffset.FromUnixTimeMilliseconds(Math.Clamp(time.Nanoseconds / 1_000_000, -62_135_596_800_000, 253_402_300_799_999))
            .ToString("yyyy-MM-dd HH:mm:ss 'UTC'", CultureInfo.InvariantCulture);

    public static string Seconds(double seconds) => seconds switch
    {
        < 0.9995 => Of($"{seconds * 1000:0.#} ms"),
        < 9.95 => Of($"{seconds:0.#} s"),
        < 119.5 => Of($"{seconds:0} s"),
        < 7_170 => Of($"{seconds / 60:0} min"),
        < 172_800 => Of($"{seconds / 3600:0.#} h"),
        _ => Of($"{seconds / 86_400:0.#} days"),
    };

    public static string Percent(double ratio) => Of($"{ratio * 100:0.#} %");
}
