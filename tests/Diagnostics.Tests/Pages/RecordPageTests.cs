using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

public class RecordPageTests
{
    private static PageModel Model(Report report) => new(report) { Built = new AsBuiltRecord { Site = "Wrenfield community library" } };

    [Fact]
    public void TheRecordSaysWhatSiteWhichPeriodAndTheVerdictAndEndsWithASpaceToSign()
    {
        string page = RecordPage.SelfContained(Model(SampleReports.Rich()));
        Assert.Contains("<h1><bdi>Wrenfield community library</bdi></h1>", page, StringComparison.Ordinal);
        Assert.Contains("from 21 Nov 2026, 18:00:00 UTC to 22 Nov 2026, 08:12:00 UTC, 14 h 12 min", page, StringComparison.Ordinal);
        string[] inOrder = ["The café dimmer (node 7) stopped", "What was not heard", "the interface was down", "What was found, and where to look", "Measure the supply at node 7’s terminals", "What was counted", "Who is on the bus", "What was looked for and not found", "Before you open anything", "What this record can’t say", "Handed over by (name, signature)"];
        int at = 0;
        foreach (string text in inOrder)
        {
            at = page.IndexOf(text, at, StringComparison.Ordinal);
            Assert.True(at > 0, text);
        }
    }

    [Fact]
    public void ErrorsStandWithTheirExactInterval()
    {
        string page = RecordPage.SelfContained(Model(SampleReports.Rich()));

        // 380 events: Garwood's interval is 342.7 to 420.2.
        Assert.Contains("380 disturbances in 1,316,000,000 bits: between 2.6e-7 and 3.2e-7 (exact interval, 95&#xA0;%)", page, StringComparison.Ordinal);
        BusReport bus = SampleReports.Quiet().Buses[0] with { ErrorEpisodes = 0, Errors = new(0, 0, 0, 0, 0, 0), BitsHeard = 1_000_000_000 };
        string clean = RecordPage.SelfContained(Model(SampleReports.Quiet() with { Buses = [bus] }));
        Assert.Contains("none in 1,000,000,000 bits: below 3.0e-9", clean, StringComparison.Ordinal);
        string blind = RecordPage.SelfContained(Model(SampleReports.Quiet() with { Buses = [bus with { ErrorEpisodes = null }] }));
        Assert.DoesNotContain("below 3.0e-9", blind, StringComparison.Ordinal);
        Assert.Contains("can’t be judged: this record would show none", blind, StringComparison.Ordinal);
    }

    [Fact]
    public void WhereNobodyNamedTheSiteThereIsALineToWriteItsName()
    {
        Assert.Contains("<dd class=\"blank\">", RecordPage.SelfContained(new(SampleReports.Rich())), StringComparison.Ordinal);
        Assert.DoesNotContain("<dd class=\"blank\">", RecordPage.SelfContained(Model(SampleReports.Rich())), StringComparison.Ordinal);
    }

    [Fact]
    public void ASimulatedSiteIsNeverTakenForARealOne()
    {
        Report report = SampleReports.Quiet();
        Assert.Contains("this record says nothing of a real one", RecordPage.SelfContained(new(report with { Source = report.Source with { Kind = "simulated" } })), StringComparison.Ordinal);
    }

    [Fact]
    public void NamesOfStrangersRunNothingAndNothingIsLoaded()
    {
        foreach (Report report in new[] { SampleReports.Rich(), SampleReports.Quiet(), SampleReports.NothingHeard(), SampleReports.Crowded(), SampleReports.Unknown() })
        {
            string page = RecordPage.SelfContained(Model(report) with { Built = new AsBuiltRecord { Site = SampleReports.HostileName } });
            Assert.DoesNotContain("<script", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<form", page, StringComparison.Ordinal);
            Assert.DoesNotContain("src=", page.Replace("&lt;img src=x", string.Empty, StringComparison.Ordinal), StringComparison.Ordinal);
            Assert.Contains("default-src 'none'", page, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void WhatOtherRunsOfTheLogFoundIsTold()
    {
        FindingReport before = SampleReports.Rich().Findings[0] with { Summary = "The hall relay stopped the day before." };
        string page = RecordPage.SelfContained(Model(SampleReports.Quiet()) with { Earlier = new EarlierRuns(SampleReports.Start, [before], []) });
        Assert.Contains("Found before this start", page, StringComparison.Ordinal);
        Assert.Contains("The hall relay stopped the day before.", page, StringComparison.Ordinal);
    }

    [Fact]
    public void ARecordOfThousandsOfFindingsSaysHowManyItLeavesOut()
    {
        FindingReport finding = SampleReports.Rich().Findings[0];
        Report report = SampleReports.Rich() with { Findings = [.. Enumerable.Range(0, 5000).Select(index => finding with { Key = $"{finding.Key}-{index}" })] };
        string page = RecordPage.SelfContained(Model(report));
        Assert.Contains("4,960 more stand in the report document.", page, StringComparison.Ordinal);
        Assert.True(page.Length < 400_000);
    }
}
