using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

/// <summary>An adapter that drops frames at random and doesn't say so: nobody at the site is to blame for that.</summary>
public class UnreportedLossTests
{
    private static readonly TimeSpan Begin = Minutes(6);

    private static LostFrames Loss(double ratio, TimeSpan? start = null) => new(ratio, Reported: false) { Start = start ?? TimeSpan.Zero };

    [Theory]
    [InlineData(0.01, "note")]
    [InlineData(0.03, "warning")]
    [InlineData(0.1, "warning")]
    [InlineData(0.3, "warning")]
    public void ItIsMeasuredAndNobodyIsAccused(double ratio, string severity)
    {
        Replayed replayed = Of(Library(Loss(ratio)), Minutes(30));
        Assert.Equal(["bus.not-seen"], replayed.Kinds);
        JsonElement lost = replayed.The("bus.not-seen");
        Assert.Equal(severity, Severity(lost));
        JsonElement missed = lost.GetProperty("measurements")[0];
        Assert.Equal("missedRatio", missed.GetProperty("name").GetString());
        Assert.Equal(0.95, missed.GetProperty("confidenceLevel").GetDouble());
        Assert.InRange(missed.GetProperty("value").GetDouble(), 0.7 * ratio, 1.3 * ratio);
        Assert.Equal("adapter-limit", TopCause(lost));
    }

    [Theory]
    [InlineData(0.01)]
    [InlineData(0.03)]
    [InlineData(0.1)]
    [InlineData(0.3)]
    public void AModuleThatStopsIsFoundInTheTimeThatIsStated(double ratio)
    {
        JsonElement silent = Of(Library(Loss(ratio), new NodeHang(5) { Start = Begin }), Minutes(8)).The("node.silent", 5);
        double stated = silent.GetProperty("measurements")[0].GetProperty("value").GetDouble();

        // Its last frame that was heard may lie some beats before; who else is late is waited for, at most once more that long.
        Assert.InRange(SecondsOf(silent, "raised") - SecondsOf(silent, "start"), stated, (2 * stated) + 2);
        Assert.InRange(stated, 3.5, 3.5 + (Math.Log(1e-8) / Math.Log(ratio) * 1.3));
        Assert.False(HasEnded(silent));
    }

    [Fact]
    public void TheReportStatesTheWiderLimit()
    {
        static double Stated(Replayed replayed) => replayed.Node(5).GetProperty("silenceNoticedWithinSeconds").GetDouble();
        Assert.InRange(Stated(Of(Library(), Minutes(10))), 3.5, 4);

        // ln 1e-8 / ln 0.1 = 8 missed beats of 1 s and a half; of the last eight beats of each node alone the ratio is known within a factor of two or so, and
        // ln 1e-8 / ln 0.25 = 13.3.
        Assert.InRange(Stated(Of(Library(Loss(0.1)), Minutes(10))), 8.5, 14);
    }

    [Fact]
    public void LossThatBeginsInTheMiddleAccusesNobodyEither() =>
        Assert.Equal(["bus.not-seen"], Of(Library(Loss(0.3, Begin)), Minutes(20)).Kinds);

    [Fact]
    public void OneModuleThatComesAndGoesIsFoundAndIsNoLossOfOurs()
    {
        Fault[] flaps = [.. Enumerable.Range(0, 5).Select(i => new NodeWithoutPower(5) { Start = Begin + Seconds(40 * i), End = Begin + Seconds((40 * i) + 10) })];
        Replayed alone = Of(Library(flaps), Minutes(12));
        Assert.True(alone.Has("node.unstable", 5));
        Assert.False(alone.Has("bus.not-seen"));
        Assert.True(Of(Library([.. flaps, Loss(0.01)]), Minutes(12)).Has("node.unstable", 5));
    }

    [Fact]
    public void AGuardedSiteIsMeasuredByItsAnswers()
    {
        Site site = WithModules(Library(Loss(0.1)), module => module with { HeartbeatMilliseconds = 0 }) with { Controller = new() { GuardMilliseconds = 1000 } };
        Assert.Equal(["bus.not-seen"], Of(site, Minutes(20)).Kinds);
    }

    [Fact]
    public void AFrameInFiveThousandIsNotWorthAWord() => Assert.Empty(Of(Library(Loss(0.0002)), Minutes(20)).Findings);

    [Fact]
    public void ACommandedResetOfAllAndAPowerCutAreNoLoss()
    {
        Assert.False(Of(Library(new CommandedReset(0) { Start = Begin }), Minutes(10)).Has("bus.not-seen"));
        Assert.False(Of(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(8) }), Minutes(10)).Has("bus.not-seen"));
    }
}
