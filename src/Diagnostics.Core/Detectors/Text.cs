using System.Globalization;

namespace Diagnostics.Core.Detectors;

/// <summary>Numbers and durations as sentences show them, invariant. No time of day: only the reader of the report knows the zone.</summary>
internal static class Text
{
    public static string Of(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    public static string Seconds(double seconds) => seconds switch
    {
        < 0.9995 => Of($"{seconds * 1000:0.#} ms"),
        < 9.95 => Of($"{seconds:0.#} s"),
        < 119.5 => Of($"{seconds:0} s"),
        < 599.5 when Math.Round(seconds) % 60 is > 0 and double rest => Of($"{Math.Floor(Math.Round(seconds) / 60):0} min {rest:0} s"),
        < 7_170 => Of($"{seconds / 60:0} min"),
        < 172_800 => Of($"{seconds / 3600:0.#} h"),
        _ => Of($"{seconds / 86_400:0.#} days"),
    };

    /// <summary>A large number to one digit, as nobody reads more: 4,000,000.</summary>
    public static string Rounded(double number)
    {
        double unit = Math.Pow(10, Math.Floor(Math.Log10(Math.Max(1, number))));
        return (Math.Round(number / unit) * unit).ToString("N0", CultureInfo.InvariantCulture);
    }

    public static string Percent(double ratio) => Of($"{ratio * 100:0.#} %");
}
