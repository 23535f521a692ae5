using System.Globalization;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>Numbers and durations as sentences show them, invariant. No time of day: only the reader of the report knows the zone.</summary>
internal static class Text
{
    public static string Of(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    public static Sentence Seconds(double seconds) => seconds switch
    {
        < 0.9995 => Say($"{seconds * 1000:0.#} ms"),
        < 9.95 => Say($"{seconds:0.#} s"),
        < 119.5 => Say($"{seconds:0} s"),
        < 599.5 when Math.Round(seconds) % 60 is > 0 and double rest => Say($"{Math.Floor(Math.Round(seconds) / 60):0} min {rest:0} s"),
        < 7_170 => Say($"{seconds / 60:0} min"),
        < 172_800 => Say($"{seconds / 3600:0.#} h"),
        _ => Say($"{seconds / 86_400:0.#} days"),
    };

    /// <summary>A large number to one digit, as nobody reads more: 4,000,000.</summary>
    public static double Rounded(double number)
    {
        double unit = Math.Pow(10, Math.Floor(Math.Log10(Math.Max(1, number))));
        return Math.Round(number / unit) * unit;
    }

    public static Sentence Percent(double ratio) => Say($"{ratio * 100:0.#} %");
}
