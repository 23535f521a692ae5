using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.Json.Serialization;

namespace Diagnostics.Core.Wording;

/// <summary>
/// What is said to a person, kept so that it can be said in another language: the English text with places for its parameters is its code in the catalogue
/// of each language, as message identifiers are in GNU gettext. Written as <c>Say($"{node} stopped.")</c>: what stands between braces is a parameter.
/// </summary>
/// <param name="Template">English, with {0}, {1}… where parameters go; a brace itself is doubled.</param>
/// <param name="Parameters">In the order of their numbers.</param>
[JsonConverter(typeof(SentenceJsonConverter))]
public sealed record Sentence(string Template, IReadOnlyList<SentenceParameter> Parameters)
{
    public static readonly Sentence Empty = new(string.Empty, []);

    [ExcludeFromCodeCoverage]
    public bool IsEmpty => Template.Length == 0;

    /// <summary>In English.</summary>
    public string English => Fill(Template, Parameters, parameter => parameter.English);

    public override string ToString() => English;

    public bool Equals(Sentence? other) => other is not null && Template == other.Template && Parameters.SequenceEqual(other.Parameters);

    public override int GetHashCode() => HashCode.Combine(Template, Parameters.Count);

    /// <summary>
    /// A template with its parameters in it. Templates also come out of stored logs and catalogues, so none is trusted: a place without a parameter stays as it is.
    /// </summary>
    public static string Fill(string template, IReadOnlyList<SentenceParameter> parameters, Func<SentenceParameter, string> say)
    {
        if (template.AsSpan().IndexOfAny('{', '}') < 0)
        {
            return template;
        }

        StringBuilder text = new(template.Length + 32);
        for (int index = 0; index < template.Length; index++)
        {
            char character = template[index];
            if (character is '{' or '}' && index + 1 < template.Length && template[index + 1] == character)
            {
                text.Append(character);
                index++;
            }
            else if (character == '{'
                && template.IndexOf('}', index) is > 0 and int end
                && int.TryParse(template.AsSpan(index + 1, end - index - 1), NumberStyles.None, CultureInfo.InvariantCulture, out int place)
                && place < parameters.Count)
            {
                text.Append(say(parameters[place]));
                index = end;
            }
            else
            {
                text.Append(character);
            }
        }

        return text.ToString();
    }
}

/// <summary>One parameter: exactly one of a name that is said as it is, a number, or a sentence in it.</summary>
/// <param name="Name">Said as it is in every language: what a person or a device called something, an identifier.</param>
/// <param name="Number">Written the invariant way; a language may write its separators.</param>
/// <param name="Part">Said in the language of the whole.</param>
public readonly record struct SentenceParameter(string? Name, string? Number, Sentence? Part)
{
    public string English => Name ?? Number ?? Part?.English ?? string.Empty;
}

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

        Sentence before = parts[0];
        for (int index = 1; index < parts.Count - 1; index++)
        {
            before = Say($"{before}, {parts[index]}");
        }

        return Say($"{before} and {parts[^1]}");
    }

    /// <summary>Sentences one after the other; empty ones are left out.</summary>
    public static Sentence Join(params IEnumerable<Sentence> parts)
    {
        Sentence? whole = null;
        foreach (Sentence part in parts)
        {
            whole = part.IsEmpty ? whole : whole is null ? part : Say($"{whole} {part}");
        }

        return whole ?? Sentence.Empty;
    }

    /// <summary>A name that is the same in every language.</summary>
    public static Sentence Named(string name) => Say($"{name}");
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

    public void AppendLiteral(string text) => _template.Append(text.Contains('{', StringComparison.Ordinal) || text.Contains('}', StringComparison.Ordinal)
        ? text.Replace("{", "{{", StringComparison.Ordinal).Replace("}", "}}", StringComparison.Ordinal)
        : text);

    public void AppendFormatted(string? name) => Add(new(name ?? string.Empty, null, null));

    public void AppendFormatted(Sentence part) => Add(new(null, null, part));

    public void AppendFormatted<T>(T number, string? format = null)
        where T : IFormattable => Add(new(null, number.ToString(format, CultureInfo.InvariantCulture), null));

    internal Sentence ToSentence() => new(_template.ToString(), _parameters);

    private void Add(SentenceParameter parameter)
    {
        _template.Append('{').Append(_parameters.Count).Append('}');
        _parameters.Add(parameter);
    }
}
