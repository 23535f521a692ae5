using System.Text;

namespace Diagnostics.Agent.Languages;

/// <summary>
/// The translations of one language, read from a file of the form of GNU gettext (PO), which translators' tools write: <c>msgid</c> is the English template,
/// <c>msgstr</c> the translation. Strict, because the file is ours: what isn't understood is refused with its line. Obsolete entries (<c>#~</c>) are
/// templates that this version no longer says, but that older logs still hold. Plural forms, contexts and doubtful ("fuzzy") entries aren't used here.
/// </summary>
internal sealed class Catalogue
{
    private readonly Dictionary<string, CatalogueEntry> _entries;

    private Catalogue(Dictionary<string, CatalogueEntry> entries) => _entries = entries;

    public IReadOnlyCollection<CatalogueEntry> Entries => _entries.Values;

    /// <summary>Null where there is none, or an empty one.</summary>
    public string? Find(string template) => _entries.TryGetValue(template, out CatalogueEntry? entry) && entry.Translation.Length > 0 ? entry.Translation : null;

    /// <exception cref="FormatException">It isn't such a file; says the line.</exception>
    public static Catalogue Parse(string text)
    {
        Dictionary<string, CatalogueEntry> entries = new(StringComparer.Ordinal);
        StringBuilder? id = null;
        StringBuilder? translation = null;
        bool isObsolete = false;
        int number = 0;
        foreach (string raw in text.Split('\n'))
        {
            number++;
            string line = raw.Trim();
            bool isMarkedObsolete = line.StartsWith("#~", StringComparison.Ordinal);
            if (isMarkedObsolete)
            {
                line = line[2..].TrimStart();
            }

            if (line.StartsWith("#,", StringComparison.Ordinal))
            {
                throw Wrong(number, "flags are not used");
            }

            if (line.Length == 0 || line[0] == '#')
            {
                continue;
            }

            if (line.StartsWith("msgid ", StringComparison.Ordinal))
            {
                Keep(entries, id, translation, isObsolete, number);
                id = new(Quoted(line[6..], number));
                translation = null;
                isObsolete = isMarkedObsolete;
            }
            else if (isObsolete != isMarkedObsolete)
            {
                throw Wrong(number, "half of an entry is obsolete");
            }
            else if (line.StartsWith("msgstr ", StringComparison.Ordinal) && id is not null && translation is null)
            {
                translation = new(Quoted(line[7..], number));
            }
            else if (line[0] == '"' && (translation ?? id) is { } last)
            {
                last.Append(Quoted(line, number));
            }
            else
            {
                throw Wrong(number, "neither msgid, msgstr nor a text");
            }
        }

        Keep(entries, id, translation, isObsolete, number);
        return new(entries);
    }

    private static void Keep(Dictionary<string, CatalogueEntry> entries, StringBuilder? id, StringBuilder? translation, bool isObsolete, int line)
    {
        if (id is null)
        {
            return;
        }

        CatalogueEntry entry = new(id.ToString(), translation?.ToString() ?? throw Wrong(line, "a msgid without msgstr"), isObsolete);

        // The entry of an empty identifier is the file's header.
        if (entry.Template.Length > 0 && !entries.TryAdd(entry.Template, entry))
        {
            throw Wrong(line, $"\"{entry.Template}\" is there twice");
        }
    }

    private static string Quoted(string text, int line)
    {
        text = text.Trim();
        if (text.Length < 2 || text[0] != '"' || text[^1] != '"')
        {
            throw Wrong(line, "a text stands in quotes");
        }

        StringBuilder plain = new(text.Length);
        for (int index = 1; index < text.Length - 1; index++)
        {
            char character = text[index];
            if (character == '"')
            {
                throw Wrong(line, "a quote in a text has a backslash");
            }

            if (character == '\\')
            {
                character = ++index < text.Length - 1
                    ? text[index] switch { 'n' => '\n', 't' => '\t', '"' => '"', '\\' => '\\', _ => throw Wrong(line, "an unknown escape") }
                    : throw Wrong(line, "the closing quote is escaped");
            }

            plain.Append(character);
        }

        return plain.ToString();
    }

    private static FormatException Wrong(int line, string what) => new($"Catalogue, line {line}: {what}.");
}
