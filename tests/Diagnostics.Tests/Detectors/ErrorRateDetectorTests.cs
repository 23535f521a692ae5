using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class ErrorRateDetectorTests
{
    [Fact]
    public void NoiseFarBeyondAWelderIsAFault()
    {
        // Fault above 2.6e-7 beside an arc welder (Ferreira et al. 2004, in Wilamowski and Irwin, table 31.2).
        JsonElement rate = Of(Library(new BusNoise(2e-5) { Start = Minutes(2) }), Minutes(16)).The("bus.error-rate");
        Assert.Equal("fault", Severity(rate));
        JsonElement ratio = rate.GetProperty("measurements")[0];
        Assert.InRange(ratio.GetProperty("low").GetDouble(), 2.6e-7, 2e-5);
        Assert.True(ratio.GetProperty("high").GetDouble() > ratio.GetProperty("value").GetDouble());
        Assert.InRange(SecondsOf(rate, "start"), 119, 16 * 60);
    }

    [Fact]
    public void ErrorsAtAProductionLinesRateAreNone() =>
        Assert.Empty(Of(Library(new BusNoise(3.1e-9)), Minutes(30)).Findings);

    [Fact]
    public void FourDisturbancesAreTooFewToTell()
    {
        // A contact of one drop that opens four times for some milliseconds.
        Fault[] four = [.. Enumerable.Range(0, 4).Select(i => new BusNoise(0.02) { Start = Minutes(1 + i), End = Minutes(1 + i) + TimeSpan.FromMilliseconds(40) })];
        Assert.False(Of(Library(four), Minutes(6)).Has("bus.error-rate"));
    }

    [Fact]
    public void WithAThirdOfTheFramesLostTheRateIsStillFound() =>
        Assert.Equal("fault", Severity(Of(Library(new BusNoise(2e-5), new LostFrames(0.3)), Minutes(16)).The("bus.error-rate")));

    [Fact]
    public void NoiseThatStopsIsOverOnceTheWholeRecordIsClean()
    {
        JsonElement rate = Of(Library(new BusNoise(1e-4) { Start = Minutes(1), End = Minutes(3) }), Minutes(5)).The("bus.error-rate");
        Assert.False(HasEnded(rate));
    }
}
