using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class NoAcknowledgeDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(1);

    private static Site Alone(TimeSpan length) => Library(new SenderAlone(5) { Start = Begin, End = Begin + length });

    [Fact]
    public void ASenderThatIsCutOffWithUsRepeatsForWantOfAnAcknowledge()
    {
        Replayed replayed = Of(Alone(Seconds(8)), Minutes(1.3));
        JsonElement alone = replayed.The("bus.no-acknowledge", 5);
        Assert.Equal("fault", Severity(alone));
        Assert.Equal("sender-alone", TopCause(alone));
        Assert.InRange(SecondsOf(alone, "start"), 60, 62);
        Assert.InRange(SecondsOf(alone, "end"), 67, 69);
        Assert.False(replayed.Has("node.duplicate-address"));
        Assert.False(replayed.Has("bus.flood"));
    }

    [Fact]
    public void AnAdapterThatTakesPartAcknowledgesAndNothingRepeats() =>
        Assert.False(Of(Alone(Seconds(8)) with { Observer = new() { ListenOnly = false } }, Minutes(1.3)).Has("bus.no-acknowledge"));

    [Fact]
    public void DisturbedFramesThatAreRepeatedOnceAreNone() =>
        Assert.False(Of(Library(new BadDrop(5, 5e-3) { Start = Begin }), Minutes(3)).Has("bus.no-acknowledge"));

    [Fact]
    public void ASenderThatFloodsWithTheSamePayloadButLeavesGapsIsNone() =>
        Assert.False(Of(Library(new Babbler(6, 0x286) { Start = Begin, End = Begin + Seconds(10), Gap = TimeSpan.FromMilliseconds(2) }), Minutes(1.3)).Has("bus.no-acknowledge"));

    [Fact]
    public void TheRepeatsAreFoundAlthoughTheirBeginWasLost() =>
        Assert.True(Of(Alone(Seconds(8)), Minutes(1.3), [(Begin - Seconds(1), Begin + Seconds(3))]).Has("bus.no-acknowledge", 5));

    [Fact]
    public void TwoAcknowledgeErrorsOfOurOwnAreTooFew()
    {
        static string Line(double time) => System.Globalization.CultureInfo.InvariantCulture is var culture ? string.Create(culture, $"({1_700_000_000 + time:0.000000}) can0 200000A8#0000001900000000\n") : "";
        Assert.False(OfText(Line(0) + Line(1) + Line(12) + Line(13)).Has("bus.no-acknowledge"));
        Assert.True(OfText(Line(0) + Line(1) + Line(2) + Line(13)).Has("bus.no-acknowledge"));
    }
}
