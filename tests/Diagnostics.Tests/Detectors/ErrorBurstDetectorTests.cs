using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class ErrorBurstDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    /// <summary>A disturbance of some tens of milliseconds that spoils whatever is sent, every 12 s from the second minute on.</summary>
    private static Fault[] Bursts(int count) =>
        [.. Enumerable.Range(0, count).Select(i => new BusNoise(0.2) { Start = Begin + Seconds(12 * i), End = Begin + Seconds((12 * i) + 0.9) })];

    [Fact]
    public void ThreeBurstsInDifferentTensOfSecondsAreAFinding()
    {
        JsonElement burst = Of(Library(Bursts(4)), Minutes(4)).The("bus.error-burst");
        Assert.Equal("warning", Severity(burst));
        Assert.InRange(SecondsOf(burst, "start"), 120, 133);
    }

    [Fact]
    public void TwoBurstsAreNone() => Assert.False(Of(Library(Bursts(2)), Minutes(4)).Has("bus.error-burst"));

    [Fact]
    public void SingleErrorsSpreadByChanceAreNoBurst() =>
        Assert.False(Of(Library(new BusNoise(2e-5)), Minutes(15)).Has("bus.error-burst"));

    [Fact]
    public void BurstsAreFoundAlthoughFramesAreLost() =>
        Assert.True(Of(Library([.. Bursts(5), new LostFrames(0.3)]), Minutes(4)).Has("bus.error-burst"));

    [Fact]
    public void TenQuietMinutesEndIt() =>
        Assert.True(HasEnded(Of(Library(Bursts(4)), Minutes(14)).The("bus.error-burst")));
}
