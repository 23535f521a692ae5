using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Measured;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class SupplyDipDetectorTests
{
    private static readonly Site Busy = Measured.Library(WrenfieldLibrary.SupplyGauges) with { People = new() { Activity = 8 } };

    [Fact]
    public void ABadJointThatSagsWhenRelaysPullInIsFoundAndCarriesTheRestartsBehind()
    {
        Measured measured = Measured.Of(Busy with { Faults = [new SupplyJoint(3.2) { Start = Minutes(5) }] }, Minutes(25));
        FindingReport dip = measured.The("supply.dip");
        Assert.Equal("supply-weak", dip.Causes[0].Cause);
        Assert.True(Value(dip, "dips") >= 3);
        Assert.InRange(Value(dip, "lowestVolts"), 14, 20.4);

        // 11 ms from one window to the next, as the thread is 1 ms late on average, and a window of 8.2 ms.
        Assert.Equal(0.0192, Value(dip, "shortestVisible"), 3);
        FindingReport[] restarts = [.. measured.Report.Findings.Where(finding => finding.Finding is "node.restarted" or "bus.restarted")];
        Assert.NotEmpty(restarts);
        Assert.All(restarts, restarted => Assert.Contains(restarted.Causes[0].Cause, (string[])["device-restarted-by-supply", "supply-weak"]));
        Assert.Contains(restarts, restarted => restarted.ExplainedBy == dip.Key && restarted.Evidence.Any(row => row.Text.StartsWith("The bus supply dipped to ", StringComparison.Ordinal)));
    }

    [Fact]
    public void PlannedSwitchingWithinWhatTheSettingsAllowIsNoDip()
    {
        Measured measured = Measured.Of(Busy, Minutes(25));
        Assert.Empty(measured.Report.Findings);
        QuantityReport supply = measured.Quantity("supplyVolts");

        // It did sag: each relay that pulls in takes 0.8 A through 0.34 Ω of feed and source.
        Assert.InRange(supply.Highest!.Value - supply.Lowest!.Value, 0.25, 1);
    }

    [Fact]
    public void ARestartWithoutADipIsNotLaidToTheSupply()
    {
        Measured measured = Measured.Of(Busy with { Faults = [new WatchdogRestarts(5) { Start = Minutes(5), MeanBetween = Minutes(60) }] }, Minutes(10));
        FindingReport restarted = measured.The("node.restarted");
        Assert.Null(restarted.ExplainedBy);
        Assert.DoesNotContain(restarted.Evidence, row => row.Text.Contains("dip", StringComparison.Ordinal));
    }

    /// <summary>A tenth of a second at 18 V: enough for a module that stops at 19 V and doesn't start again, and nothing for the others, which bear 15 V.</summary>
    private static readonly SupplyLowered Dip = new(18) { Start = Minutes(5), End = Minutes(5) + TimeSpan.FromMilliseconds(100) };

    [Fact]
    public void AModuleThatStopsInADipAndStaysAwayCarriesIt()
    {
        Measured measured = Measured.Of(Measured.Library(WrenfieldLibrary.SupplyGauges, Dip, new BrownOutForGood(9, 19)), Minutes(8));
        FindingReport dip = measured.The("supply.dip");
        FindingReport silent = measured.The("node.silent");
        Assert.Equal(9, silent.Node);
        Assert.Null(silent.End);
        Assert.Equal(dip.Key, silent.ExplainedBy);
        Assert.Equal("supply-weak", silent.Causes[0].Cause);
        EvidenceReport row = Assert.Single(silent.Evidence, row => row.Text.StartsWith("The bus supply dipped to ", StringComparison.Ordinal));
        Assert.InRange(row.Time.SecondsSince(dip.Start), -0.1, 0.1);
        Assert.Contains(dip.Evidence, row => row.Text.EndsWith("fell silent just then.", StringComparison.Ordinal));
        Assert.Equal(["node.silent", "supply.dip"], measured.Accusations.Order());
    }

    [Fact]
    public void ADipThatModulesBearIsADipAlone()
    {
        Measured measured = Measured.Of(Measured.Library(WrenfieldLibrary.SupplyGauges, Dip), Minutes(8));
        Assert.Equal(["supply.dip"], measured.Accusations);
        Assert.DoesNotContain(measured.The("supply.dip").Evidence, row => row.Text.Contains("silent", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(20)]
    [InlineData(-20)]
    public void ASilenceThatComesLongAfterADipOrBeforeItIsNotLaidToIt(double seconds)
    {
        Site site = Measured.Library(WrenfieldLibrary.SupplyGauges, Dip, new NodeWithoutPower(9) { Start = Minutes(5) + TimeSpan.FromSeconds(seconds) });
        Measured measured = Measured.Of(site, Minutes(8));
        FindingReport silent = measured.The("node.silent");
        Assert.Null(silent.ExplainedBy);
        Assert.DoesNotContain(silent.Evidence, row => row.Text.Contains("dipped", StringComparison.Ordinal));
        Assert.DoesNotContain(measured.The("supply.dip").Evidence, row => row.Text.Contains("silent", StringComparison.Ordinal));
    }

    [Fact]
    public void WithoutASensorNothingIsSaid()
    {
        Measured measured = Measured.Of(Busy with { Gauges = [], Faults = [new SupplyJoint(3.2) { Start = Minutes(5) }] }, Minutes(25));
        Assert.False(measured.Has("supply.dip"));
        Assert.Empty(measured.Report.Measurements);
        Assert.DoesNotContain(measured.Report.Assurances, assurance => assurance.Statement.Contains("supply", StringComparison.Ordinal));
        Assert.Contains(measured.Report.Findings, finding => finding.Finding is "node.restarted" or "bus.restarted");
    }

    [Fact]
    public void OneWindowJustBelowTheLimitIsADip()
    {
        Assert.True(SuppliedBus.Of(new() { DipSupplyVolts = 20 }, 100, at => at == 50 ? 19.9 : 24).Has("supply.dip"));
        Assert.False(SuppliedBus.Of(new() { DipSupplyVolts = 20 }, 100, at => at == 50 ? 20 : 24).Has("supply.dip"));
    }

    [Fact]
    public void WhatLastsLongerThanTwoSecondsIsALowSupplyAndNoDip()
    {
        SuppliedBus long_ = SuppliedBus.Of(Measured.TwentyFourVolts, 300, at => at is >= 100 and < 160 ? 19 : 24);
        Assert.False(long_.Has("supply.dip"));
        Assert.True(long_.Has("supply.low"));
    }

    [Fact]
    public void SwitchingOnIsNoDip() =>
        Assert.False(SuppliedBus.Of(Measured.TwentyFourVolts, 100, at => at < 5 ? 24 : at < 12 ? 0 : 24).Has("supply.dip"));

    [Fact]
    public void ADipThatAGapSwallowsIsNotCounted() =>
        Assert.False(SuppliedBus.Of(Measured.TwentyFourVolts, 100, at => at is >= 50 and < 52 ? 19 : at is >= 52 and < 73 ? null : 24).Has("supply.dip"));

    [Fact]
    public void WithoutALimitTheHabitOfAnHourGivesOne()
    {
        // 15 % below the middle of the first hour.
        Assert.False(SuppliedBus.Of(new(), 72_000, at => at == 30_000 ? 15 : 26).Has("supply.dip"));
        FindingReport dip = SuppliedBus.Of(new(), 74_000, at => at == 73_000 ? 22 : 26).The("supply.dip");
        Assert.Equal(22.1, Value(dip, "limit"), 6);
    }

    [Fact]
    public void TenMinutesWithoutADipEndItAndTheNextIsAnEpisode()
    {
        FindingReport dip = SuppliedBus.Of(Measured.TwentyFourVolts, 20_000, at => at is 100 or 14_000 ? 19 : 24).The("supply.dip");
        Assert.Equal(2, dip.Count);
        Assert.Equal(2, Value(dip, "dips"));
    }

    [Fact]
    public void GarbageFromASensorFindsNothing()
    {
        double[] garbage = [double.NaN, double.PositiveInfinity, double.NegativeInfinity];
        SuppliedBus bus = SuppliedBus.Of(Measured.TwentyFourVolts, 1000, at => at % 7 == 0 ? garbage[at % 3] : 24);
        Assert.Empty(bus.Report.Findings);
    }

    /// <summary>What was watched without a break counts, and what the sensor missed doesn't; a single window below the limit takes it away.</summary>
    [Fact]
    public void ASupplyThatHeldIsToldWithItsLimitItsTimeAndWhatWouldHaveShown()
    {
        Site site = Measured.Library(WrenfieldLibrary.SupplyGauges);
        AssuranceReport whole = Supply(site, 70)!;
        Assert.Equal("never below its limit", whole.Statement);
        Assert.Contains("limit 20.4 V", whole.Subject, StringComparison.Ordinal);
        Assert.InRange(whole.Observed, 1.16, 1.1667);
        AssuranceReport? gap = Supply(site with { Faults = [new GaugesStop { Start = TimeSpan.FromMinutes(30), End = TimeSpan.FromMinutes(38) }] }, 70);
        Assert.InRange(gap!.Observed, 62 / 60.0 - 0.01, 62 / 60.0);
        Assert.Null(Supply(site with { Faults = [new GaugesStop { Start = TimeSpan.FromMinutes(30), End = TimeSpan.FromMinutes(45) }] }, 70));
        Assert.Null(Supply(site with { Faults = [new SupplyLowered(19) { Start = TimeSpan.FromMinutes(30), End = TimeSpan.FromMinutes(30.01) }] }, 70));

        static AssuranceReport? Supply(Site site, double minutes) =>
            Measured.Of(site, TimeSpan.FromMinutes(minutes)).Report.Assurances.SingleOrDefault(assurance => assurance.Statement == "never below its limit");
    }
}
