using System.Globalization;
using System.Text;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>
/// What the small display shows: screens of four lines with 21 characters, one after the other; first the verdict, then whatever isn't good, then values. Its font has ASCII only, so other letters are written as in a telegram.
/// </summary>
internal static class DisplayText
{
    public const int Columns = 21;
    public const int Rows = 4;

    /// <returns>Screens, each of up to four lines.</returns>
    public static IReadOnlyList<IReadOnlyList<string>> Screens(ClipCheck check, IReadOnlyList<QuantityReport> measured, Language language)
    {
        List<IReadOnlyList<string>> screens = [];
        Add(check.Said);
        foreach (ClipAnswer answer in check.Answers.Where(answer => answer.Outcome == ClipOutcome.Bad))
        {
            Add(answer.Text);
        }

        string[] values = [.. measured.Where(value => value.Count is not null).Select(Line).OfType<string>()];
        screens.AddRange(values.Chunk(Rows));
        return screens;

        void Add(Sentence sentence) => screens.AddRange(Card.Wrapped(Ascii(language.Say(sentence)), Columns).Chunk(Rows));
    }

    /// <summary>Letters and signs that the font lacks.</summary>
    public static string Ascii(string text)
    {
        StringBuilder plain = new();
        foreach (char character in text)
        {
            plain.Append(character switch
            {
                'ä' => "ae",
                'ö' => "oe",
                'ü' => "ue",
                'Ä' => "Ae",
                'Ö' => "Oe",
                'Ü' => "Ue",
                'ß' => "ss",
                '’' or '‘' => "'",
                '„' or '“' or '”' => "\"",
                '–' or '\u2011' => "-",
                '…' => "...",
                '°' => string.Empty,
                '\u00A0' or '\u202F' => " ",
                >= ' ' and <= '~' => character.ToString(),
                _ => "?",
            });
        }

        return plain.ToString();
    }

    /// <summary>Signs that need no language.</summary>
    private static string? Line(QuantityReport value) => value.Quantity switch
    {
        "supplyVolts" => string.Create(CultureInfo.InvariantCulture, $"U     {value.Last:0.00} V"),
        "supplyAmperes" => string.Create(CultureInfo.InvariantCulture, $"I     {value.Last:0.000} A"),
        "lineHighVolts" => string.Create(CultureInfo.InvariantCulture, $"CAN_H {value.Last:0.00} V"),
        "lineLowVolts" => string.Create(CultureInfo.InvariantCulture, $"CAN_L {value.Last:0.00} V"),
        "airCelsius" => string.Create(CultureInfo.InvariantCulture, $"t     {value.Last:0.0} C"),
        "airHumidityRatio" => string.Create(CultureInfo.InvariantCulture, $"rH    {value.Last * 100:0} %"),
        _ => null,
    };
}
