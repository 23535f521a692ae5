using System.Text.Json;
using Diagnostics.Core;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
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

    // ---- vectors: each operation is the gaps between its changes, in ms; operations lie 2 s apart ----

    private static readonly double[] Clean = [];
    private static readonly double[] Bounced = [30, 30];

    private static FindingBook Play(params IEnumerable<double[]> operations)
    {
        (Bus bus, FindingBook book, _) = TestBus.Create();
        ChatterDetector detector = new(bus);
        detector.OnInput(TestBus.Start, 5, 1, isFirst: true);
        double at = 1000;
        foreach (double[] gaps in operations)
        {
            at += 2000;
            detector.OnInput(TestBus.Start + TimeSpan.FromMilliseconds(at), 5, 1, isFirst: false);
            foreach (double gap in gaps)
            {
                at += gap;
                detector.OnInput(TestBus.Start + TimeSpan.FromMilliseconds(at), 5, 1, isFirst: false);
            }

            detector.OnSecond(TestBus.Start + TimeSpan.FromMilliseconds(at + 100));
        }

        return book;
    }

    private static bool IsRaised(params IEnumerable<double[]> operations) => Play(operations).Find(Catalogue.InputChatter, "can0", Subject.OfInput(5, 1)) is not null;

    private static IEnumerable<double[]> CleanOnes(int count) => Enumerable.Repeat(Clean, count);

    [Fact]
    public void TheThirdChatteredOperationOfTwentyIsEnough()
    {
        Assert.False(IsRaised(Bounced, Bounced));
        Assert.True(IsRaised(Bounced, Bounced, Bounced));
        Assert.True(IsRaised([Bounced, Bounced, .. CleanOnes(17), Bounced]));
        Assert.False(IsRaised([Bounced, Bounced, .. CleanOnes(18), Bounced]));
    }

    [Theory]
    [InlineData(12, 4, true)]
    [InlineData(13, 4, false)]
    [InlineData(13, 5, true)]
    [InlineData(14, 5, false)]
    public void FourOfFortyOrFiveOfSixtyAreEnoughToo(int cleanBetween, int chattered, bool expected) =>
        Assert.Equal(expected, IsRaised([.. Enumerable.Range(0, chattered).SelectMany(_ => Enumerable.Repeat(Clean, cleanBetween).Append(Bounced))]));

    /// <summary>An operation that chattered a hundred operations before is none of those that it is said for.</summary>
    [Fact]
    public void ItBeginsWithTheFirstOperationThatItIsJudgedByAndThatIsItsFirstRow()
    {
        FindingReport chatter = Assert.Single(Play([Bounced, .. CleanOnes(100), Bounced, Clean, Bounced, Bounced]).ToReport());

        // Operations begin 2 s apart (and 60 ms where they bounced), the first 3 s behind the start; the second short level shows the bounce.
        Assert.Equal(TestBus.Start + TimeSpan.FromMilliseconds(3000 + (101 * 2000) + 60 + 60), chatter.Start);
        Assert.Equal(chatter.Start, chatter.Evidence[0].Time);
        Assert.Equal(3, chatter.Evidence.Count);
    }

    [Fact]
    public void OperationsAreCountedOverAllThatWereJudged()
    {
        FindingReport chatter = Assert.Single(Play([Bounced, Bounced, .. CleanOnes(21), Bounced, Bounced]).ToReport());
        Assert.Equal((4.0, 25.0), (chatter.Measurements[0].Value, chatter.Measurements[1].Value));
    }

    [Fact]
    public void OncePutRightItIsJudgedByNewOperationsOnly() =>
        Assert.False(Play([Bounced, Bounced, Bounced, .. CleanOnes(22), Bounced]).IsOpen(Catalogue.InputChatter, "can0", Subject.OfInput(5, 1)));

    [Fact]
    public void OneShortLevelAloneIsTwoPeopleOnOneButton() => Assert.False(IsRaised([30], [30], [30], [30], [30]));

    [Fact]
    public void LevelsOfFiftyMillisecondsAreFingers()
    {
        Assert.False(IsRaised([50, 50], [50, 50], [50, 50], [50, 50]));
        Assert.True(IsRaised([49.9, 49.9], [49.9, 49.9], [49.9, 49.9]));
    }

    [Fact]
    public void TwoShortLevelsWithALongOneBetweenAreNotInARow() => Assert.False(IsRaised([30, 200, 30], [30, 200, 30], [30, 200, 30]));

    [Fact]
    public void TwentyCleanOperationsInARowEndIt()
    {
        FindingBook almost = Play([Bounced, Bounced, Bounced, .. CleanOnes(20)]);
        Assert.True(almost.IsOpen(Catalogue.InputChatter, "can0", Subject.OfInput(5, 1)));
        FindingBook over = Play([Bounced, Bounced, Bounced, .. CleanOnes(22)]);
        Assert.False(over.IsOpen(Catalogue.InputChatter, "can0", Subject.OfInput(5, 1)));
    }
}
