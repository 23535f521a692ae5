using System.Text.RegularExpressions;
using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

public class PageRendererTests
{
    private static string Rich() => PageRenderer.Served(new(SampleReports.Rich()) { Rows = SampleReports.Rows() });

    [Fact]
    public void WhatWasNotSeenComesBeforeTheFindingsAndThoseBeforeTheNodes()
    {
        string page = Rich();
        int[] places = new[] { "<h1>", "id=\"sight\"", "id=\"findings\"", "class=\"assurances\"", "id=\"nodes\"", "class=\"charts\"", "class=\"cautions\"" }
            .Select(mark => page.IndexOf(mark, StringComparison.Ordinal)).ToArray();
        Assert.DoesNotContain(-1, places);
        Assert.Equal(places.Order(), places);
    }

    [Fact]
    public void NamesCannotBecomeMarkup()
    {
        string page = Rich();
        Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
        Assert.DoesNotContain("alert(2)</script>", page, StringComparison.Ordinal);
        Assert.Contains("&lt;img src=x onerror=alert(1)&gt;", page, StringComparison.Ordinal);
        Assert.Single(Regex.Matches(page, "<script"));
        Assert.Single(Regex.Matches(page, "</main>"));
    }

    [Fact]
    public void CharactersThatTurnOrControlTheTextAreShownAsReplaced()
    {
        string page = Rich();
        Assert.DoesNotContain('\u202E', page);
        Assert.DoesNotContain('\u2066', page);
        Assert.DoesNotContain('\u0007', page);
        Assert.Contains("caf\uFFFD\uFFFD\uFFFDé dimmer", page, StringComparison.Ordinal);
    }

    [Fact]
    public void LongTextIsCutAndHalfACharacterIsReplaced()
    {
        Assert.Equal(Limits.ShownText + 1, HtmlWriter.Clean(new string('x', 5000)).Length);
        Assert.Equal("a\uFFFDb", HtmlWriter.Clean("a\uD83Db"));
        Assert.Equal("a\uD83D\uDD14b", HtmlWriter.Clean("a\uD83D\uDD14b"));
    }

