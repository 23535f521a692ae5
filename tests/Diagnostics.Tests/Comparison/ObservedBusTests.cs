using Diagnostics.Core.Comparison;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Comparison;

/// <summary>Report documents come from anybody.</summary>
public class ObservedBusTests
{
    private static readonly BusReport Quiet = SampleReports.Quiet().Buses[0];

    /// <summary>Thirty quiet days that a document of three minutes claims would prove a fault gone.</summary>
    [Fact]
    public void NobodyHearsForLongerThanTheRecordLasts()
    {
        Assert.Equal(180, ObservedBus.Of(Quiet with { HeardSeconds = 30 * 86_400 }, spanSeconds: 180).Totals.HeardSeconds);
        Assert.Equal(170, ObservedBus.Of(Quiet with { HeardSeconds = 170 }, spanSeconds: 180).Totals.HeardSeconds);
        Assert.Equal(0, ObservedBus.Of(Quiet with { HeardSeconds = 170 }, spanSeconds: -180).Totals.HeardSeconds);
        Assert.Equal(180, ObservedBus.Of(Quiet with { HeardSeconds = 0 }, spanSeconds: 180).Totals.HeardSeconds);
    }

    [Fact]
    public void NumbersThatNoBusBringsDoNotTripTheDocument()
    {
        foreach (double strange in new[] { double.PositiveInfinity, double.NegativeInfinity, 1e308, 1e-308 })
        {
            Report report = SampleReports.Quiet();
            report = report with { Buses = [Quiet with { HeardSeconds = strange, BitsHeard = strange, LoadMean = strange, LoadPeak1s = strange, ErrorEpisodes = 3 }] };
            ObservedPeriod side = ObservedPeriod.Of(report, "report", "a.json");
            Assert.NotEmpty(ComparisonJson.ToUtf8(Comparer.Compare(side, side)));
        }
    }
}
