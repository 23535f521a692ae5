using System.Text.RegularExpressions;
using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Reporting;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Pages;

public class PageRendererTests
{
    private static string Rich() => PageRenderer.Served(new(SampleReports.Rich()) { Rows = SampleReports.Rows() });

    /// <summary>Who looks on Monday must not take a quiet hour for a quiet weekend.</summary>
    [Fact]
    public void WhatWasFoundBeforeThisStartStandsBelowTheVerdict()
    {
        FindingReport found = SampleReports.Rich().Findings[0] with { Summary = "Café dimmer stopped.", End = null };
        PageModel quiet = new(SampleReports.Quiet()) { Earlier = new(SampleReports.Start, [.. Enumerable.Repeat(found, 7)], [Say($"The last run was cut off.")]) };
        string page = PageRenderer.Served(quiet);
        Assert.Contains("Before it, the log has 7 troubles", page, StringComparison.Ordinal);
        Assert.Contains("The last run was cut off.", page, StringComparison.Ordinal);
        Assert.Contains("and still so when that run ended", page, StringComparison.Ordinal);
        Assert.Contains("2 older ones", page, StringComparison.Ordinal);
        Assert.DoesNotContain("id=\"before\"", PageRenderer.Served(quiet with { Earlier = new(SampleReports.Start, [], []) }), StringComparison.Ordinal);
    }

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
        Assert.Equal(string.Concat(Enumerable.Repeat("workshop ", 66)).TrimEnd() + "…", HtmlWriter.Clean(string.Concat(Enumerable.Repeat("workshop ", 100))));
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
        Assert.Contains("practically certain (over 99&#xA0;%)", page, StringComparison.Ordinal);
        Assert.Contains("Measure the supply at node 7’s terminals", page, StringComparison.Ordinal);
        Assert.Contains("At least 20 V all the time", page, StringComparison.Ordinal);
        Assert.Contains("Isolate it before you open the cover", page, StringComparison.Ordinal);
        Assert.Contains("35 per hour (between 24.4 and 48.7, 95&#xA0;% confidence)", page, StringComparison.Ordinal);
    }

    [Fact]
    public void ANodeWhoseSilenceCannotBeNoticedSaysSo()
    {
        string page = Rich();
        Assert.Contains("can’t be noticed", page, StringComparison.Ordinal);
        Assert.Contains("within 3.5 s", page, StringComparison.Ordinal);
    }

    [Fact]
    public void TheVerdictOfNothingHeardClaimsNothing()
    {
        Verdict verdict = Verdict.Of(new(SampleReports.NothingHeard()));
        Assert.Equal("blind", verdict.Severity);
        Assert.Contains("Nothing was heard", verdict.Sentence.English, StringComparison.Ordinal);
        string page = PageRenderer.Served(new(SampleReports.NothingHeard()));
        Assert.Contains("That can’t be told.", page, StringComparison.Ordinal);
        Assert.Contains("Nothing can be said: nothing was heard.", page, StringComparison.Ordinal);
        Assert.DoesNotContain("<strong>Yes.</strong>", page, StringComparison.Ordinal);
    }

    [Fact]
    public void AnInterfaceThatIsNotThereIsNamedInTheVerdict()
    {
        Report nothing = SampleReports.NothingHeard();
        Report missing = nothing with { Source = nothing.Source with { NotSeen = new(0, 0, 0, [new("can7", SampleReports.Start, nothing.Source.End!.Value - TimeSpan.FromSeconds(1), "the interface does not exist")]) } };
        Verdict verdict = Verdict.Of(new(missing));
        Assert.Equal("Nothing was heard in 10 min, as the interface does not exist (can7). So nothing can be said about the bus.", verdict.Sentence.English);
        Assert.Equal("Not now.", Verdict.SightOf(missing, verdict).Word.English);
    }

    [Fact]
    public void AGoodVerdictSaysWhatWasWatchedAndIsTakenBackWherePartWasNotSeen()
    {
        Report quiet = SampleReports.Quiet();
        Assert.Equal("Nothing wrong was found in 13 h 47 min of listening to 7 modules on can0. On can0, 391 errors were heard in 4,812,733 frames, too little to judge. Not judged: the silence of one module.", Verdict.Of(new(quiet)).Sentence.English);
        Report healthy = quiet with { Assurances = [new("the whole bus", AssuranceReport.FewErrors, 1e12, 1e-9, 0.95, "bit")] };
        Assert.Contains("On can0, 391 errors were heard in 4,812,733 frames, no more than a healthy bus shows.", Verdict.Of(new(healthy)).Sentence.English, StringComparison.Ordinal);
        Report blind = quiet with { Source = quiet.Source with { NotSeen = new(0, 3, 0, []) } };
        Assert.EndsWith("But part of the traffic was not seen.", Verdict.Of(new(blind)).Sentence.English, StringComparison.Ordinal);
    }

    [Fact]
    public void WhatMayHaveBeenSilenceIsNeitherListenedToNorCalledNotSeen()
    {
        Report quiet = SampleReports.Quiet();
        FindingReport doubt = SampleReports.Rich().Findings[0] with
        {
            Finding = "bus.not-seen", Severity = "note", Confidence = 0.5, Node = null, ExplainedBy = null,
            Summary = "This recorder's clock stepped forward, or the bus was silent.", SummaryWording = null,
            Measurements = [new("unknownTime", 7200, "s")],
        };
        Report report = quiet with
        {
            Findings = [doubt],
            Buses = [quiet.Buses[0] with { HeardSeconds = (12 * 3600) + 720 }],
            Source = quiet.Source with { NotSeen = new(0, 0, 0, [new(null, SampleReports.Start, SampleReports.Start + TimeSpan.FromHours(2), "The clock stepped forward, or the bus was silent, for 2 h.")]) },
        };
        Verdict verdict = Verdict.Of(new(report));
        Assert.StartsWith("Nothing wrong was found in 12 h 12 min of listening", verdict.Sentence.English, StringComparison.Ordinal);
        Assert.EndsWith("Worth knowing: This recorder's clock stepped forward, or the bus was silent.", verdict.Sentence.English, StringComparison.Ordinal);
        Report another = report with { Findings = [doubt with { Key = "another", Finding = "node.identity", Summary = "Node 5 is another device than recorded." }, doubt] };
        Assert.EndsWith("One more note below. But for part of the time silence proves nothing.", Verdict.Of(new(another)).Sentence.English, StringComparison.Ordinal);
        Assert.DoesNotContain("not heard", Assert.Single(verdict.Sight).English, StringComparison.Ordinal);
        Assert.Equal("as likely as not (50 %)", Words.Confidence(doubt.Confidence).English);

        // One frame that was lost, and part was not seen.
        Report lost = report with { Source = report.Source with { NotSeen = report.Source.NotSeen with { KernelDropped = 1 } } };
        Assert.EndsWith("But part of the traffic was not seen.", Verdict.Of(new(lost)).Sentence.English, StringComparison.Ordinal);
    }

    [Fact]
    public void TroublesThatAreOverAreNotSaidToLast()
    {
        Report rich = SampleReports.Rich();
        Report over = rich with { Findings = rich.Findings.Select(finding => finding with { End = SampleReports.End - TimeSpan.FromHours(1) }).ToArray() };
        Verdict verdict = Verdict.Of(new(over));
        Assert.Equal("Nothing is wrong at the end, but something was. The café dimmer (node 7) stopped sending and has not come back. Seen from 22 Nov 2026, 06:58 to 07:12 UTC. 4 other troubles came and went.", verdict.Sentence.English);
        Assert.Equal("warning", verdict.Severity);
    }

    [Fact]
    public void TheVerdictNamesTheWorstThatLastsAndCountsTheRest()
    {
        Report rich = SampleReports.Rich();
        Assert.Equal("The café dimmer (node 7) stopped sending and has not come back. Seen since 22 Nov 2026, 06:58 UTC. Besides: one fault and 2 warnings. One other trouble came and went.", Verdict.Of(new(rich)).Sentence.English);
        Report warned = rich with { Findings = rich.Findings.Where(finding => finding.Severity == "warning" || finding.End is not null).ToArray() };
        Assert.Equal("One push on input 3 of the workshop buttons arrives as several. Seen 12 times since 21 Nov 2026, 18:50 UTC. Besides: one warning. One other trouble came and went.", Verdict.Of(new(warned)).Sentence.English);
        Assert.Equal("warning", Verdict.Of(new(warned)).Severity);
    }

    /// <summary>What a reader on a ladder needs stands with the verdict, and is that of the finding that the verdict speaks of.</summary>
    [Fact]
    public void HowSureAndWhatToCheckFirstStandWithTheVerdict()
    {
        Report rich = SampleReports.Rich();
        string head = Regex.Match(PageRenderer.Served(new(rich)), "<header>.*?</header>", RegexOptions.Singleline).Value.Replace("&#xA0;", " ", StringComparison.Ordinal);
        Assert.Contains("<b>How sure:</b> practically certain (over 99 %)", head, StringComparison.Ordinal);
        Assert.Contains("<b>Check first:</b> Measure the supply at node 7’s terminals", head, StringComparison.Ordinal);
        Assert.Contains("<b>Careful:</b> The dimmer’s load side is mains.", head, StringComparison.Ordinal);
        Assert.Contains($"href=\"#{PageRenderer.Anchor(rich.Findings[0])}\"", head, StringComparison.Ordinal);
        Assert.Equal(rich.Findings[0], Verdict.Of(new(rich)).Finding);
        Report over = rich with { Findings = [rich.Findings[2]] };
        Assert.Equal(rich.Findings[2], Verdict.Of(new(over)).Finding);
        Report noted = rich with { Findings = [rich.Findings[5]] };
        Assert.Equal(rich.Findings[5], Verdict.Of(new(noted)).Finding);
        Assert.DoesNotContain("How sure", PageRenderer.Served(new(SampleReports.Quiet())), StringComparison.Ordinal);
    }

    /// <summary>In an office, weeks later, a weekday tells nothing.</summary>
    [Fact]
    public void AWeekdayStandsForADateOnALivePageOnly()
    {
        PageModel live = new(SampleReports.Rich()) { Asked = SampleReports.End, IsReadNow = true };
        Assert.Contains("Seen since Sun 06:58 UTC.", PageRenderer.Served(live), StringComparison.Ordinal);
        Assert.Contains("Seen since 22 Nov 2026, 06:58 UTC.", RecordPage.Served(live), StringComparison.Ordinal);
        Assert.Contains("Seen since 22 Nov 2026, 06:58 UTC.", PageRenderer.SelfContained(new(SampleReports.Rich())), StringComparison.Ordinal);
        Assert.Contains("Seen since 22 Nov 2026, 06:58", TextReport.Render(new(SampleReports.Rich())).ReplaceLineEndings(" "), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("bus.no-traffic", true)]
    [InlineData("bus.off", true)]
    [InlineData("node.unstable", false)]
    [InlineData("bus.error-passive", false)]
    public void OfSeveralFaultsTheOneThatHurtsMostIsSaidFirst(string name, bool isFirst)
    {
        Report rich = SampleReports.Rich();
        FindingReport silent = rich.Findings[0];
        Report report = rich with { Findings = [silent, silent with { Key = name, Finding = name, Node = null, Summary = "The later one." }] };
        Assert.Equal(isFirst, Verdict.Of(new(report)).Sentence.English.StartsWith("The later one.", StringComparison.Ordinal));
    }

    [Fact]
    public void WhetherARecorderMissedAnythingIsItsOwnWordAndWithoutAFrameNothingWasSeen()
    {
        Report quiet = SampleReports.Quiet();
        Report trace = quiet with { Source = quiet.Source with { Kind = "trace", NotSeen = new(0, 0, 0, []) }, Buses = [quiet.Buses[0] with { UntrackedFrames = 0 }] };
        Assert.Equal(("As far as the recorder tells:", "it reports no loss."), English(Verdict.SightOf(trace, Verdict.Of(new(trace)))));
        Report deaf = trace with { Buses = [trace.Buses[0] with { Frames = 0 }], Findings = SampleReports.Rich().Findings };
        Assert.Equal("That can’t be told.", Verdict.SightOf(deaf, Verdict.Of(new(deaf))).Word.English);
    }

    [Fact]
    public void TheBoardIsShownWithWhatItsKernelDoesNotTell()
    {
        PageModel model = new(SampleReports.Quiet());
        Assert.DoesNotContain("This board</h2>", PageRenderer.Served(model), StringComparison.Ordinal);
        string silent = PageRenderer.Served(model with { Board = new(null, null, null, 52, 3L << 30) });
        Assert.Contains("Supply: this board’s kernel doesn’t tell.", silent, StringComparison.Ordinal);
        Assert.Contains("52 °C", silent, StringComparison.Ordinal);
        Assert.Contains("3,072 MB free", silent, StringComparison.Ordinal);
        string low = PageRenderer.Served(model with { Board = new(true, false, null, null, null), BoardEvents = [new(Instant.FromSeconds(0), Agent.Boards.BoardEventKind.SupplyLow, false, "The <supply> is too low.")] });
        Assert.Contains("Supply: too low now.", low, StringComparison.Ordinal);
        Assert.Contains("The &lt;supply&gt; is too low.", low, StringComparison.Ordinal);
    }

    [Fact]
    public void ErrorsThatCannotBeJudgedAreNotCountedAsNone()
    {
        Report quiet = SampleReports.Quiet();
        Report unjudged = quiet with { Buses = [quiet.Buses[0] with { ErrorReporting = null, ErrorEpisodes = null, ErrorMessages = 0, Errors = new(0, 0, 0, 0, 0, 0) }] };
        Assert.Contains("– (not known)", PageRenderer.Served(new(unjudged)), StringComparison.Ordinal);
        Assert.Contains("errors –", TextReport.Render(new(unjudged)), StringComparison.Ordinal);
        Assert.DoesNotContain("– (not known)", PageRenderer.Served(new(quiet)), StringComparison.Ordinal);
        Assert.Contains(ErrorCounts.OfNodes(quiet.Buses[0])!.English, PageRenderer.Served(new(quiet)), StringComparison.Ordinal);
    }

    [Fact]
    public void WithSeveralInterfacesTheVerdictSaysWhichOne()
    {
        Report rich = SampleReports.Rich();
        Report two = rich with { Buses = [rich.Buses[0], rich.Buses[0] with { Interface = "can1" }], Findings = [rich.Findings[0]] };
        Assert.StartsWith("On can0: The café dimmer", Verdict.Of(new(two)).Sentence.English, StringComparison.Ordinal);
    }

    [Fact]
    public void WhatFollowsFromAnotherFindingIsToldUnderItAndCountsOnce()
    {
        Report rich = SampleReports.Rich();
        FindingReport node = rich.Findings[0] with { Key = "node.errors/can0/node-7", Finding = "node.errors", Severity = "fault", Summary = "Errors fall on the frames of node 7." };
        FindingReport bus = rich.Findings[4] with { Severity = "fault", ExplainedBy = node.Key };
        Report report = rich with { Findings = [bus, node, rich.Findings[1]] };
        PageModel model = new(report);

        // What the verdict names stands first.
        Assert.Equal([rich.Findings[1], node, bus], ToldFinding.Of(report).Select(told => told.Finding));
        Verdict verdict = Verdict.Of(model);
        Assert.Equal("fault", verdict.Severity);
        Assert.StartsWith("Two devices use address 9", verdict.Sentence.English, StringComparison.Ordinal);
        Assert.EndsWith("Besides: one fault.", verdict.Sentence.English, StringComparison.Ordinal);
        string page = PageRenderer.Served(model);
        Assert.Single(Regex.Matches(page, "class=\"part-of\""));
        Assert.DoesNotContain("beside a motor lead", page, StringComparison.Ordinal);
        Assert.Contains("3. PART OF 2: Errors come more often", TextReport.Render(model), StringComparison.Ordinal);
    }

    [Fact]
    public void AFindingWhoseExplanationIsNotInTheReportStandsForItself()
    {
        Report rich = SampleReports.Rich();
        Report report = rich with { Findings = [rich.Findings[4] with { ExplainedBy = "node.errors/can0/node-99" }] };
        Assert.Null(Assert.Single(ToldFinding.Of(report)).ExplainedBy);
    }

    [Fact]
    public void LimitsThatWereReachedStandUnderWhatWasNotSeen()
    {
        Report quiet = SampleReports.Quiet();
        Report full = quiet with
        {
            Source = quiet.Source with { NotSeen = quiet.Source.NotSeen with { FindingsRefused = true } },
            Buses = [quiet.Buses[0] with { UntrackedFrames = 1534 }],
        };
        Assert.Collection(
            Verdict.Of(new(full)).Sight,
            line => Assert.StartsWith("More findings came up", line.English, StringComparison.Ordinal),
            line => Assert.Contains("in 1,534 frames", line.English, StringComparison.Ordinal));
    }

    [Fact]
    public void AGapWithoutLengthIsToldWithoutOne()
    {
        Report quiet = SampleReports.Quiet();
        Report stepped = quiet with { Source = quiet.Source with { NotSeen = new(0, 0, 0, [new("can0", SampleReports.Start, SampleReports.Start, "the clock was set back")]) } };
        Assert.Equal("can0, at 21 Nov, 18:00:00 UTC: the clock was set back.", Assert.Single(Verdict.Of(new(stepped)).Sight).English);
    }

    [Fact]
    public void AssurancesAreGroupedUnderTheirWeakestBound()
    {
        Report report = SampleReports.Quiet() with
        {
            Assurances =
            [
                new("node 1", "no error on its frames", 1200, 2.5e-3, 0.95, "frame"),
                new("node 1", "no restart", 14, 0.2, 0.95, "h"),
                new("node 2", "no error on its frames", 400, 7.5e-3, 0.95, "frame"),
                new("node 3", "no second sender of its address", 90, null, null, "heartbeat"),
                new("node 4", "no second sender of its address", 180, null, null, "heartbeat"),
            ],
        };
        Assert.Equal(
            [
                "No error on its frames, in 400 frames or more of each: at most 7.5 in a thousand (95 % confidence) | node 1, node 2",
                "No restart, in 14 h: at most 0.2 an hour (95 % confidence) | node 1",
                "No second sender of its address, in 90 heartbeats or more of each | node 3, node 4",
            ],
            Words.Assurances(report).Select(group => $"{group.Statement} | {string.Join(", ", group.Subjects)}"));
    }

    [Theory]
    [InlineData(4.1875, "4.1")]
    [InlineData(4.2, "4.2")]
    [InlineData(8.2, "8.2")]
    [InlineData(104.97, "104")]
    [InlineData(1999.6, "1,999")]
    public void NoMoreHoursAreSaidThanWereListened(double observed, string said)
    {
        Report report = SampleReports.Quiet() with { Assurances = [new("node 1", "no restart", observed, 0.083, 0.95, "h"), new("node 2", "no restart", observed + 0.001, 0.08, 0.95, "h")] };
        Assert.StartsWith($"No restart, in {said} h or more of each:", Assert.Single(Words.Assurances(report)).Statement.English, StringComparison.Ordinal);
    }

    [Fact]
    public void ANodeThatFellSilentEarlyDoesNotWeakenWhatIsSaidOfTheOthers()
    {
        Report report = SampleReports.Quiet() with
        {
            Assurances =
            [
                new("node 1", "no restart", 36, 0.083, 0.95, "h"),
                new("node 2", "no restart", 30, 0.1, 0.95, "h"),
                new("node 13", "no restart", 1.6, 1.87, 0.95, "h"),
            ],
        };
        Assert.Equal(
            [
                "No restart, in 30 h or more of each: at most 0.1 an hour (95 % confidence) | node 1, node 2",
                "No restart, in 1.6 h: at most 1.87 an hour (95 % confidence) | node 13",
            ],
            Words.Assurances(report).Select(group => $"{group.Statement} | {string.Join(", ", group.Subjects)}"));
    }

    [Fact]
    public void EveryReasonOfTheDecoderIsSaidInWords()
    {
        foreach (DecodeOutcome outcome in Enum.GetValues<DecodeOutcome>().Except([DecodeOutcome.Understood, DecodeOutcome.NotCanOpen]))
        {
            Assert.NotEqual(Words.Spaced(outcome.ToString()), Words.Undecodable(outcome.ToString()).English);
        }
    }

    [Fact]
    public void LongListsOfIdentifiersAreFolded()
    {
        string page = PageRenderer.Served(new(SampleReports.Unknown()));
        Assert.Contains("<summary>12 more identifiers</summary>", page, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(100, "in bursts, 3.2 ms ± 0.1 ms apart")]
    [InlineData(16_000_000, "every 3.2 ms ± 0.1 ms")]
    public void APeriodThatIsOnlyThatWithinBurstsIsCalledSo(long frames, string expected) =>
        Assert.Equal(expected, Words.Every(SampleReports.Quiet(), new("0x605", frames, 0.0032, 0.0001, 0.1, null)).English);

    /// <summary>The gaps of two devices on one address have a mean that neither of them keeps.</summary>
    [Theory]
    [InlineData(true, true, "by two senders, each every 1 s")]
    [InlineData(true, false, "in two phases, each every 1 s")]
    [InlineData(false, true, "two devices use its address, so how often each sends it can’t be told")]
    [InlineData(false, false, "every 1 s ± 8.9 ms")]
    public void OfTwoDevicesOnOneAddressOnlyWhatIsKnownOfEachIsSaid(bool twoPhases, bool isShared, string expected)
    {
        Report quiet = SampleReports.Quiet();
        NodeReport node = quiet.Buses[0].Nodes[0];
        FindingReport duplicate = SampleReports.Rich().Findings[0] with { Finding = "node.duplicate-address", Interface = "can0", Node = node.Address, End = null };
        IdentifierReport beat = new("0x701", 1_000_000, 1, 0.0089, 0.1, node.Address) { TwoPhases = twoPhases };
        Report report = quiet with { Buses = [quiet.Buses[0] with { Identifiers = [beat] }], Findings = isShared ? [duplicate] : [] };
        Assert.Equal(expected, Words.Every(report, beat).English);
    }

    /// <summary>Who falls silent after a tenth of the time kept its rhythm until then.</summary>
    [Fact]
    public void ARhythmThatStoppedIsNoBurst()
    {
        Report quiet = SampleReports.Quiet();
        NodeReport node = quiet.Buses[0].Nodes[0];
        NodeReport lost = node with { LastHeard = node.FirstHeard + TimeSpan.FromSeconds(100) };
        IdentifierReport beat = new("0x701", 100, 0.9996, null, 0.1, node.Address);
        Report stopped = quiet with { Buses = [quiet.Buses[0] with { Nodes = [lost], Identifiers = [beat] }] };
        Assert.Equal("every 1 s", Words.Every(stopped, beat).English);
    }

    [Fact]
    public void RemarksOnWhatTheProgramWasGivenAreShown()
    {
        PageModel model = new(SampleReports.Quiet()) { Remarks = [Say($"As-built record, line 3: odd")] };
        Assert.Contains("As-built record, line 3: odd", PageRenderer.Served(model), StringComparison.Ordinal);
        Assert.Contains("- As-built record, line 3: odd", TextReport.Render(model), StringComparison.Ordinal);
    }

    [Fact]
    public void AnAnalysisThatStandsStillIsToldOnALivePageOnly()
    {
        Report live = SampleReports.Rich();
        Instant later = SampleReports.End + TimeSpan.FromSeconds(30);
        Assert.Contains(Verdict.Of(new(live) { Asked = later }).Sight, line => line.English.Contains("stands still", StringComparison.Ordinal));
        Report trace = live with { Source = live.Source with { Kind = "trace" } };
        Assert.DoesNotContain(Verdict.Of(new(trace) { Asked = later }).Sight, line => line.English.Contains("stands still", StringComparison.Ordinal));
    }

    [Fact]
    public void ATroubleOfTheAgentItselfIsToldAndIsNothingUnheard()
    {
        PageModel troubled = new(SampleReports.Quiet()) { Troubles = [new("log", SampleReports.End, Named("The log is not to be opened."))] };
        Verdict verdict = Verdict.Of(troubled);
        Assert.Contains("The log is not to be opened.", Assert.Single(verdict.Troubles).English, StringComparison.Ordinal);
        Assert.Equal(Verdict.Of(new(SampleReports.Quiet())).Sentence, verdict.Sentence);
        Assert.Equal(Verdict.SightOf(troubled.Report, Verdict.Of(new(SampleReports.Quiet()))), Verdict.SightOf(troubled.Report, verdict));
        Assert.Contains("This tool itself needs a hand", PageRenderer.Served(troubled), StringComparison.Ordinal);
        Assert.Contains("The log is not to be opened.", PageRenderer.Served(troubled), StringComparison.Ordinal);
        Assert.DoesNotContain("needs a hand", PageRenderer.Served(new(SampleReports.Quiet())), StringComparison.Ordinal);
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
    public void ProbabilitiesAreNotRoundedToCertainty(double ratio, string expected) => Assert.Equal(expected, Words.Probability(ratio).English);

    [Theory]
    [InlineData("bitErrorRatio", 8.14e-5, "1", "Bits that were hit", "81.4 in a million")]
    [InlineData("trafficShare", 0.071, "1", "Share of the traffic", "7.1 %")]
    [InlineData("operations", 21.0, "1", "Operations watched", "21")]
    [InlineData("silenceLimit", 3.5, "s", "Silent after", "3.5 s")]
    [InlineData("frameRate", 1200.0, "1/s", "Frames", "1,200 per second")]
    [InlineData("somethingNew", 0.25, "V", "Something new", "0.25 V")]
    public void MeasurementsAreSaidInWords(string name, double value, string unit, string expectedName, string expectedValue) =>
        Assert.Equal((expectedName, expectedValue), English(Words.Measurement(new(name, value, unit))));

    [Theory]
    [InlineData(0, "a moment")]
    [InlineData(0.0001, "0.1 ms")]
    [InlineData(0.012, "12 ms")]
    [InlineData(3.5, "3.5 s")]
    [InlineData(59.96, "1 min")]
    [InlineData(4440, "1 h 14 min")]
    [InlineData(273_600, "3 d 4 h")]
    [InlineData(-1, "not known")]
    public void SpansAreSaidInTheirTwoLargestUnits(double seconds, string expected) => Assert.Equal(expected, Times.Span(seconds).English);

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

    [Fact]
    public void ABundleIsOfferedWhereThereIsALogAndWhatItShowsOfPeopleIsSaid()
    {
        PageModel model = new(SampleReports.Rich());
        Assert.DoesNotContain("Hand it on", PageRenderer.Served(model), StringComparison.Ordinal);
        Assert.DoesNotContain("Hand it on", PageRenderer.SelfContained(model), StringComparison.Ordinal);
        string page = PageRenderer.Served(model with { CanBundle = true });
        Assert.Contains("<form method=\"post\" action=\"/bundle\">", page, StringComparison.Ordinal);
        Assert.Contains("when people were present", page, StringComparison.Ordinal);
        Assert.Contains("<button name=\"inputs\" value=\"leave\">", page, StringComparison.Ordinal);
    }

    [Fact]
    public void APageThatIsNotLiveSaysSoAboveEverythingElse()
    {
        PageModel model = new(SampleReports.Rich()) { ReadFrom = new(Say($"a bundle"), TimeZoneInfo.Utc) { Made = SampleReports.End, Program = "0.1.0", Remarks = [SampleReports.HostileName] } };
        string page = PageRenderer.Served(model);
        Assert.StartsWith("<section class=\"read-from\"><p><strong>Read from a bundle made on 22 Nov 2026, 08:12:00 UTC by version 0.1.0; nothing here is live.</strong></p>", PageRenderer.At("/", model)!.Pieces[0].In(Language.English).Html, StringComparison.Ordinal);
        Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Listening now", page, StringComparison.Ordinal);
    }

    /// <summary>Which zone times are in must not be taken for the board's where it is the reader's.</summary>
    [Fact]
    public void WhoseZoneItIsIsSaid()
    {
        TimeZoneInfo zone = TimeZoneInfo.FindSystemTimeZoneById("Pacific/Auckland");
        PageModel model = new(SampleReports.Rich()) { Zone = zone, ReadFrom = new(Say($"a bundle"), zone) { IsReadersZone = true } };
        Assert.Contains("those of this machine’s zone", PageRenderer.Served(model), StringComparison.Ordinal);
        Assert.Contains("those of this board’s zone", PageRenderer.Served(model with { ReadFrom = new(Say($"a bundle"), zone) }), StringComparison.Ordinal);
    }

    private static (string, string) English((Sentence First, Sentence Second) pair) => (pair.First.English, pair.Second.English);
}
