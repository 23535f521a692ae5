using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class LossEstimateTests
{
    /// <summary>Seconds between the frames of one sender of 1 s, some of whose frames are lost.</summary>
    private static BeatRecord Sender(Random chance, double lossRatio, int beats)
    {
        BeatRecord record = new();
        long gap = 0;
        for (int i = 0; i < beats; i++)
        {
            gap += 1_000_000_000;
            if (chance.NextDouble() >= lossRatio)
            {
                record.Add(gap, 1);
                gap = 0;
            }
        }

        return record;
    }

    private static LossEstimate Of(params BeatRecord[] senders)
    {
        LossEstimate estimate = new();
        estimate.Judge([.. senders]);
        return estimate;
    }

    private static BeatRecord[] Senders(int count, double lossRatio, int beats = 400)
    {
        Random chance = new(1);
        return [.. Enumerable.Range(0, count).Select(_ => Sender(chance, lossRatio, beats))];
    }

    [Theory]
    [InlineData(0.01)]
    [InlineData(0.03)]
    [InlineData(0.1)]
    [InlineData(0.3)]
    public void LossThatHitsAllIsMeasured(double ratio)
    {
        LossEstimate estimate = Of(Senders(20, ratio));
        Assert.True(estimate.IsLosing);
        Assert.InRange(ratio, estimate.Interval.Low, estimate.Interval.High);

        // p^n below 1e-8 for the true ratio, and no more than half as many again for what isn't known of it.
        int least = (int)Math.Ceiling(Math.Log(1e-8) / Math.Log(ratio));
        Assert.InRange(estimate.MissesAllowed!.Value, least, (least * 3 / 2) + 1);
    }

    [Fact]
    public void WithoutMissesThreeAreEnough()
    {
        LossEstimate estimate = Of(Senders(20, 0));
        Assert.False(estimate.IsLosing);
        Assert.Equal(3, estimate.MissesAllowed);
    }

    [Fact]
    public void WithMostFramesLostNobodyCanBeCalledSilent() => Assert.Null(Of(Senders(20, 0.6)).MissesAllowed);

    [Fact]
    public void OneSenderThatMissesBeatsIsItsOwnTrouble()
    {
        LossEstimate estimate = Of([.. Senders(19, 0), .. Senders(1, 0.3)]);
        Assert.False(estimate.IsLosing);
        Assert.Equal(3, estimate.MissesAllowed);
    }

    [Fact]
    public void ThreeOfTwentyBehindOneBadJointAreTheirOwnTrouble() => Assert.False(Of([.. Senders(17, 0), .. Senders(3, 0.1)]).IsLosing);

    [Fact]
    public void TwoSendersAreTooFewToTell() => Assert.False(Of(Senders(2, 0.1)).IsLosing);

    [Fact]
    public void OneBadNodeDoesNotMakeTheLossOfTheOthersGreater()
    {
        int alone = Of(Senders(19, 0.02)).MissesAllowed!.Value;
        Assert.InRange(Of([.. Senders(19, 0.02), .. Senders(1, 0.5)]).MissesAllowed!.Value, alone - 1, alone + 1);
    }

    [Fact]
    public void LossThatHasJustBegunIsSeenInTheLastBeats()
    {
        BeatRecord[] senders = Senders(20, 0);
        Random chance = new(2);
        foreach (BeatRecord sender in senders)
        {
            for (int i = 0; i < 4; i++)
            {
                sender.Add(chance.NextDouble() < 0.3 ? 2_000_000_000 : 1_000_000_000, 1);
            }
        }

        Assert.True(Of(senders).MissesAllowed > 6);
    }

    [Fact]
    public void WhileLittleWasHeardAnyMissCounts()
    {
        BeatRecord first = new();
        for (int i = 0; i < 20; i++)
        {
            first.Add(i == 5 ? 2_000_000_000 : 1_000_000_000, 1);
        }

        LossEstimate estimate = Of(first);
        Assert.False(estimate.IsLosing);
        Assert.True(estimate.MissesAllowed > 3);
    }

    [Fact]
    public void NobodyHeardIsNoLoss() => Assert.Equal(3, Of().MissesAllowed);
}
