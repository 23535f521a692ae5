using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class UnstableDetectorTests
{
    private static Fault[] Flaps(int times, TimeSpan every) =>
        [.. Enumerable.Range(0, times).Select(i => new NodeWithoutPower(5) { Start = Minutes(2) + (i * every), End = Minutes(2) + (i * every) + Seconds(10) })];

    [Fact]
    public void FourQuickLeavingsAreUnstable()
    {
        // Penalty 1000 each, limit 3000: a quick burst needs four (RFC 2439 with the field choice of 3000).
        JsonElement unstable = Of(Library(Flaps(4, Seconds(40))), Minutes(6)).The("node.unstable", 5);
        Assert.Equal("fault", Severity(unstable));
        Assert.InRange(SecondsOf(unstable, "start"), 118, 121);
        Assert.InRange(SecondsOf(unstable, "raised"), 240, 248);
    }

    [Fact]
    public void ThreeLeavingsAreNot()
    {
        Replayed replayed = Of(Library(Flaps(3, Seconds(40))), Minutes(6));
        Assert.False(replayed.Has("node.unstable"));
        Assert.Equal(3, replayed.The("node.silent", 5).GetProperty("count").GetInt32());
    }

    [Fact]
    public void FourResetsThatWereCommandedAreNot() =>
        Assert.Empty(Of(Library([.. Enumerable.Range(0, 4).Select(i => new CommandedReset(5) { Start = Minutes(2) + Seconds(40 * i) })]), Minutes(6)).Findings);

    [Fact]
    public void LeavingsThatLossesCoverDoNotCount()
    {
        (TimeSpan, TimeSpan) second = (Minutes(2) + Seconds(38), Minutes(2) + Seconds(52));
        Assert.False(Of(Library(Flaps(4, Seconds(40))), Minutes(6), [second]).Has("node.unstable"));
    }
}
