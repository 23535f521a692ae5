using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class FloodDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(60);

    private static Replayed Babbling(double milliseconds, double seconds, (TimeSpan, TimeSpan)[]? lost = null) =>
        Of(Library(new Babbler(6, 0x286) { Start = Begin, End = Begin + Seconds(seconds), Gap = TimeSpan.FromMilliseconds(milliseconds) }), Begin + Seconds(seconds + 12), lost);

    [Fact]
    public void AModuleThatSendsWithoutEndFloodsTheBus()
    {
        JsonElement flood = Babbling(1.2, 10).The("bus.flood", 6);
        Assert.Equal("fault", Severity(flood));
        Assert.Equal("0x286", flood.GetProperty("id").GetString());
        Assert.InRange(SecondsOf(flood, "start"), 60, 62);
        Assert.InRange(SecondsOf(flood, "end"), 69, 72);
    }

    [Fact]
    public void AThirdOfTheBusFarBeyondItsHabitIsAFlood()
    {
        Site site = WithModule(Library(new Babbler(5, 0x185) { Start = Begin, Gap = TimeSpan.FromMilliseconds(2.5) }), 5, module => module with { EventTimerMilliseconds = 1000 });
        Assert.True(Of(site, Begin + Seconds(12)).Has("bus.flood", 5));
    }

    [Fact]
    public void ATenthOfItIsNoneHoweverQuietItWasBefore()
    {
        Site site = WithModule(Library(new Babbler(5, 0x185) { Start = Begin, Gap = TimeSpan.FromMilliseconds(9) }), 5, module => module with { EventTimerMilliseconds = 1000 });
        Assert.False(Of(site, Begin + Seconds(12)).Has("bus.flood"));
    }

    [Fact]
    public void TwoSecondsAreTooShort() => Assert.False(Babbling(1.2, 2).Has("bus.flood"));

    [Fact]
    public void ATenthOfTheBusIsNone() => Assert.False(Babbling(10, 10).Has("bus.flood"));

    [Fact]
    public void WithoutAProtocolTheIdentifierThatFloodsIsNamed()
    {
        JsonElement flood = Of(Library(new Babbler(6, 0x186) { Start = Begin, End = Begin + Seconds(10), Gap = Seconds(0.0012) }), Minutes(1.5), null, "--protocol", "none").The("bus.flood");
        Assert.Equal("0x186", flood.GetProperty("id").GetString());
        Assert.Equal(JsonValueKind.Null, flood.GetProperty("node").ValueKind);
    }

    [Fact]
    public void ADownloadFillsTheBusOnPurpose()
    {
        // Switched on in the recording: the controller's reading of every identity is the habit that the download goes far beyond.
        Site site = Library(new FirmwareDownload(6, 60_000) { Start = Minutes(1) }) with { WarmUp = TimeSpan.Zero };
        Assert.False(Of(site, Minutes(3)).Has("bus.flood"));
    }

    [Fact]
    public void AFloodIsSeenThroughLosses() =>
        Assert.True(Babbling(1.2, 10, [(Begin + Seconds(2), Begin + Seconds(2.2))]).Has("bus.flood", 6));
}
