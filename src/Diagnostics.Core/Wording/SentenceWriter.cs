using System.Globalization;
using System.Text;

namespace Diagnostics.Core.Wording;

/// <summary>
/// Puts parameters into templates. Sentences also come out of stored logs and bundles, so none is trusted: a place without a parameter stays as it is, and
/// both the length and the number of places filled are bounded, because a few templates within each other that name one place twice would double without end.
/// </summary>
internal sealed class SentenceWriter(Func<string, string> translate, Func<string, string> number)
{
    private readonly StringBuilder _text = new(128);
    private int _places = Limits.SentencePlaces;

    public override string ToString() => _text.ToString();

    public void Add(Sentence sentence)
    {
        string template = translate(sentence.Template);
        for (int index = 0; index < template.Length && _text.Length < Limits.SentenceLength; index++)
        {
            char character = template[index];
            if (character is '{' or '}' && index + 1 < template.Length && template[index + 1] == character)
            {
                _text.Append(character);
                index++;
            }
            else if (character == '{' && PlaceAt(template, index, out int end) is { } place && place < sentence.Parameters.Count)
            {
                if (--_places < 0)
                {
                    return;
                }

                Add(sentence.Parameters[place]);
                index = end;
            }
            else
            {
                _text.Append(character);
            }
        }
    }

    private void Add(SentenceParameter parameter)
    {
        if (parameter.Part is { } part)
        {
            Add(part);
        }
        else
        {
            string said = parameter.Number is { } written ? number(written) : parameter.Name ?? string.Empty;
            _text.Append(said.AsSpan(0, Math.Min(said.Length, Limits.SentenceLength)));
        }
    }

    private static int? PlaceAt(string template, int start, out int end)
    {
        end = template.IndexOf('}', start);
        return end > start && int.TryParse(template.AsSpan(start + 1, end - start - 1), NumberStyles.None, CultureInfo.InvariantCulture, out int place) ? place : null;
    }
}
