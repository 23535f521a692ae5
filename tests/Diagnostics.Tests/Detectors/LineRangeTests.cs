using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Detectors;

/// <summary>Both lines and the supply as means of a second each; range of either line: ISO 11898-2 by the tables of transceivers (reference values, 6.2).</summary>
public class LineRangeTests
{
    [Theory]
    [InlineData(2.0, 2.0)]
    [InlineData(3.0, 3.0)]
    [InlineData(2.6, 2.4)]
    [InlineData(4.5, 0.5)]
    public void WhatABusCanHaveIsInside(double high, double low) => Assert.Empty(Of(high, low, 24, frames: true));

    [Theory]
    [InlineData(2.6, 0.1, "CAN_L", "cable-short")]
    [InlineData(1.2, 2.4, "CAN_H", "cable-short")]
    [InlineData(6.0, 2.4, "CAN_H", "cable-short")]
    public void OneLineThatIsStuckIsNamed(double high, double low, string line, string cause)
    {
        FindingReport level = Assert.Single(Of(high, low, 24, frames: true));
        Assert.StartsWith(line + " alone", level.Summary, StringComparison.Ordinal);
        Assert.Equal(cause, level.Causes[0].Cause);
        Assert.NotNull(level.Causes[0].Caution);
    }

    [Theory]
    [InlineData(7.5, 7.3, "outside −2 to +7 V")]
    [InlineData(4.9, 4.7, "bear −2 to +7 V")]
    public void BothLinesThatMovedTogetherAreAGround(double high, double low, string evidence)
    {
        FindingReport level = Assert.Single(Of(high, low, 24, frames: true));
        Assert.Equal("ground-offset", level.Causes[0].Cause);
        Assert.Contains(level.Evidence, row => row.Text.Contains(evidence, StringComparison.Ordinal));
    }

    [Fact]
    public void BothLinesAtNothingAreAShortOnlyWhereTheSupplyIsThereAndNobodySends()
    {
        Assert.StartsWith("Both lines are at 0 V", Assert.Single(Of(0, 0, 24, frames: false)).Summary, StringComparison.Ordinal);
        Assert.Empty(Of(0, 0, 24, frames: true));
        Assert.Empty(Of(0, 0, 0, frames: false));
        Assert.Empty(Of(0, 0, null, frames: false));
    }

    [Fact]
    public void NineSecondsAreTooShort() => Assert.Empty(Of(2.6, 0.1, 24, frames: true, seconds: 9));

    private static FindingReport[] Of(double high, double low, double? supply, bool frames, int seconds = 30)
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000 });
        analyzer.OnInterface(0, new("can0"));
        Instant start = TestBus.Start;
        const int Before = 20;
        for (int second = 0; second < Before + seconds + 2; second++)
        {
            Instant from = start + TimeSpan.FromSeconds(second);
            Instant to = from + TimeSpan.FromSeconds(0.9);
            bool isBad = second is >= Before && second < Before + seconds;
            analyzer.Advance(from);
            if (frames)
            {
                analyzer.OnFrame(CanFrame.Classic(from, CanId.Base(0x705), [5]));
            }

            analyzer.OnMeasurement(new(Quantity.LineHighVolts, from, to, isBad || !frames ? high : 2.55));
            analyzer.OnMeasurement(new(Quantity.LineLowVolts, from, to, isBad || !frames ? low : 2.45));
            if (supply is double volts)
            {
                analyzer.OnMeasurement(new(Quantity.SupplyVolts, from, to, volts));
            }
        }

        return [.. analyzer.Snapshot().Findings.Where(finding => finding.Finding == "line.level")];
    }
}
