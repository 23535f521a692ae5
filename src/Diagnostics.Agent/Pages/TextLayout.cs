using System.Text;

namespace Diagnostics.Agent.Pages;

/// <summary>How text for a terminal is laid out: 80 columns, headings underlined, labels in a column of their own.</summary>
internal static class TextLayout
{
    private const int Columns = 80;
    private const int LabelWidth = 14;

    public static void Heading(StringBuilder text, string heading) =>
        text.Append('\n').Append(heading).Append('\n').Append('-', heading.Length).Append('\n');

    public static void Labelled(StringBuilder text, string label, string? value)
    {
        if (!string.IsNullOrWhiteSpace(value))
        {
            Wrap(text, "   " + label.PadRight(LabelWidth - 3), value);
        }
    }

    /// <summary>Breaks at spaces, but not before "%"; the first line begins with the lead, the others are indented as far. A word longer than a line is broken.</summary>
    public static void Wrap(StringBuilder text, string lead, string value)
    {
        string indent = new(' ', lead.Length);
        StringBuilder line = new(lead);
        bool isEmpty = true;
        foreach (string whole in HtmlWriter.Clean(value).Replace(" %", "\u00A0%", StringComparison.Ordinal).Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            string word = whole.Replace('\u00A0', ' ');
            while (true)
            {
                int room = Columns - line.Length - (isEmpty ? 0 : 1);
                if (word.Length <= room)
                {
                    line.Append(isEmpty ? string.Empty : " ").Append(word);
                    isEmpty = false;
                    break;
                }

                if (isEmpty)
                {
                    int cut = Math.Max(1, room);
                    line.Append(word, 0, cut);
                    word = word[cut..];
                }

                text.Append(line).Append('\n');
                line.Clear().Append(indent);
                isEmpty = true;
            }
        }

        text.Append(line).Append('\n');
    }
}
