using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class BeatRecordTests
{
    private static BeatRecord Of(params double[] gapsInPeriods)
    {
        BeatRecord record = new();
        foreach (double gap in gapsInPeriods)
        {
            record.Add((long)(gap * 1e9), 1);
        }

        return record;
    }

    [Fact]
    public void AGapOfThreePeriodsMissesTwoBeats()
    {
        BeatRecord record = Of(1, 3.02, 0.97);
        Assert.Equal(0, Of(1, 1.6, 0.4, 1).Missed);
        Assert.Equal(0, Of(1, 1.6, 0.4, 1).MissedLately);
        Assert.Equal(4, Of(1, 1.6, 0.4, 1).Due);
        Assert.Equal(5, record.Due);
        Assert.Equal(2, record.Missed);
        Assert.Equal(2, record.MissedLately);
    }

    [Fact]
    public void AGapJustBelowOneAndAHalfMissesNone() => Assert.Equal(0, Of(1.49).Missed);

    [Fact]
    public void AnEarlyFrameIsOneBeat() => Assert.Equal(1, Of(0.1).Due);

    [Fact]
    public void TenBeatsAreAGapAndElevenAnAbsence()
    {
        Assert.Equal(9, Of(10.4).Missed);
        Assert.Equal(0, Of(10.6).Due);
    }

    [Fact]
    public void WithoutARhythmOrInABurstNothingIsDue()
    {
        BeatRecord record = new();
        record.Add(1_000_000, 0);
        record.Add(4_000_000, 0.001);
        Assert.Equal(0, record.Due);
    }

    [Fact]
    public void OnlyTheLastEightBeatsAreLately()
    {
        Assert.Equal(1, Of(2, 1, 1, 1, 1, 1, 1).MissedLately);
        Assert.Equal(0, Of(2, 1, 1, 1, 1, 1, 1, 1).MissedLately);
    }

    [Fact]
    public void WhatIsLongAgoWeighsLess()
    {
        BeatRecord record = Of([.. Enumerable.Repeat(2.0, 100), .. Enumerable.Repeat(1.0, 2000)]);
        Assert.InRange(record.Due, 256, 512);
        Assert.InRange(record.Missed, 0, 15);
    }
}
