using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Unicode;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Writes HTML in which only literals of this program are markup: every interpolated value is encoded, whatever it is. Names come from the site and
/// may be hostile, so control characters and those that turn the direction of text are shown as a replacement character, and long ones are cut.
/// </summary>
/// <param name="language">In which sentences are said; English unless told otherwise.</param>
internal sealed class HtmlWriter(Language? language = null)
{
    private static readonly HtmlEncoder Encoder = HtmlEncoder.Create(UnicodeRanges.All);

    private readonly StringBuilder _text = new(32 * 1024);

    public Language Language { get; } = language ?? Language.English;

    public void Add([InterpolatedStringHandlerArgument("")] ref Handler markup)
    {
    }

    /// <summary>A literal of this program, or what another of its writers made.</summary>
    public void Literal(string markup) => _text.Append(markup);

    /// <summary>The value of a field, encoded and otherwise exactly as it is: what comes back with the form must be what was there.</summary>
    public void Value(string? text) => _text.Append(Encoder.Encode(text ?? string.Empty));

    public override string ToString() => _text.ToString();

    public static string Clean(string text)
    {
        StringBuilder? clean = null;
        int length = text.Length <= Limits.ShownText ? text.Length : LengthOfWholeWords(text);
        for (int index = 0; index < length; index++)
        {
            char character = text[index];
            bool isHostile = char.IsControl(character)
                || character is '\u200E' or '\u200F' or '\u061C' or '\uFEFF' or (>= '\u202A' and <= '\u202E') or (>= '\u2066' and <= '\u2069') or '\u2028' or '\u2029'
                || (char.IsSurrogate(character) && !(
                    (char.IsHighSurrogate(character) && index + 1 < length && char.IsLowSurrogate(text[index + 1]))
                    || (char.IsLowSurrogate(character) && index > 0 && char.IsHighSurrogate(text[index - 1]))));
            if (isHostile)
            {
                clean ??= new StringBuilder(text, 0, index, length);
                clean.Append('\uFFFD');
            }
            else
            {
                clean?.Append(character);
            }
        }

        string whole = clean?.ToString() ?? (length == text.Length ? text : text[..length]);
        return length < text.Length ? whole + "…" : whole;
    }

    /// <summary>Of what is too long: up to the last space, unless a word is so long that little would be left.</summary>
    private static int LengthOfWholeWords(string text) =>
        text.LastIndexOf(' ', Limits.ShownText) is var space && space > Limits.ShownText / 2 ? space : Limits.ShownText;

    [InterpolatedStringHandler]
    internal readonly ref struct Handler
    {
        private readonly StringBuilder _target;
        private readonly Language _language;

        public Handler(int literalLength, int formattedCount, HtmlWriter writer)
        {
            _ = literalLength;
            _ = formattedCount;
            _target = writer._text;
            _language = writer.Language;
        }

        public void AppendLiteral(string markup) => _target.Append(markup);

        public void AppendFormatted(string? text)
        {
            if (text is not null)
            {
                _target.Append(Encoder.Encode(Clean(text).Replace(" %", "\u00A0%", StringComparison.Ordinal)));
            }
        }

        public void AppendFormatted(Sentence? sentence)
        {
            if (sentence is not null)
            {
                AppendFormatted(_language.Say(sentence));
            }
        }

        public void AppendFormatted(int number) => _target.Append(number.ToString(CultureInfo.InvariantCulture));

        /// <summary>Coordinates: a tenth of a unit is finer than any screen.</summary>
        public void AppendFormatted(double number) => _target.Append(number.ToString("0.#", CultureInfo.InvariantCulture));
    }
}
