using System.Text;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent;

/// <summary>
/// An argument, a file or a setting is wrong. The message is one line that says which, why and what to do; the program ends with exit code 2.
/// </summary>
internal class SettingException : Exception
{
    private const int LongestMessage = 500;

    public SettingException(string which, string why, string remedy)
        : base(OneLine($"{which}: {why}; {remedy}."))
    {
    }

    /// <summary>What a form says, where the setting can come from one.</summary>
    public SettingException(string which, string why, string remedy, Sentence said)
        : this(which, why, remedy) => Said = said;

    /// <summary>For a page: without the words of the command line where it can do without.</summary>
    public Sentence Said { get => field ?? Sentence.Plain(Message); private init; }

    /// <summary>What users type and files hold may carry line breaks and control characters; they don't reach the terminal.</summary>
    public static string OneLine(string text)
    {
        StringBuilder line = new(Math.Min(text.Length, LongestMessage));
        foreach (char character in text)
        {
            if (line.Length == LongestMessage)
            {
                line.Append('…');
                break;
            }

            line.Append(char.IsControl(character) || character is '\u2028' or '\u2029' or (>= '\u202A' and <= '\u202E') or (>= '\u2066' and <= '\u2069') ? ' ' : character);
        }

        return line.ToString();
    }
}
