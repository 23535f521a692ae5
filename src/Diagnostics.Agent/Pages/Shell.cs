using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Agent.Access;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>What stands around every page: the way to the other pages, and the notice that a page has gone stale.</summary>
internal static class Shell
{
    /// <summary>The pages that all others lead to.</summary>
    private static readonly (string Path, Sentence Name)[] Places = [("/", Say($"Report")), (TimeQuery.Path, Say($"Time")), ("/site", Say($"Site")), ("/walk", Say($"Walk test"))];

    /// <summary>Said by the script, which puts the time in.</summary>
    private static readonly Sentence Stale = Say($"No answer from the tool since {"{0}"} (by the clock of this device). What stands below is old.");

    /// <summary>The page as it is served, with its style and script beside it.</summary>
    /// <param name="live">The page.</param>
    /// <param name="model">What it was made from.</param>
    /// <param name="isForm">It is there to be filled in: nothing may change or reload it.</param>
    public static string Served(LivePage live, PageModel model, bool isForm = false)
    {
        HtmlWriter page = new(model.Language);
        PageRenderer.Begin(page, live.Title, isServed: true, isLive: model.ReadFrom is null && !isForm);
        page.Add($"<body><a class=\"skip\" href=\"#report\">{Say($"Go to the content")}</a>");
        page.Add($"<p class=\"stale\" id=\"stale\" role=\"status\" data-text=\"{Stale}\" hidden></p>");
        Navigation(page, live.Path);
        page.Add($"<main id=\"report\" data-path=\"{live.Path}\">");
        Pieces(page, live.Pieces);
        page.Literal("</main>");
        if (model.IsSignedIn)
        {
            // Beside what all readers share.
            SignInPage.SignOut(page);
        }

        page.Literal("</body></html>\n");
        return page.ToString();
    }

    /// <summary>The body of a page that isn't kept current, up to its content.</summary>
    public static void Open(HtmlWriter page, string here)
    {
        page.Add($"<body><a class=\"skip\" href=\"#report\">{Say($"Go to the content")}</a>");
        Navigation(page, here);
        page.Literal("<main id=\"report\">");
    }

    /// <summary>The end of what <see cref="Open"/> began.</summary>
    public static void Close(HtmlWriter page) => page.Literal("</main></body></html>\n");

    /// <summary>The page as one file that needs nothing else.</summary>
    public static string SelfContained(LivePage live, PageModel model)
    {
        HtmlWriter page = new(model.Language);
        PageRenderer.Begin(page, live.Title, isServed: false, isLive: false);
        page.Literal("<body><main id=\"report\">");
        Pieces(page, live.Pieces);
        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    private static void Pieces(HtmlWriter page, IReadOnlyList<PagePiece> pieces)
    {
        foreach (DrawnPiece piece in pieces.Select(piece => piece.In(page.Language)))
        {
            page.Add($"<div class=\"piece\" id=\"piece-{piece.Id}\" data-digest=\"{piece.Digest}\">");
            page.Literal(piece.Html);
            page.Literal("</div>");
        }
    }

    private static void Navigation(HtmlWriter page, string here)
    {
        page.Literal("<div class=\"top\">");
        page.Add($"<nav class=\"places\" aria-label=\"{Say($"Pages")}\"><ul>");
        foreach ((string path, Sentence name) in Places)
        {
            page.Literal("<li>");
            page.Add($"<a href=\"{path}\"");
            page.Literal(path == here ? " aria-current=\"page\">" : ">");
            page.Add($"{name}</a></li>");
        }

        page.Literal("</ul></nav>");
        LanguageChoice.Write(page);
        page.Literal("</div>");
    }
}
