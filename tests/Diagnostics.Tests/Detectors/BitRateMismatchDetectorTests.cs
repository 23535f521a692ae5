using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class BitRateMismatchDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(20);

    [Fact]
    public void AModuleAtAnotherBitRateDestroysWhatItHears()
    {
        JsonElement mismatch = Of(Library(new WrongBitRate(5, 250_000) { Start = Begin }), Seconds(34)).The("bus.bit-rate-mismatch");
        Assert.Equal("fault", Severity(mismatch));
        Assert.Contains(mismatch.GetProperty("causes").EnumerateArray(), cause => cause.GetProperty("cause").GetString() == "bit-rate-wrong" && cause.GetProperty("probability").GetDouble() >= 0.3);
        Assert.InRange(SecondsOf(mismatch, "start"), 18, 34);
    }

    [Fact]
    public void ALoneSenderGivesErrorsOnlyForMilliseconds() =>
        Assert.False(Of(Library(new SenderAlone(5) { Start = Begin, End = Begin + Seconds(6) }), Seconds(36)).Has("bus.bit-rate-mismatch"));

    [Fact]
    public void NoiseThatLetsMostFramesThroughIsNone() =>
        Assert.False(Of(Library(new BusNoise(1e-3) { Start = Begin }), Minutes(2)).Has("bus.bit-rate-mismatch"));

    [Fact]
    public void TwoSecondsOfNothingButErrorsAreTooShort() =>
        Assert.False(Of(Library(new BusNoise(0.2) { Start = Begin, End = Begin + Seconds(2) }), Minutes(1)).Has("bus.bit-rate-mismatch"));

    [Fact]
    public void WhileFramesAreLostItIsNotSaid()
    {
        // One loss every four seconds, declared: the good frames may be among them.
        (TimeSpan, TimeSpan)[] gaps = [.. Enumerable.Range(0, 5).Select(i => (Begin + Seconds(4 * i), Begin + Seconds((4 * i) + 1)))];
        Assert.False(Of(Library(new WrongBitRate(5, 250_000) { Start = Begin }), Seconds(36), gaps).Has("bus.bit-rate-mismatch"));
    }
}
