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

    /// <summary>At 1 Mbit/s and two thirds full an hour's bits of a slow bus go by in minutes.</summary>
    private static Site Fast(params Fault[] faults) => Library([new HighLoad(0.65), .. faults]) with { BitRate = 1_000_000 };

    /// <summary>Disturbances of two milliseconds that surely hit a frame.</summary>
    private static Fault[] Disturbed(int times, double apart) =>
        [.. Enumerable.Range(0, times).Select(i => new BusNoise(0.02) { Start = Seconds(10 + (i * apart)), End = Seconds(10.002 + (i * apart)) })];

    /// <summary>Of 2.6e8 bits 3.1e-9 hits 0.8 on average; this site's noise hits one.</summary>
    [Fact]
    public void ErrorsAtAProductionLinesRateAreNone()
    {
        Replayed replayed = Of(Fast(new BusNoise(3.1e-9)), Seconds(400), null, "--bit-rate", "1000000");
        Assert.InRange(replayed.Bus.GetProperty("errorMessages").GetInt64(), 1, 10);
        Assert.Empty(replayed.Findings);
    }

    /// <summary>Five in 6e7 bits are at least 1e-8 (99.9 %, Garwood 1936): above 3.1e-9, far below 2.6e-7. In 2.6e8, when the fifth comes, they may be 2.4e-9.</summary>
    [Theory]
    [InlineData(20, "warning")]
    [InlineData(95, null)]
    public void FiveDisturbancesAreAWarningWhereTheyCannotBeAProductionLines(int secondsApart, string? severity)
    {
        Replayed replayed = Of(Fast(Disturbed(5, secondsApart)), Seconds(5 * secondsApart), null, "--bit-rate", "1000000");
        Assert.Equal(severity, replayed.Has("bus.error-rate") ? Severity(replayed.The("bus.error-rate")) : null);
    }

    [Fact]
    public void FourDisturbancesAreTooFewToTell()
    {
        Replayed replayed = Of(Fast(Disturbed(4, 8)), Seconds(50), null, "--bit-rate", "1000000");
        Assert.InRange(replayed.Bus.GetProperty("errorMessages").GetInt64(), 4, 400);
        Assert.False(replayed.Has("bus.error-rate"));
    }

    [Fact]
    public void WithAThirdOfTheFramesLostTheRateIsStillFound() =>
        Assert.Equal("fault", Severity(Of(Library(new BusNoise(2e-5), new LostFrames(0.3)), Minutes(16)).The("bus.error-rate")));

    [Fact]
    public void NoiseThatStoppedIsNotOverBeforeTheWholeRecordIsClean()
    {
        JsonElement rate = Of(Library(new BusNoise(1e-4) { Start = Minutes(1), End = Minutes(3) }), Minutes(5)).The("bus.error-rate");
        Assert.False(HasEnded(rate));
    }
}
