using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Languages;

public class LanguageTests
{
    [Fact]
    public void APartIsSaidInTheLanguageOfTheWhole() =>
        Assert.Equal("a, b und c", Language.German.Say(List([Named("a"), Named("b"), Named("c")])));

    [Fact]
    public void WhatTheCatalogueDoesNotHaveIsSaidInEnglishWithItsPartsTranslated() =>
        Assert.Equal("No such sentence has door und lamp.", Language.German.Say(new Sentence("No such sentence has {0}.", [new(null, null, List([Named("door"), Named("lamp")]))])));

    [Theory]
    [InlineData("1,234,567.89", "1.234.567,89")]
    [InlineData("0.5", "0,5")]
    [InlineData("12", "12")]
    [InlineData("2.5E-06", "2,5E-06")]
    public void GermanWritesItsOwnSeparators(string invariant, string german)
    {
        Assert.Equal(german, Language.German.Number(invariant));
        Assert.Equal(invariant, Language.English.Number(invariant));
    }

    [Fact]
    public void ANameKeepsItsDots() => Assert.Equal("Version 1.2,3 und 1.234,5", Language.German.Say(new Sentence("{0} and {1}", [new("Version 1.2,3", null, null), new(null, "1,234.5", null)])));

    [Fact]
    public void ATextThatNoCatalogueHasIsSaidAsItIs()
    {
        Assert.Equal("Nobody ever wrote {this}.", Language.German.Say("Nobody ever wrote {this}."));
        Assert.Equal("Nobody ever wrote {this}.", Language.English.Say("Nobody ever wrote {this}."));
    }

    [Theory]
    [InlineData("de", "de")]
    [InlineData("EN", "en")]
    [InlineData("fr", null)]
    [InlineData(null, null)]
    public void LanguagesAreFoundByTheirCode(string? code, string? found) => Assert.Equal(found, Language.Find(code)?.Code);

    [Fact]
    public void TheWriterSaysASentenceInItsLanguageEncodedAndCleaned()
    {
        HtmlWriter page = new(Language.German);
        page.Add($"<p>{List([Named("<b>"), Named("a\u202Eb")])}</p>");
        Assert.Equal("<p>&lt;b&gt; und a\uFFFDb</p>", page.ToString());
    }

    [Fact]
    public void TheWriterIsEnglishUnlessTold()
    {
        HtmlWriter page = new();
        page.Add($"{List([Named("a"), Named("b")])}");
        Assert.Equal("a and b", page.ToString());
    }
}
