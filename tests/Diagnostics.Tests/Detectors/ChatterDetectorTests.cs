using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class ChatterDetectorTests
{
    private static Site Busy(params Fault[] faults) => Library(faults) with { People = new() { Activity = 10 } };

    [Fact]
    public void AWornContactIsFoundAtItsInput()
    {
        Replayed replayed = Of(Busy(new WornContact(5, 1, 2)), Minutes(15));
        JsonElement chatter = replayed.The("input.chatter", 5, 1);
        Assert.Equal("warning", Severity(chatter));
        Assert.Equal("contact-worn", TopCause(chatter));
        Assert.Single(replayed.Accusations);
    }

    [Fact]
    public void AGoodContactIsNone() => Assert.Empty(Of(Busy(), Minutes(15)).Accusations);

    [Fact]
    public void AFilterThatIsLongEnoughHidesABounce()
    {
        Site site = WithModule(Busy(new WornContact(5, 1, 1)), 5, module => module with { InputFilterMilliseconds = 100 });
        Assert.False(Of(site, Minutes(15)).Has("input.chatter"));
    }

    [Fact]
    public void AContactThatSeldomBouncesIsNotSaidYet() =>
        Assert.False(Of(Busy(new WornContact(5, 1, 2) { Start = Minutes(5), End = Minutes(5.5) }), Minutes(12)).Has("input.chatter"));

    [Fact]
    public void WithFramesLostTheWornContactIsStillTheOnlyOne()
    {
        Replayed replayed = Of(Busy(new WornContact(5, 1, 3), new LostFrames(0.3)), Minutes(25));
        Assert.True(replayed.Has("input.chatter", 5, 1));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "input.chatter");
    }
}
