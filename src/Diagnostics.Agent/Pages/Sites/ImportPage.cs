using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>Takes a whole as-built record, as a file or as text.</summary>
internal static class ImportPage
{
    public const string TextField = "text";
    public const string FileField = "file";

    /// <param name="view">The site.</param>
    /// <param name="token">What the person saw when the form was opened.</param>
    /// <param name="text">What stands in the field.</param>
    /// <param name="notice">Why it wasn't taken; null = it wasn't tried yet.</param>
    public static LivePage Of(SiteView view, string token, string text, Sentence? notice) => new(
        Say($"Import a record"),
        SiteLinks.Import,
        [
            PagePiece.Of("form", page =>
            {
                page.Add($"<section class=\"acts site\"><p class=\"source\"><a href=\"{SiteLinks.Site}\">{Say($"The site")}</a></p><h1>{Say($"Import an as-built record")}</h1>");
                SiteFields.Notice(page, notice);
                page.Add($"<p>{Say($"It takes the place of the record that holds now, which is kept as a version. It is checked first; where anything in it is wrong, nothing changes.")}</p>");
                if (!view.Book.CanSave)
                {
                    page.Add($"<p class=\"notice\">{Say($"No log is kept, so there is no place to save the record in. Start the tool with --log DIR.")}</p></section>");
                    return;
                }

                page.Add($"<form class=\"site-form\" method=\"post\" action=\"{SiteLinks.Import}\" enctype=\"multipart/form-data\"><input type=\"hidden\" name=\"{SiteLinks.TokenField}\" value=\"{token}\">");
                page.Add($"<p class=\"field\"><label for=\"{FileField}\">{Say($"A file")}</label><input id=\"{FileField}\" type=\"file\" name=\"{FileField}\" accept=\".json,application/json\"></p>");
                page.Add($"<p class=\"field\"><label for=\"{TextField}\">{Say($"or its text")}</label><textarea id=\"{TextField}\" name=\"{TextField}\" rows=\"12\" spellcheck=\"false\" autocomplete=\"off\">");

                // A browser leaves out a line break right behind the tag; lines are counted.
                page.Literal("\n");
                page.Value(text);
                page.Add($"</textarea></p><p class=\"save\"><button>{Say($"Check it and use it")}</button></p></form></section>");
            }),
        ]);
}
