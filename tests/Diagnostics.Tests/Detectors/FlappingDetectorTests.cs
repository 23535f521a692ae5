using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class FlappingDetectorTests
{
    [Fact]
    public void AWetContactThatSwitchesForAQuarterOfAnHourIsFound()
    {
        Replayed replayed = Of(Library(new FlappingInput(5, 3) { Start = Minutes(2) }), Minutes(20));
        JsonElement flapping = replayed.The("input.flapping", 5, 3);
        Assert.Equal("warning", Severity(flapping));
        Assert.InRange(SecondsOf(flapping, "start"), 120, 240);
        Assert.InRange(SecondsOf(flapping, "raised"), 15 * 60, 19 * 60);
    }

    [Fact]
    public void ThirteenMinutesAreNotEnough() =>
        Assert.False(Of(Library(new FlappingInput(5, 3) { Start = Minutes(2), End = Minutes(15) }), Minutes(22)).Has("input.flapping"));

    [Fact]
    public void ChildrenWhoPlayForTenMinutesAreNone() =>
        Assert.False(Of(Library(new ChildrenPlay([5]) { Start = Minutes(2), End = Minutes(12) }), Minutes(20)).Has("input.flapping"));

    [Fact]
    public void ItIsFoundAlthoughAThirdOfTheFramesIsLost() =>
        Assert.True(Of(Library(new FlappingInput(5, 3) { Start = Minutes(2) }, new LostFrames(0.3)), Minutes(22)).Has("input.flapping", 5, 3));

    [Fact]
    public void AQuarterOfAnHourOfQuietEndsIt() =>
        Assert.True(HasEnded(Of(Library(new FlappingInput(5, 3) { Start = Minutes(1), End = Minutes(19) }) with { People = new() { Activity = 0 } }, Minutes(38)).The("input.flapping", 5, 3)));
}
