using System.Globalization;
using Diagnostics.Agent.Commands;
using Diagnostics.Core.Soak;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Soaks;

/// <summary>A soak test that a person wants, from the command line or the page: the same words, the same checks.</summary>
internal sealed record SoakRequest(string Name, TimeSpan Asked, SoakRules Rules)
{
    public const string UsualName = "soak test";

    /// <summary>Below this nothing is proved at any load.</summary>
    public static readonly TimeSpan Shortest = TimeSpan.FromMinutes(1);

    /// <summary>A year: the log remembers no longer.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromDays(366);

    private const string Any = "any";

    private static readonly (string Unit, double Seconds)[] Units = [("min", 60), ("s", 1), ("m", 60), ("h", 3600), ("d", 86_400)];

    /// <param name="name">Null or empty = the usual one.</param>
    /// <param name="span">As 62h.</param>
    /// <param name="fails">Severities and findings, with commas; null or empty = faults and warnings.</param>
    /// <param name="errorRatio">Errors per bit, or any; null or empty = the usual one.</param>
    /// <param name="restarts">A count, or any; null or empty = none.</param>
    /// <exception cref="SettingException">One of them can't be read.</exception>
    public static SoakRequest Read(string? name, string span, string? fails, string? errorRatio, string? restarts)
    {
        SoakRules rules = new();
        if (!string.IsNullOrWhiteSpace(fails))
        {
            rules = rules with { Fails = [.. fails.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries).Select(Known).Distinct(StringComparer.Ordinal)] };
        }

        if (!string.IsNullOrWhiteSpace(errorRatio))
        {
            rules = rules with { MostErrorRatio = errorRatio.Trim() == Any ? null : Ratio(errorRatio) };
        }

        if (!string.IsNullOrWhiteSpace(restarts))
        {
            rules = rules with { MostRestarts = restarts.Trim() == Any ? null : Number(restarts) };
        }

        string clean = Pages.HtmlWriter.Clean((name ?? string.Empty).Trim());
        return new(clean.Length == 0 ? UsualName : clean.Length > Limits.SoakName ? clean[..Limits.SoakName] : clean, Span(span), rules);
    }

    private static TimeSpan Span(string text)
    {
        string trimmed = text.Trim();
        foreach ((string unit, double seconds) in Units)
        {
            if (trimmed.EndsWith(unit, StringComparison.OrdinalIgnoreCase)
                && double.TryParse(trimmed[..^unit.Length].Trim(), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double count)
                && count * seconds is var length && length >= Shortest.TotalSeconds && length <= Longest.TotalSeconds)
            {
                return TimeSpan.FromSeconds(length);
            }
        }

        throw new SettingException("how long to listen (--for)", $"'{text}' is no time between {Shortest.TotalMinutes:0} min and {Longest.TotalDays:0} d", "write it as 62h, 90min or 3d",
            Say($"“{SettingException.OneLine(text)}” is no time between {Shortest.TotalMinutes:0} min and {Longest.TotalDays:0} d. Write it as 62h, 90min or 3d."));
    }

    private static string Known(string word) =>
        SoakRules.KnownWords.Contains(word) ? word
            : throw new SettingException(
                "what fails it (--fails)",
                $"'{word}' is neither a severity nor a finding",
                Nearest.Of(word, SoakRules.KnownWords) is { } nearest ? $"the nearest is '{nearest}'" : "write fault, warning, or names of the catalogue, with commas",
                Say($"“{SettingException.OneLine(word)}” is neither a severity nor a finding. Write fault, warning, or names of findings, with commas."));

    private static double Ratio(string text) =>
        double.TryParse(text.Trim(), NumberStyles.AllowDecimalPoint | NumberStyles.AllowExponent, CultureInfo.InvariantCulture, out double ratio) && ratio is > 0 and < 1
            ? ratio
            : throw new SettingException("errors that are allowed (--error-ratio)", $"'{text}' is no ratio between 0 and 1", "write errors per bit as 3.1e-9, or any",
                Say($"“{SettingException.OneLine(text)}” is no ratio between 0 and 1. Write errors per bit as 3.1e-9, or any."));

    private static int Number(string text) =>
        int.TryParse(text.Trim(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out int number)
            ? number >= 0 ? number
            : throw new SettingException("restarts that are allowed (--restarts)", $"{number} is negative, which it must not be", "write how many restarts are allowed, 0 or more, or any",
                Say($"Restarts that are allowed must not be negative, as {number} is. Write how many, 0 or more, or any."))
            : throw new SettingException("restarts that are allowed (--restarts)", $"'{text}' is no count", "write how many restarts are allowed, or any",
                Say($"“{SettingException.OneLine(text)}” is no count. Write how many restarts are allowed, or any."));
}
