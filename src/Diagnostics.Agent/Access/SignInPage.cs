using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Access;

/// <summary>The page that asks for the passcode. It tells nothing of the site: whoever isn't in shall not learn whose building this is.</summary>
internal static class SignInPage
{
    /// <param name="why">Why the last try didn't succeed; null = there was none.</param>
    /// <param name="isPrivate">The connection is encrypted.</param>
    /// <param name="language">Of the reader.</param>
    public static string Write(Sentence? why, bool isPrivate, Language language)
    {
        HtmlWriter page = new(language);
        PageRenderer.Begin(page, Say($"Sign in – bus report"), isServed: true, isLive: false);
        page.Add($"<body><main class=\"acts\"><h1>{Say($"Sign in to read this board’s report")}</h1>");
        if (why is not null)
        {
            page.Add($"<p id=\"why\" class=\"caution\" role=\"alert\"><strong>{why}</strong></p>");
        }

        page.Add($"<form method=\"post\" action=\"{SignInPart.Path}\"><p class=\"entry\"><label for=\"passcode\">{Say($"Passcode of this board")}</label>");
        page.Add($"<input id=\"passcode\" name=\"{SignInPart.PasscodeField}\" type=\"password\" autocomplete=\"current-password\" autocapitalize=\"none\" spellcheck=\"false\" maxlength=\"{Limits.LongestPasscode}\" required autofocus");
        page.Literal(why is null ? "></p>" : " aria-describedby=\"why\" aria-invalid=\"true\"></p>");
        page.Add($"<p class=\"entry\"><button>{Say($"Sign in")}</button></p></form>");
        page.Add($"<p>{Say($"Whoever looks after the board set it there with 'diagnostics passcode set'. On the board itself, and through an SSH tunnel, none is needed.")}</p>");
        if (!isPrivate)
        {
            page.Add($"<p class=\"caution\">{Say($"This connection is not encrypted: whoever can listen in on this network reads the passcode and the report with you. Use it in a network that you trust, or give the board a certificate.")}</p>");
        }

        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    /// <summary>Below the report, for who came from another device.</summary>
    public static void SignOut(HtmlWriter page)
    {
        page.Add($"<form class=\"acts foot\" method=\"post\" action=\"{SignInPart.OutPath}\"><p class=\"entry\"><button>{Say($"Sign out")}</button></p></form>");
    }
}
