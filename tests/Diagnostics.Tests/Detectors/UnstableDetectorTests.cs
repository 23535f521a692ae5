using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
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
        // The third follows the second within a minute of its end: the same episode.
        Assert.Equal(2, replayed.The("node.silent", 5).GetProperty("count").GetInt32());
    }

    [Fact]
    public void OnceUnstableItsLeavingsAreOneFinding()
    {
        // Every two minutes, so that each silence has ended for more than a minute when the next begins.
        Replayed replayed = Of(Library(Flaps(8, Minutes(2))), Minutes(20));
        Assert.Equal(1, replayed.The("node.unstable", 5).GetProperty("count").GetInt32());
        Assert.InRange(replayed.The("node.silent", 5).GetProperty("count").GetInt32(), 3, 4);
        Assert.True(HasEnded(replayed.The("node.silent", 5)));
    }

    [Fact]
    public void AnUnstableNodeThatStaysAwayForGoodIsSilentAllTheSame()
    {
        Replayed replayed = Of(Library([.. Flaps(6, Seconds(40)), new NodeWithoutPower(5) { Start = Minutes(8) }]), Minutes(12));
        JsonElement silent = replayed.The("node.silent", 5);
        Assert.False(HasEnded(silent));
        Assert.Contains("09:07:5", silent.GetProperty("summary").GetString() + silent.GetProperty("evidence").ToString(), StringComparison.Ordinal);
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

    // ---- the penalty's own figures: RFC 2439, RFC 7196, RIPE-580; consequences computed from p(t) = p0 · 2^(−Δt/15 min), limit 3000, over below 750 ----

    private static (FindingBook Book, UnstableDetector Detector, NodeState Node) Fresh()
    {
        (Bus bus, FindingBook book, _) = TestBus.Create();
        return (book, new(bus), new(5) { LastHeard = TestBus.Start });
    }

    private static bool IsOpen(FindingBook book) => book.IsOpen(Catalogue.NodeUnstable, "can0", Subject.OfNode(5));

    private static bool IsEverUnstable(double minutes, int times)
    {
        (FindingBook book, UnstableDetector detector, NodeState node) = Fresh();
        for (int i = 0; i < times; i++)
        {
            detector.OnLeft(node, TestBus.Start + Minutes(minutes * i));
        }

        return IsOpen(book);
    }

    [Theory]
    [InlineData(0.1, 3, false)]
    [InlineData(0.1, 4, true)]
    [InlineData(8.7, 30, true)]
    [InlineData(8.9, 3000, false)]
    public void SoManyLeavingsAtThisPeriodAreUnstable(double minutes, int times, bool isUnstable) => Assert.Equal(isUnstable, IsEverUnstable(minutes, times));

    [Fact]
    public void ItIsOverWhenThePenaltyHasFallenBelow750()
    {
        (FindingBook book, UnstableDetector detector, NodeState node) = Fresh();
        for (int i = 0; i < 4; i++)
        {
            detector.OnLeft(node, TestBus.Start);
        }

        // 15 min · log2(4000 / 750) = 36.2 min.
        detector.OnSecond(TestBus.Start + Minutes(36.1));
        Assert.True(IsOpen(book));
        detector.OnSecond(TestBus.Start + Minutes(36.4));
        Assert.False(IsOpen(book));
        Assert.Equal(TestBus.Start, book.Find(Catalogue.NodeUnstable, "can0", Subject.OfNode(5))!.End);
    }

    [Fact]
    public void ItIsNeverKeptUpLongerThanAnHourAfterTheLast()
    {
        (FindingBook book, UnstableDetector detector, NodeState node) = Fresh();
        for (int i = 0; i < 500; i++)
        {
            detector.OnLeft(node, TestBus.Start);
        }

        // From the most, 50,000, the penalty alone would take 91 min.
        detector.OnSecond(TestBus.Start + Minutes(60));
        Assert.True(IsOpen(book));
        detector.OnSecond(TestBus.Start + Minutes(60.1));
        Assert.False(IsOpen(book));
    }
}
