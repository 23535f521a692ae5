using System.Text;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>The card that lies beside the board: what its light says and what its button does. Plain text that fits on A6, from the definitions that the light itself has.</summary>
internal static class Card
{
    /// <summary>Characters of a line: A6 across (105 mm) in a type of seven points whose letters are six tenths as wide.</summary>
    public const int Width = 62;

    public static string Render(Language language)
    {
        StringBuilder text = new();
        Paragraph(Say($"What the light says"), string.Empty);
        foreach (LightPattern pattern in LightPattern.All)
        {
            text.Append(Drawn(pattern)).Append('\n');
            Paragraph(pattern.Looks, string.Empty);
            Paragraph(pattern.Means, "  ");
            text.Append('\n');
        }

        Paragraph(Say($"The rhythm says it, not the colour. One column above is a tenth of a second: # lit, . dark."), string.Empty);
        text.Append('\n');
        Paragraph(Say($"The button"), string.Empty);
        Paragraph(Say($"Short: \"it just happened\". The frames around this moment are kept."), string.Empty);
        Paragraph(Say($"Held for {PressReader.Long.TotalSeconds:0} seconds: everything that is known goes onto the mounted stick, as one file."), string.Empty);
        return text.ToString();

        void Paragraph(Sentence sentence, string indent)
        {
            foreach (string line in Wrapped(language.Say(sentence), Width - indent.Length))
            {
                text.Append(indent).Append(line).Append('\n');
            }
        }
    }

    /// <summary>Words in lines of at most so many characters; a longer word is cut.</summary>
    public static IEnumerable<string> Wrapped(string text, int width)
    {
        string line = string.Empty;
        foreach (string word in text.Split(' ', StringSplitOptions.RemoveEmptyEntries).SelectMany(word => word.Chunk(width).Select(part => new string(part))))
        {
            if (line.Length > 0 && line.Length + 1 + word.Length > width)
            {
                yield return line;
                line = string.Empty;
            }

            line = line.Length == 0 ? word : $"{line} {word}";
        }

        if (line.Length > 0)
        {
            yield return line;
        }
    }

    /// <summary>The first seconds of a pattern, a column each tenth.</summary>
    private static string Drawn(LightPattern pattern) =>
        string.Concat(Enumerable.Range(0, Width).Select(column => pattern.IsLit(TimeSpan.FromMilliseconds((column * 100) + 50)) ? '#' : '.'));
}
