using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Measured;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class SupplyLowDetectorTests
{
    [Fact]
    public void ASourceThatGivesTooLittleIsFoundAndEndsWhenItIsBack()
    {
        Site site = Measured.Library(WrenfieldLibrary.SupplyGauges, new SupplyLowered(20) { Start = Minutes(3), End = Minutes(6) });
        Measured measured = Measured.Of(site, Minutes(8));
        FindingReport low = measured.The("supply.low");
        Assert.Equal("fault", low.Severity);
        Assert.Equal("supply-weak", low.Causes[0].Cause);
        Assert.NotNull(low.End);
        Assert.InRange((low.Start - site.Start).TotalSeconds, 179, 182);
        Assert.InRange((low.End!.Value - site.Start).TotalSeconds, 359, 362);
        Assert.InRange(Value(low, "lowestVolts"), 19, 20);
        Assert.Equal(["supply.low"], measured.Accusations);
    }

    [Fact]
    public void ASourceThatIsSetHighFromTheStartAndWarmsUpIsNone()
    {
        Site site = Measured.Library(WrenfieldLibrary.SupplyGauges) with { Supply = WrenfieldLibrary.Supply with { Volts = 26, ColdRatio = 0.015 } };
        Assert.Empty(Measured.Of(site, Minutes(90)).Report.Findings);
    }

    [Theory]
    [InlineData(20.41, false)]
    [InlineData(20.39, true)]
    public void TheLimitIs15PercentBelowTheNominalVoltage(double volts, bool isLow) =>
        Assert.Equal(isLow, SuppliedBus.Of(Measured.TwentyFourVolts, 400, at => at < 200 ? 24 : volts).Has("supply.low"));

    [Fact]
    public void TwoSecondsAreTooShort()
    {
        Assert.False(SuppliedBus.Of(Measured.TwentyFourVolts, 400, at => at is >= 200 and < 240 ? 15 : 24).Has("supply.low"));
        Assert.True(SuppliedBus.Of(Measured.TwentyFourVolts, 400, at => at is >= 200 and < 280 ? 15 : 24).Has("supply.low"));
    }

    [Fact]
    public void JustAboveTheLimitDoesNotEndIt()
    {
        Assert.Null(SuppliedBus.Of(Measured.TwentyFourVolts, 2000, at => at < 200 ? 24 : at < 400 ? 20 : 20.7).The("supply.low").End);
        Assert.NotNull(SuppliedBus.Of(Measured.TwentyFourVolts, 2000, at => at < 200 ? 24 : at < 400 ? 20 : 20.9).The("supply.low").End);
    }

    [Fact]
    public void ALeadWithoutContactWhileModulesSendIsNoFinding()
    {
        Assert.False(SuppliedBus.Of(Measured.TwentyFourVolts, 2000, at => at < 200 ? 24 : 0.1, framesEverySecond: true).Has("supply.low"));
        FindingReport off = SuppliedBus.Of(Measured.TwentyFourVolts, 2000, at => at < 200 ? 24 : 0.1).The("supply.low");
        Assert.StartsWith("The bus supply is off", off.Summary, StringComparison.Ordinal);
    }

    [Fact]
    public void LowerThanItsHabitIsAWarningAfterTenMinutes()
    {
        const int Hour = 72_000;
        Assert.False(SuppliedBus.Of(new(), Hour + 11_000, at => at <= Hour ? 24 : 22.5).Has("supply.low"));
        FindingReport low = SuppliedBus.Of(new(), Hour + 13_000, at => at <= Hour ? 24 : 22.5).The("supply.low");
        Assert.Equal("warning", low.Severity);
        Assert.Equal(24, Value(low, "usualVolts"), 6);
        Assert.False(SuppliedBus.Of(new(), Hour + 13_000, at => at <= Hour ? 24 : 22.9).Has("supply.low"));
    }

    [Fact]
    public void BeforeAnHourThereIsNoHabit() =>
        Assert.False(SuppliedBus.Of(new(), 60_000, at => at <= 30_000 ? 24 : 18).Has("supply.low"));

    [Fact]
    public void AGapHoldsBack() =>
        Assert.False(SuppliedBus.Of(Measured.TwentyFourVolts, 2000, at => at < 200 ? 24 : at % 40 < 20 ? null : 18).Has("supply.low"));

    [Fact]
    public void ANoisySensorFindsNothing()
    {
        // Three standard deviations of 1 V, which a shunt never has.
        Assert.Empty(SuppliedBus.Of(new(), 100_000, at => 24 + (3 * Math.Sin(at * 12.9898))).Report.Findings);
    }
}