    [Fact]
    public void NothingOnThePageNeedsInlineStyleOrScript()
    {
        string page = Rich();
        Assert.DoesNotContain(" style=", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<style", page, StringComparison.Ordinal);
        Assert.DoesNotMatch(" on[a-z]+=\"", page);
    }

    [Fact]
    public void ThePageInAFileFetchesNothingAndSaysSoInItsPolicy()
    {
        string page = PageRenderer.SelfContained(new(SampleReports.Rich()) { Rows = SampleReports.Rows() });
        Assert.DoesNotContain("<script", page, StringComparison.Ordinal);
        Assert.DoesNotContain("stylesheet", page, StringComparison.Ordinal);
        Assert.DoesNotMatch("(src|href)=\"(https?:)?/", page);
        Assert.Contains($"style-src '{PageAssets.Style.Integrity}'", System.Net.WebUtility.HtmlDecode(page), StringComparison.Ordinal);
        Assert.Contains(PageAssets.Style.Text, page, StringComparison.Ordinal);
    }

    [Fact]
    public void EachFindingTellsWhereSinceWhenHowSureAndWhatNext()
    {
        string page = Rich();
        Assert.Contains("<bdi>node 7 “café dimmer”</bdi>", page, StringComparison.Ordinal);
        Assert.Contains("06:58:00 UTC, for 1 h 14 min, still so", page, StringComparison.Ordinal);
        Assert.Contains("practically certain (over 99 %)", page, StringComparison.Ordinal);
        Assert.Contains("Measure the supply at node 7’s terminals", page, StringComparison.Ordinal);
        Assert.Contains("At least 20 V all the time", page, StringComparison.Ordinal);
        Assert.Contains("Isolate it before you open the cover", page, StringComparison.Ordinal);
        Assert.Contains("35 per hour (between 24.4 and 48.7, 95 % confidence)", page, StringComparison.Ordinal);
    }

    [Fact]
    public void ANodeWhoseSilenceCannotBeNoticedSaysSo()
    {
        string page = Rich();
        Assert.Contains("can&#x27;t be noticed", page, StringComparison.Ordinal);
        Assert.Contains("within 3.5 s", page, StringComparison.Ordinal);
    }

    [Fact]
    public void TheVerdictOfNothingHeardClaimsNothing()
    {
        Verdict verdict = Verdict.Of(new(SampleReports.NothingHeard()));
        Assert.Equal("blind", verdict.Severity);
        Assert.Contains("Nothing was heard", verdict.Sentence, StringComparison.Ordinal);
        string page = PageRenderer.Served(new(SampleReports.NothingHeard()));
        Assert.Contains("That can’t be told.", page, StringComparison.Ordinal);
        Assert.Contains("Nothing can be said: nothing was heard.", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<strong>Yes.</strong>", page, StringComparison.Ordinal);
    }

    [Fact]
    public void AGoodVerdictIsTakenBackWherePartWasNotSeen()
    {
        Report quiet = SampleReports.Quiet();
        Assert.Equal("Nothing wrong was found in 14 h 12 min of listening.", Verdict.Of(new(quiet)).Sentence);
        Report blind = quiet with { Source = quiet.Source with { NotSeen = new(0, 3, 0, []) } };
        Assert.EndsWith("But part of the traffic was not seen.", Verdict.Of(new(blind)).Sentence, StringComparison.Ordinal);
    }

    [Fact]
    public void TroublesThatAreOverAreNotSaidToLast()
    {
        Report rich = SampleReports.Rich();
        Report over = rich with { Findings = rich.Findings.Select(finding => finding with { End = SampleReports.End - TimeSpan.FromHours(1) }).ToArray() };
        Verdict verdict = Verdict.Of(new(over));
        Assert.Equal("Nothing is wrong at the end, but 5 troubles came and went in 14 h 12 min.", verdict.Sentence);
        Assert.Equal("warning", verdict.Severity);
    }

    [Fact]
    public void AnAnalysisThatStandsStillIsToldOnALivePageOnly()
    {
        Report live = SampleReports.Rich();
        Instant later = SampleReports.End + TimeSpan.FromSeconds(30);
        Assert.Contains(Verdict.Of(new(live) { Asked = later }).Sight, line => line.Contains("stands still", StringComparison.Ordinal));
        Report trace = live with { Source = live.Source with { Kind = "trace" } };
        Assert.DoesNotContain(Verdict.Of(new(trace) { Asked = later }).Sight, line => line.Contains("stands still", StringComparison.Ordinal));
    }

    [Fact]
    public void ATroubleOfTheAgentItselfStandsUnderWhatWasNotSeen()
    {
        Trouble trouble = new("log", SampleReports.End, "The log can't be opened.");
        Assert.Contains(Verdict.Of(new(SampleReports.Quiet()) { Troubles = [trouble] }).Sight, line => line.EndsWith(trouble.Text, StringComparison.Ordinal));
    }

    [Fact]
    public void IdentifiersAreListedOnlyWhereTheProtocolIsNotKnown()
    {
        Assert.DoesNotContain("class=\"identifiers\"", Rich(), StringComparison.Ordinal);
        string unknown = PageRenderer.Served(new(SampleReports.Unknown()));
        Assert.Contains("0x18FF0000", unknown, StringComparison.Ordinal);
        Assert.Contains("no fixed time", unknown, StringComparison.Ordinal);
        Assert.Contains("does not report single errors", unknown, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0.9951, "over 99 %")]
    [InlineData(0.9999999, "over 99 %")]
    [InlineData(1.0, "100 %")]
    [InlineData(0.86, "86 %")]
    [InlineData(0.001, "under 1 %")]
    [InlineData(0.0, "0 %")]
    public void ProbabilitiesAreNotRoundedToCertainty(double ratio, string expected) => Assert.Equal(expected, Words.Probability(ratio));

    [Theory]
    [InlineData("bitErrorRatio", 8.14e-5, "1", "Bits that were hit", "81.4 in a million")]
    [InlineData("trafficShare", 0.071, "1", "Share of the traffic", "7.1 %")]
    [InlineData("operations", 21.0, "1", "Operations watched", "21")]
    [InlineData("silenceLimit", 3.5, "s", "Silent after", "3.5 s")]
    [InlineData("frameRate", 1200.0, "1/s", "Frames", "1,200 per second")]
    [InlineData("somethingNew", 0.25, "V", "Something new", "0.25 V")]
    public void MeasurementsAreSaidInWords(string name, double value, string unit, string expectedName, string expectedValue) =>
        Assert.Equal((expectedName, expectedValue), Words.Measurement(new(name, value, unit)));

    [Theory]
    [InlineData(0.012, "12 ms")]
    [InlineData(3.5, "3.5 s")]
    [InlineData(59.96, "1 min")]
    [InlineData(4440, "1 h 14 min")]
    [InlineData(273_600, "3 d 4 h")]
    [InlineData(-1, "not known")]
    public void SpansAreSaidInTheirTwoLargestUnits(double seconds, string expected) => Assert.Equal(expected, Times.Span(seconds));

    [Fact]
    public void APageOfEveryKindIsMade()
    {
        foreach (Report report in new[] { SampleReports.NothingHeard(), SampleReports.Quiet(), SampleReports.Crowded(), SampleReports.Unknown(), PageRenderer.Empty.Report })
        {
            string page = PageRenderer.Served(new(report) { Rows = SampleReports.Rows() });
            Assert.StartsWith("<!doctype html>", page, StringComparison.Ordinal);
            Assert.EndsWith("</html>\n", page, StringComparison.Ordinal);
        }
    }
}
