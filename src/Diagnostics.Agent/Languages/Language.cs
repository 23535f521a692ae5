using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Languages;

/// <summary>A language that the page speaks. What its catalogue doesn't have is said in English: a sentence from a newer log is better in English than not at all.</summary>
internal sealed class Language
{
    private readonly Lazy<Catalogue>? _catalogue;
    private readonly bool _swapsSeparators;

    private Language(string code, string name, string? resource, bool swapsSeparators)
    {
        Code = code;
        Name = name;
        _swapsSeparators = swapsSeparators;
        _catalogue = resource is null ? null : new(() => Read(resource));
    }

    public static Language English { get; } = new("en", "English", null, swapsSeparators: false);

    public static Language German { get; } = new("de", "Deutsch", "de.po", swapsSeparators: true);

    public static IReadOnlyList<Language> All { get; } = [English, German];

    /// <summary>As BCP 47 has it.</summary>
    public string Code { get; }

    /// <summary>What it calls itself.</summary>
    public string Name { get; }

    /// <summary>Null for English, which is its own.</summary>
    public Catalogue? Catalogue => _catalogue?.Value;

    public static Language? Find(string? code) => All.FirstOrDefault(language => string.Equals(language.Code, code, StringComparison.OrdinalIgnoreCase));

    public string Say(Sentence sentence) => _catalogue is null ? sentence.English : sentence.Said(Translate, Number);

    /// <summary>A text without parameters is its own template: how those are kept in the report document and in logs.</summary>
    public string Say(string text) => _catalogue is null ? text : _catalogue.Value.Find(Doubled(text)) is { } translation ? translation.Replace("{{", "{", StringComparison.Ordinal).Replace("}}", "}", StringComparison.Ordinal) : text;

    /// <summary>A number as the invariant culture writes it, with this language's separators.</summary>
    public string Number(string invariant) => !_swapsSeparators || invariant.AsSpan().IndexOfAny('.', ',') < 0
        ? invariant
        : string.Create(invariant.Length, invariant, static (target, source) =>
        {
            for (int index = 0; index < source.Length; index++)
            {
                target[index] = source[index] switch { '.' => ',', ',' => '.', var other => other };
            }
        });

    private string Translate(string template) => _catalogue!.Value.Find(template) ?? template;

    private static string Doubled(string text) => text.AsSpan().IndexOfAny('{', '}') < 0
        ? text
        : text.Replace("{", "{{", StringComparison.Ordinal).Replace("}", "}}", StringComparison.Ordinal);

    private static Catalogue Read(string resource)
    {
        using Stream stream = typeof(Language).Assembly.GetManifestResourceStream($"{typeof(Language).Namespace}.{resource}")!;
        using StreamReader reader = new(stream);
        return Catalogue.Parse(reader.ReadToEnd());
    }
}
