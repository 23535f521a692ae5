using System.Net;
using System.Text.RegularExpressions;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Pages;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Languages;

/// <summary>A page in German has no English on it, and none of the page's text stands in its markup, where no catalogue reaches it.</summary>
public class GermanPageTests
{
    /// <summary>Below this a text is also a word of names and German: "Modul", "Start".</summary>
    private const int TellingLength = 12;

    /// <summary>Tags, and the halves and attributes of those that several calls write.</summary>
    private static readonly Regex Tag = new("<[^>]*(>|$)|^[^<>]*>|[a-z-]+=\"[^\"]*\"?");
    private static readonly Regex Place = new(@"\{\d+\}");

    [Fact]
    public void ARichPageInGermanHasNoEnglishSentence()
    {
        PageModel model = new(SampleReports.Rich()) { Language = Language.German, CanMark = true, CanAct = true, CanBundle = true, Remarks = [] };
        string page = TextOf(PageRenderer.Served(model));
        Assert.Contains("Was nicht stimmt und wo Sie suchen", page, StringComparison.Ordinal);

        // What the sample's author wrote, and measurements that nothing knows, are said as they are.
        string ownWords = System.Text.Encoding.UTF8.GetString(Core.Reporting.ReportJson.ToUtf8(SampleReports.Rich()))
            + string.Concat(SampleReports.Rich().Findings.SelectMany(finding => finding.Measurements).Select(measurement => Words.Capital(Words.Spaced(measurement.Name))));
        AssertNoEnglish(page, text => !ownWords.Contains(text, StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("address-set-twice")]
    [InlineData("bad-drop")]
    [InlineData("module-drops-off")]
    [InlineData("power-comes-back")]
    public void APageOfRecordedTrafficInGermanHasNoEnglishSentence(string trace)
    {
        string file = Path.Combine(Path.GetTempPath(), Path.GetRandomFileName());
        try
        {
            Replayed.OfFile(Path.Combine(TidyTests.Root, "tests/traces", trace + ".pcapng"), "--language", "de", "--html", file);
            AssertNoEnglish(TextOf(File.ReadAllText(file)), _ => true);
        }
        finally
        {
            File.Delete(file);
        }
    }

    /// <summary>The same page in English has a good part of the catalogue, so that the search above can find something.</summary>
    [Fact]
    public void TheSearchFindsEnglishOnTheEnglishPage()
    {
        PageModel model = new(SampleReports.Rich()) { CanMark = true, CanAct = true, CanBundle = true };
        string page = TextOf(PageRenderer.Served(model));
        Assert.InRange(English().Count(text => page.Contains(text, StringComparison.Ordinal)), 60, int.MaxValue);
    }

    [Fact]
    public void TimesAreSaidTheGermanWay()
    {
        Times times = new(SampleReports.Rich().Source, TimeZoneInfo.Utc);
        Assert.Equal("22. Nov. 2026, 08:12:00 UTC", Language.German.Say(times.Full(SampleReports.End)));
        Assert.Equal("2,5 s", Language.German.Say(Times.Span(2.5)));
    }

    [Fact]
    public void AStoredTextWithoutItsWordingIsSaidAsItIs() =>
        Assert.Equal("workshop buttons stopped.", Language.German.Say((SampleReports.Rich().Findings[0] with { Summary = "workshop buttons stopped.", SummaryWording = null }).SummarySaid));

    [Fact]
    public void AStoredTextWithoutParametersIsItsOwnCode() =>
        Assert.Equal("Das Mithören begann.", Language.German.Say(new Core.Reporting.EvidenceReport(new(0), "Listening began.").Said));

    [Fact]
    public void ASentenceThatBeginsWithAPartBeginsWithACapital()
    {
        Sentence sentence = Capital(Say($"{Named("node 5")} and {Named("node 6")}"));
        Assert.Equal("Node 5 and node 6", Language.English.Say(sentence));
        Assert.Equal("Node 5 und node 6", Language.German.Say(sentence));
    }

    [Fact]
    public void NoTextStandsInTheMarkup()
    {
        string[] found = [.. SaidInSource.MarkupOf(Path.Combine(TidyTests.Root, "src/Diagnostics.Agent/Pages")).Where(markup => Regex.IsMatch(Tag.Replace(Regex.Replace(markup.Text, "<(code|style)>.*?</\\1>", string.Empty), " "), "[A-Za-z]{3}")).Select(markup => $"{markup.File}: {markup.Text}")];
        Assert.True(found.Length == 0, "Text in markup, which no catalogue reaches:\n" + string.Join('\n', found));
    }

    private static void AssertNoEnglish(string page, Func<string, bool> counts)
    {
        string[] english = [.. English().Where(text => page.Contains(text, StringComparison.Ordinal) && counts(text))];
        Assert.True(english.Length == 0, "English on the German page:\n" + string.Join('\n', english));
    }

    private static IEnumerable<string> English() => SaidInSource.PlacesByTemplate.Keys
        .Where(template => Language.German.Catalogue!.Find(template) is { } german && !german.Contains(template, StringComparison.Ordinal))
        .SelectMany(template => Place.Split(template))
        .Select(part => part.Trim())
        .Where(part => part.Length >= TellingLength && part.Contains(' ', StringComparison.Ordinal))
        .Distinct();

    private static string TextOf(string page) => WebUtility.HtmlDecode(page).Replace('\u00A0', ' ');
}
