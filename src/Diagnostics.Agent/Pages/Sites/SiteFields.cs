using System.Globalization;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>What the forms of the site are made of.</summary>
internal static class SiteFields
{
    /// <summary>A form up to its content, the button that saves at its top: there the Enter key finds it first, and it stays in sight.</summary>
    public static void Begin(HtmlWriter page, SiteView view, string action, string token)
    {
        page.Add($"<form class=\"site-form\" method=\"post\" action=\"{action}\"><input type=\"hidden\" name=\"{SiteLinks.TokenField}\" value=\"{token}\">");
        SaveLine(page, view, "save");
    }

    /// <summary>Whoever has come to the end of a form looks for the button there.</summary>
    public static void End(HtmlWriter page, SiteView view)
    {
        SaveLine(page, view, "entry");
        page.Literal("</form>");
    }

    private static void SaveLine(HtmlWriter page, SiteView view, string style)
    {
        page.Add($"<p class=\"{style}\">");
        if (view.Book.CanSave)
        {
            page.Add($"<button name=\"{SiteLinks.DoField}\" value=\"{SiteLinks.Save}\">{Say($"Save")}</button>");
        }
        else
        {
            page.Add($"<button name=\"{SiteLinks.DoField}\" value=\"{SiteLinks.Download}\">{Say($"Download the record with this")}</button>");
        }

        page.Add($" <a href=\"{SiteLinks.Site}\">{Say($"Back without saving")}</a></p>");
    }

    /// <summary>What keeps the form from being saved, where the reader sees it first.</summary>
    public static void Notice(HtmlWriter page, Sentence? notice)
    {
        if (notice is not null)
        {
            page.Add($"<p class=\"notice\" role=\"alert\">{notice}</p>");
        }
    }

    public static void NoLog(HtmlWriter page, SiteView view)
    {
        if (view.CanEdit && !view.Book.CanSave)
        {
            page.Add($"<p class=\"notice\">{Say($"No log is kept, so nothing can be saved here. What you enter can be downloaded as a file; give that with --site at the next start, or start the tool with --log DIR.")}</p>");
        }
    }

    /// <summary>A line of text with its label above.</summary>
    public static void Line(HtmlWriter page, string name, Sentence label, string? value, bool isNumber = false)
    {
        page.Add($"<p class=\"field\"><label for=\"{name}\">{label}</label>");
        Bare(page, name, value, isNumber);
        page.Literal("</p>");
    }

    /// <summary>A line of text whose label stands elsewhere.</summary>
    public static void Bare(HtmlWriter page, string name, string? value, bool isNumber = false, string? list = null)
    {
        page.Add($"<input id=\"{name}\" name=\"{name}\" maxlength=\"{AsBuiltLimits.TextCharacters}\" autocomplete=\"off\"");
        page.Literal(isNumber ? " inputmode=\"decimal\" class=\"number\"" : string.Empty);
        if (list is not null)
        {
            page.Add($" list=\"{list}\"");
        }

        page.Literal(" value=\"");
        page.Value(value);
        page.Literal("\">");
    }

    /// <summary>A choice of words of the record; nothing chosen = nobody told.</summary>
    public static void Choice(HtmlWriter page, string name, Sentence label, string? value, IReadOnlyList<(string Word, Sentence Said)> choices, Sentence none)
    {
        page.Add($"<p class=\"field\"><label for=\"{name}\">{label}</label><select id=\"{name}\" name=\"{name}\"><option value=\"\">{none}</option>");
        foreach ((string word, Sentence said) in choices)
        {
            page.Add($"<option value=\"{word}\"");
            page.Literal(word == value ? " selected>" : ">");
            page.Add($"{said}</option>");
        }

        page.Literal("</select></p>");
    }

    /// <summary>Null where nothing was written; false where it isn't a number within its bounds. A comma is taken for the decimal point.</summary>
    public static bool TryNumber(string text, double most, out double? number)
    {
        number = null;
        string trimmed = text.Trim();
        if (trimmed.Length == 0)
        {
            return true;
        }

        bool isNumber = double.TryParse(trimmed.Replace(',', '.'), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double value) && value <= most;
        number = isNumber ? value : null;
        return isNumber;
    }

    /// <summary>A number, but below 0; the minus may be the one of typography, as phones offer it.</summary>
    public static bool IsNegative(string text) => text.Trim() is ['-' or '\u2212', .. var rest] && TryNumber(rest, double.MaxValue, out double? number) && number > 0;

    public static string Written(double? number) => number?.ToString("R", CultureInfo.InvariantCulture) ?? string.Empty;

    /// <summary>Why a text can't stand in the record, by what its field is called; null = it can.</summary>
    public static Sentence? Obstacle(Sentence field, string? text) => text switch
    {
        { Length: > AsBuiltLimits.TextCharacters } => Say($"“{field}” has {text.Length} characters: shorten it to {AsBuiltLimits.TextCharacters}."),
        not null when text.Any(char.IsControl) => Say($"“{field}” has a control character in it, which can’t be seen and may have come along when the text was pasted: type it anew, in one line without tabs."),
        _ => null,
    };

    /// <summary>Half a character, which a form may bring as bytes, can't be kept.</summary>
    public static string? Text(string? written)
    {
        string text = string.Concat((written ?? string.Empty).EnumerateRunes()).Trim();
        return text.Length == 0 ? null : text;
    }
}
