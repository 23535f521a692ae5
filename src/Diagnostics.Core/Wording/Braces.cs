namespace Diagnostics.Core.Wording;

/// <summary>In a template a brace of the text itself is doubled.</summary>
public static class Braces
{
    public static string Doubled(string text) => text.AsSpan().IndexOfAny('{', '}') < 0
        ? text
        : text.Replace("{", "{{", StringComparison.Ordinal).Replace("}", "}}", StringComparison.Ordinal);
}
