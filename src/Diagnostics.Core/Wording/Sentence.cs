using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.RegularExpressions;
using System.Text.Json.Serialization;

namespace Diagnostics.Core.Wording;

/// <summary>
/// What is said to a person, kept so that it can be said in another language: the English text with places for its parameters is its code in the catalogue
/// of each language, as message identifiers are in GNU gettext. Written as <c>Say($"{node} stopped.")</c>: what stands between braces is a parameter.
/// </summary>
/// <param name="Template">English, with {0}, {1}… where parameters go; a brace itself is doubled.</param>
/// <param name="Parameters">In the order of their numbers.</param>
[JsonConverter(typeof(SentenceJsonConverter))]
public sealed partial record Sentence(string Template, IReadOnlyList<SentenceParameter> Parameters)
{
    public static readonly Sentence Empty = new(string.Empty, []);

    /// <summary>Its first letter is said as a capital, because it stands where a sentence begins.</summary>
    public bool BeginsAsSentence { get; init; }

    public bool IsEmpty => Template.Length == 0;

    /// <summary>Itself where the English text alone doesn't tell what it is made from: that is what is stored beside such a text.</summary>
    public Sentence? WhereNeeded => Parameters.Count > 0 ? this : null;

    /// <summary>A text that has no parameters: its English is its template.</summary>
    public static Sentence Plain(string text) => new(Braces.Doubled(text), []);

    /// <summary>From where sentences aren't known: what stands in the places are numbers, names, or such texts themselves.</summary>
    public static Sentence Of(FormattableString text) => new(
        PlaceWithFormat().Replace(text.Format, "{$1}"),
        [.. Enumerable.Range(0, text.ArgumentCount).Select(place => text.GetArgument(place) switch
        {
            FormattableString part => new SentenceParameter(null, null, Of(part)),
            IFormattable number => new(null, Written(number, FormatOf(text.Format, place)), null),
            object name => new(name.ToString(), null, null),
            null => new SentenceParameter(string.Empty, null, null),
        })]);

    private static string? FormatOf(string format, int place) =>
        PlaceWithFormat().Matches(format).FirstOrDefault(match => match.Groups[1].Value == place.ToString(CultureInfo.InvariantCulture)) is { } found && found.Groups[2].Success ? found.Groups[2].Value : null;

    /// <summary>What rounds to nothing has no sign: "-0.00 V" reads as a fault.</summary>
    internal static string Written(IFormattable number, string? format)
    {
        string text = number.ToString(format, CultureInfo.InvariantCulture);
        return text.StartsWith('-') && text.AsSpan().IndexOfAnyInRange('1', '9') < 0 ? text[1..] : text;
    }

    [GeneratedRegex(@"\{(\d+)(?::([^}]*))?\}")]
    private static partial Regex PlaceWithFormat();

    /// <summary>In English.</summary>
    public string English => Said(template => template, number => number);

    /// <summary>In a language.</summary>
    /// <param name="translate">Gives the language's template for an English one.</param>
    /// <param name="number">Writes a number, which is handed over as the invariant culture writes it, as the language does.</param>
    public string Said(Func<string, string> translate, Func<string, string> number)
    {
        if (Parameters.Count == 0 && !BeginsAsSentence && Template.AsSpan().IndexOfAny('{', '}') < 0)
        {
            return translate(Template);
        }

        SentenceWriter writer = new(translate, number);
        writer.Add(this);
        return writer.ToString();
    }

    public override string ToString() => English;

    public bool Equals(Sentence? other) => other is not null && Template == other.Template && BeginsAsSentence == other.BeginsAsSentence && Parameters.SequenceEqual(other.Parameters);

    public override int GetHashCode() => HashCode.Combine(Template, Parameters.Count);
}

/// <summary>One parameter: exactly one of a name that is said as it is, a number, or a sentence in it.</summary>
/// <param name="Name">Said as it is in every language: what a person or a device called something, an identifier.</param>
/// <param name="Number">Written the invariant way; a language may write its separators.</param>
/// <param name="Part">Said in the language of the whole.</param>
public readonly record struct SentenceParameter(string? Name, string? Number, Sentence? Part);

/// <summary>Makes sentences. Files that talk write <c>using static Diagnostics.Core.Wording.Wordings;</c> and then <c>Say($"…")</c>.</summary>
public static class Wordings
{
    /// <summary>A sentence with its parameters. Numbers are written the invariant way, names as they are.</summary>
    public static Sentence Say(SentenceHandler text) => text.ToSentence();

    /// <summary>One of two sentences by a number, as English has it: one, or any other.</summary>
    public static Sentence Say(long count, SentenceHandler one, SentenceHandler many) => count == 1 ? one.ToSentence() : many.ToSentence();

    /// <summary>A list: "A, B and C".</summary>
    public static Sentence List(IReadOnlyList<Sentence> parts)
    {
        if (parts.Count < 2)
        {
            return parts.Count == 0 ? Sentence.Empty : parts[0];
        }

        return Say($"{Listed([.. parts.Take(parts.Count - 1)])} and {parts[^1]}");
    }

    /// <summary>A list that may go on, or has room for commas only: "A, B, C".</summary>
    public static Sentence Listed(IReadOnlyList<Sentence> parts) => parts.Count == 0 ? Sentence.Empty : Pair([.. parts], (first, second) => Say($"{first}, {second}"));

    /// <summary>Sentences one after the other; empty ones are left out.</summary>
    public static Sentence Join(params IEnumerable<Sentence> parts)
    {
        Sentence[] said = [.. parts.Where(part => !part.IsEmpty)];
        return said.Length == 0 ? Sentence.Empty : Pair(said, (first, second) => Say($"{first} {second}"));
    }

    /// <summary>The same, said where a sentence begins.</summary>
    public static Sentence Capital(Sentence sentence) => sentence with { BeginsAsSentence = true };

    /// <summary>A name that is the same in every language.</summary>
    public static Sentence Named(string name) => Say($"{name}");

    /// <summary>Pairs of halves, so that many parts are not as deep as they are many: what is stored is read back to a bounded depth.</summary>
    private static Sentence Pair(ReadOnlySpan<Sentence> parts, Func<Sentence, Sentence, Sentence> both) => parts.Length == 1
        ? parts[0]
        : both(Pair(parts[..((parts.Length + 1) / 2)], both), Pair(parts[((parts.Length + 1) / 2)..], both));
}

/// <summary>Takes an interpolated text apart into template and parameters.</summary>
[InterpolatedStringHandler]
public readonly ref struct SentenceHandler
{
    private readonly StringBuilder _template;
    private readonly List<SentenceParameter> _parameters;

    public SentenceHandler(int literalLength, int formattedCount)
    {
        _template = new(literalLength + (4 * formattedCount));
        _parameters = new(formattedCount);
    }

    public void AppendLiteral(string text) => _template.Append(Braces.Doubled(text));

    public void AppendFormatted(string? name) => Add(new(name ?? string.Empty, null, null));

    public void AppendFormatted(Sentence part) => Add(new(null, null, part));

    public void AppendFormatted<T>(T number, string? format = null)
        where T : IFormattable => Add(new(null, Sentence.Written(number, format), null));

    internal Sentence ToSentence() => new(_template.ToString(), _parameters);

    private void Add(SentenceParameter parameter)
    {
        _template.Append('{').Append(_parameters.Count).Append('}');
        _parameters.Add(parameter);
    }
}
