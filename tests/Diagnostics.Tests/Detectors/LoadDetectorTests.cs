using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class LoadDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(30);

    private static Replayed Loaded(double ratio, TimeSpan length, (TimeSpan, TimeSpan)[]? lost = null) =>
        Of(Library(new HighLoad(ratio) { Start = Begin, End = Begin + length }), Begin + length + Seconds(15), lost);

    [Fact]
    public void EightyPercentIsAWarning()
    {
        JsonElement high = Loaded(0.82, Seconds(20)).The("bus.load-high");
        Assert.Equal("warning", Severity(high));
        Assert.InRange(SecondsOf(high, "start"), 30, 32);
        Assert.InRange(SecondsOf(high, "raised"), 40, 42);
        Assert.InRange(SecondsOf(high, "end"), 48, 53);
    }

    [Fact]
    public void NearlyFullIsAFault() => Assert.Equal("fault", Severity(Loaded(1.0, Seconds(25)).The("bus.load-high")));

    [Fact]
    public void SixtyPercentIsNone() => Assert.False(Loaded(0.62, Seconds(20)).Has("bus.load-high"));

    [Fact]
    public void EightSecondsAreTooShort() => Assert.False(Loaded(0.82, Seconds(8)).Has("bus.load-high"));

    [Fact]
    public void AFirmwareDownloadDoesNotFillTheBusLongEnough() =>
        Assert.Empty(Of(Library(new FirmwareDownload(6, 16_384) { Start = Begin }), Minutes(3)).Accusations);

    [Fact]
    public void LostFramesOnlyLowerTheLoad()
    {
        (TimeSpan, TimeSpan)[] gaps = [.. Enumerable.Range(0, 20).Select(second => (Begin + Seconds(second), Begin + Seconds(second + 0.3)))];
        Assert.False(Loaded(0.82, Seconds(20), gaps).Has("bus.load-high"));
    }
}
