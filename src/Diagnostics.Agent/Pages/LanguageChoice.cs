using Diagnostics.Agent.Languages;
using Microsoft.AspNetCore.Http;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// In which language a request is answered: as its reader chose on the page, else as the settings say, else as the browser asks. The choice is a link that any
/// address of the page takes; it sets a cookie and leads back. All that a page elsewhere could do with it is to change the language.
/// </summary>
internal static class LanguageChoice
{
    public const string Field = "language";

    private static readonly object Key = new();

    /// <summary>Of this request; English where nobody chose, as in a test of one part.</summary>
    public static Language Language(this HttpContext context) => context.Items[Key] as Language ?? Languages.Language.English;

    /// <summary>Decides it for the rest of the request, and remembers it where a reader chose.</summary>
    /// <param name="context">The request.</param>
    /// <param name="preferred">As the settings say; null = as the browser asks.</param>
    public static void Decide(HttpContext context, Language? preferred)
    {
        HttpRequest request = context.Request;
        Language? chosen = Chosen(request);
        context.Items[Key] = chosen ?? Languages.Language.Find(request.Cookies[Field]) ?? preferred ?? Asked(request);
        if (chosen is not null)
        {
            context.Response.Cookies.Append(Field, chosen.Code, new()
            {
                HttpOnly = true,
                SameSite = SameSiteMode.Strict,
                Secure = request.IsHttps,
                Path = "/",
                MaxAge = Limits.LanguageKept,
            });
        }
    }

    /// <summary>A reader who chose is led back to where they were.</summary>
    /// <returns>Whether the request is answered by that.</returns>
    public static bool LeadsBack(HttpContext context)
    {
        HttpRequest request = context.Request;
        if (Chosen(request) is null)
        {
            return false;
        }

        // What begins with two slashes would lead to another host.
        string path = request.Path.ToUriComponent();
        string back = path.StartsWith("//", StringComparison.Ordinal) || path.Contains('\\', StringComparison.Ordinal) ? "/" : path;
        PageAnswers.SeeOther(context.Response, back + QueryString.Create(request.Query.Where(entry => entry.Key != Field)));
        return true;
    }

    private static Language? Chosen(HttpRequest request) =>
        HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method) ? Languages.Language.Find(request.Query[Field]) : null;

    /// <summary>Links to the other languages, each in its own words.</summary>
    public static void Write(HtmlWriter page)
    {
        page.Add($"<nav class=\"languages\" aria-label=\"{Say($"Language of this page")}\">");
        foreach (Language other in Languages.Language.All.Where(language => language != page.Language))
        {
            page.Add($"<a href=\"?{Field}={other.Code}\" lang=\"{other.Code}\" hreflang=\"{other.Code}\" rel=\"nofollow\">{other.Name}</a>");
        }

        page.Literal("</nav>");
    }

    /// <summary>The language that the browser likes best of those that are there (RFC 9110, 12.5.4).</summary>
    private static Language Asked(HttpRequest request)
    {
        Language? best = null;
        double most = 0;
        foreach (Microsoft.Net.Http.Headers.StringWithQualityHeaderValue wish in request.GetTypedHeaders().AcceptLanguage)
        {
            double quality = wish.Quality ?? 1;
            if (quality > most && Languages.Language.Find(wish.Value.Value?.Split('-')[0]) is { } language)
            {
                (best, most) = (language, quality);
            }
        }

        return best ?? Languages.Language.English;
    }
}
