using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class RestartDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    [Fact]
    public void AShortDipAtOneModuleIsARestartThatNobodyCommanded()
    {
        Replayed replayed = Of(Library(new SupplyDip([5]) { Start = Begin }), Minutes(4));
        JsonElement restarted = replayed.The("node.restarted", 5);
        Assert.Equal("warning", Severity(restarted));
        Assert.InRange(SecondsOf(restarted, "start"), 120.3, 120.7);
        Assert.Single(replayed.Accusations);
        Assert.Equal(1, replayed.Node(5).GetProperty("restarts").GetInt32());
    }

    [Fact]
    public void NeighboursThatRestartTogetherAreOneFinding()
    {
        Replayed replayed = Of(Library(new SupplyDip([5, 6, 7]) { Start = Begin }), Minutes(4));
        Assert.Equal([5, 6, 7], Nodes(replayed.The("node.restarted")));
        Assert.Equal("supply-weak", TopCause(replayed.The("node.restarted")));
        Assert.Single(replayed.Accusations);
    }

    [Fact]
    public void AModuleThatStartsAgainAllTheTimeIsNotPutOffForEver()
    {
        Replayed replayed = Of(Library(new WatchdogRestarts(5) { Start = Begin, MeanBetween = Seconds(1.5) }), Minutes(3));
        Assert.InRange(SecondsOf(replayed.The("node.restarted", 5), "raised"), 120, 155);
        Assert.True(replayed.Has("node.unstable", 5));
    }

    [Fact]
    public void ARestartThatWasCommandedIsNone() =>
        Assert.Empty(Of(Library(new CommandedReset(5) { Start = Begin }), Minutes(4)).Findings);

    [Fact]
    public void ARestartRightAfterALossMayHaveBeenCommanded()
    {
        // Ten seconds in which a command may have been among the frames that were lost.
        Replayed replayed = Of(Library(new SupplyDip([5]) { Start = Begin }), Minutes(4), [(Begin - Seconds(10), Begin - Seconds(0.5))]);
        Assert.False(replayed.Has("node.restarted"));
    }

    [Fact]
    public void ARestartLongAfterALossIsFound()
    {
        Replayed replayed = Of(Library(new SupplyDip([5]) { Start = Begin }), Minutes(4), [(Begin - Seconds(50), Begin - Seconds(40))]);
        Assert.True(replayed.Has("node.restarted", 5));
    }

    [Fact]
    public void TheFirstBootUpEverHeardIsNoRestart()
    {
        Replayed replayed = Of(Library() with { WarmUp = TimeSpan.Zero }, Minutes(1));
        Assert.Empty(replayed.Findings);
    }

    [Fact]
    public void PowerThatComesBackToTheSiteIsANote()
    {
        Replayed replayed = Of(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(40) }), Minutes(5));
        JsonElement restarted = replayed.The("bus.restarted");
        Assert.Equal("note", Severity(restarted));
        Assert.Equal(14, Nodes(restarted).Length);
        Assert.False(replayed.Has("node.restarted"));
    }

    [Fact]
    public void ADipOfTheWholeSupplyIsAWarning()
    {
        Replayed replayed = Of(Library(new SupplyDip([.. Enumerable.Range(1, 14)]) { Start = Begin }), Minutes(4));
        Assert.Equal("warning", Severity(replayed.The("bus.restarted")));
        Assert.False(replayed.Has("node.restarted"));
    }

    [Fact]
    public void SixOfFourteenAreNotTheSite()
    {
        Replayed replayed = Of(Library(new SupplyDip([1, 2, 3, 4, 5, 6]) { Start = Begin }), Minutes(4));
        Assert.False(replayed.Has("bus.restarted"));
        Assert.Equal([1, 2, 3, 4, 5, 6], Nodes(replayed.The("node.restarted")));
    }

    [Fact]
    public void SevenOfFourteenAreTheSite() =>
        Assert.True(Of(Library(new SupplyDip([1, 2, 3, 4, 5, 6, 7]) { Start = Begin }), Minutes(4)).Has("bus.restarted"));

    [Fact]
    public void AResetOfAllThatWasCommandedIsNone() =>
        Assert.Empty(Of(Library(new CommandedReset(0) { Start = Begin }), Minutes(4)).Findings);

    [Fact]
    public void ASiteThatStartsRightAfterALossIsNotCalledRestarted()
    {
        Replayed replayed = Of(Library(new SupplyDip([.. Enumerable.Range(1, 14)]) { Start = Begin }), Minutes(4), [(Begin - Seconds(5), Begin)]);
        Assert.False(replayed.Has("bus.restarted"));
        Assert.False(replayed.Has("node.restarted"));
    }
}
