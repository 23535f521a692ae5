using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Microsoft.AspNetCore.Http;

namespace Diagnostics.Tests.Pages;

public class LanguageChoiceTests
{
    [Theory]
    [InlineData(null, "en")]
    [InlineData("de", "de")]
    [InlineData("de-AT,de;q=0.9,en;q=0.8", "de")]
    [InlineData("en;q=0.5, de;q=0.7", "de")]
    [InlineData("fr-FR, en;q=0.2, de;q=0.1", "en")]
    [InlineData("fr", "en")]
    [InlineData("de;q=0", "en")]
    [InlineData("*", "en")]
    [InlineData(";;;,,=", "en")]
    public void WhereNobodyChoseTheBrowserIsAsked(string? asked, string language)
    {
        HttpContext context = Context(asked: asked);
        LanguageChoice.Decide(context, preferred: null);
        Assert.False(LanguageChoice.LeadsBack(context));
        Assert.Equal(language, context.Language().Code);
    }

    [Fact]
    public void TheSettingComesBeforeTheBrowserAndTheReaderBeforeTheSetting()
    {
        HttpContext set = Context(asked: "en");
        LanguageChoice.Decide(set, Language.German);
        Assert.Equal("de", set.Language().Code);

        HttpContext chosen = Context(asked: "de", cookie: "en");
        LanguageChoice.Decide(chosen, Language.German);
        Assert.Equal("en", chosen.Language().Code);

        HttpContext odd = Context(cookie: "xx");
        LanguageChoice.Decide(odd, Language.German);
        Assert.Equal("de", odd.Language().Code);
    }

    [Theory]
    [InlineData("/", "?language=de", "/")]
    [InlineData("/soak/a", "?x=1&language=de", "/soak/a?x=1")]
    [InlineData("//elsewhere.example/", "?language=de", "/")]
    [InlineData("/\\elsewhere.example", "?language=de", "/%5Celsewhere.example")]
    public void AChoiceSetsACookieAndLeadsBack(string path, string query, string back)
    {
        HttpContext context = Context(path: path, query: query);
        LanguageChoice.Decide(context, preferred: null);
        Assert.True(LanguageChoice.LeadsBack(context));
        Assert.Equal(StatusCodes.Status303SeeOther, context.Response.StatusCode);
        Assert.Equal(back, context.Response.Headers.Location.ToString());
        string cookie = context.Response.Headers.SetCookie.ToString();
        Assert.StartsWith("language=de;", cookie, StringComparison.Ordinal);
        Assert.Contains("samesite=strict", cookie, StringComparison.Ordinal);
        Assert.Contains("httponly", cookie, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("GET", "?language=xx")]
    [InlineData("POST", "?language=de")]
    public void NothingElseIsAChoice(string method, string query)
    {
        HttpContext context = Context(query: query);
        context.Request.Method = method;
        LanguageChoice.Decide(context, preferred: null);
        Assert.False(LanguageChoice.LeadsBack(context));
        Assert.Empty(context.Response.Headers.SetCookie.ToString());
    }

    [Fact]
    public void ThePageOffersTheOtherLanguageInItsOwnWords()
    {
        string english = PageRenderer.Served(new(SampleReports.Quiet()));
        Assert.Contains("<html lang=\"en\">", english, StringComparison.Ordinal);
        Assert.Contains("<a href=\"?language=de\" lang=\"de\" hreflang=\"de\" rel=\"nofollow\">Deutsch</a>", english, StringComparison.Ordinal);
        string german = PageRenderer.Served(new(SampleReports.Quiet()) { Language = Language.German });
        Assert.Contains("<html lang=\"de\">", german, StringComparison.Ordinal);
        Assert.Contains(">English</a>", german, StringComparison.Ordinal);
    }

    private static DefaultHttpContext Context(string? asked = null, string? cookie = null, string path = "/", string query = "")
    {
        DefaultHttpContext context = new();
        context.Request.Method = "GET";
        context.Request.Path = path;
        context.Request.QueryString = new(query);
        if (asked is not null)
        {
            context.Request.Headers.AcceptLanguage = asked;
        }

        if (cookie is not null)
        {
            context.Request.Headers.Cookie = "language=" + cookie;
        }

        return context;
    }
}
