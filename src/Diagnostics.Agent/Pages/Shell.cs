using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>What stands around every page: the way to the other pages, and the notice that a page has gone stale.</summary>
internal static class Shell
{
    /// <summary>The pages that all others lead to.</summary>
    private static readonly (string Path, Sentence Name)[] Places = [("/", Say($"Report")), ("/walk", Say($"Walk test"))];

    /// <summary>Said by the script, which puts the time in.</summary>
    private static readonly Sentence Stale = Say($"No answer from the tool since {"{0}"} (by the clock of this device). What stands below is old.");

    /// <summary>The page as it is served, with its style and script beside it.</summary>
    public static string Served(LivePage live, PageModel model)
    {
        HtmlWriter page = new();
        PageRenderer.Begin(page, live.Title, isServed: true, isLive: model.ReadFrom is null);
        page.Add($"<body><a class=\"skip\" href=\"#report\">{Say($"Go to the content")}</a>");
        page.Add($"<p class=\"stale\" id=\"stale\" role=\"status\" data-text=\"{Stale}\" hidden></p>");
        Navigation(page, live.Path);
        page.Add($"<main id=\"report\" data-path=\"{live.Path}\">");
        Pieces(page, live.Pieces);
        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    /// <summary>The page as one file that needs nothing else.</summary>
    public static string SelfContained(LivePage live)
    {
        HtmlWriter page = new();
        PageRenderer.Begin(page, live.Title, isServed: false, isLive: false);
        page.Literal("<body><main id=\"report\">");
        Pieces(page, live.Pieces);
        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    private static void Pieces(HtmlWriter page, IReadOnlyList<PagePiece> pieces)
    {
        foreach (PagePiece piece in pieces)
        {
            page.Add($"<div class=\"piece\" id=\"piece-{piece.Id}\" data-digest=\"{piece.Digest}\">");
            page.Literal(piece.Html);
            page.Literal("</div>");
        }
    }

    private static void Navigation(HtmlWriter page, string here)
    {
        page.Literal("<nav class=\"places\" aria-label=\"Pages\"><ul>");
        foreach ((string path, Sentence name) in Places)
        {
            page.Literal("<li>");
            page.Add($"<a href=\"{path}\"");
            page.Literal(path == here ? " aria-current=\"page\">" : ">");
            page.Add($"{name}</a></li>");
        }

        page.Literal("</ul></nav>");
    }
}
