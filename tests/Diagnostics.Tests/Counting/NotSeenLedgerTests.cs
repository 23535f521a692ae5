using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Counting;

public class NotSeenLedgerTests
{
    private static Instant At(double seconds) => new((long)(seconds * 1e9));

    private static NotSeen Gap(NotSeenKind kind, double start, double end, long count = 0, byte bus = 0, string why = "why") => new(kind, bus, At(start), At(end), count, why);

    private static NotSeenLedger Of(params NotSeen[] gaps)
    {
        NotSeenLedger ledger = new();
        foreach (NotSeen gap in gaps)
        {
            ledger.Add(gap);
        }

        return ledger;
    }

    [Fact]
    public void EachKindHasItsCounter()
    {
        NotSeenLedger ledger = Of(Gap(NotSeenKind.KernelDropped, 1, 2, 3), Gap(NotSeenKind.QueueDropped, 3, 4, 5), Gap(NotSeenKind.DamagedRecords, 5, 6, 7), Gap(NotSeenKind.InterfaceDown, 7, 17));
        NotSeenReport report = ledger.ToReport(_ => "can0");
        Assert.Equal((3L, 5L, 7L), (report.KernelDropped, report.QueueDropped, report.DamagedRecords));
        Assert.Equal(4, report.Gaps.Count);
        Assert.Equal(15, ledger.LostFrames(0));
        Assert.Equal(TimeSpan.FromSeconds(10), ledger.NotHeard(0));
    }

    [Fact]
    public void OneInterfacesLossLeavesTheOthersWhole()
    {
        NotSeenLedger ledger = Of(Gap(NotSeenKind.KernelDropped, 1, 2, 3, bus: 1));
        Assert.Equal(At(2), ledger.WholeSince(1));
        Assert.Equal(Instant.MinValue, ledger.WholeSince(0));
        Assert.Equal(0, ledger.LostFrames(0));
    }

    [Fact]
    public void WhatHitsAllInterfacesHitsEach()
    {
        NotSeenLedger ledger = Of(Gap(NotSeenKind.AgentLate, 1, 4, bus: NotSeen.AllInterfaces));
        Assert.Equal(At(4), ledger.WholeSince(0));
        Assert.Equal(At(4), ledger.WholeSince(7));
        Assert.Null(Assert.Single(ledger.ToReport(_ => "can0").Gaps).Interface);
    }

    [Theory]
    [InlineData(NotSeenKind.ClockStep, 0, 0, 1)]
    [InlineData(NotSeenKind.StepOrSilence, 0, 3600, 0)]
    [InlineData(NotSeenKind.AgentLate, 3600, 0, 0)]
    [InlineData(NotSeenKind.NotRecorded, 3600, 0, 0)]
    public void BehindEachKindTheRecordIsWholeAgain(object kind, double notHeardSeconds, double unknownSeconds, int steps)
    {
        NotSeenLedger ledger = Of(Gap((NotSeenKind)kind, 1, 3601));
        Assert.Equal(At(3601), ledger.WholeSince(0));
        Assert.Equal((notHeardSeconds, unknownSeconds, steps), (ledger.NotHeard(0).TotalSeconds, ledger.Unknown(0).TotalSeconds, ledger.StepsTakenOut));
    }

    [Fact]
    public void TimeBetweenFilesIsNoBlindnessOfOurs()
    {
        NotSeenLedger ledger = Of(Gap(NotSeenKind.AgentLate, 1, 2), Gap(NotSeenKind.NotRecorded, 10, 20));
        Assert.Equal((At(20), At(2)), (ledger.WholeSince(0), ledger.BlindUntil(0)));
        Assert.Equal((11, 10), (ledger.NotHeard(0).TotalSeconds, ledger.NotRecorded(0).TotalSeconds));
    }

    [Fact]
    public void OfAStepThatWasTakenOutNothingIsUnknown()
    {
        NotSeenLedger ledger = Of(Gap(NotSeenKind.ClockStep, 1, 2), Gap(NotSeenKind.ClockStep, 10, 10), Gap(NotSeenKind.ClockStep, 12, 12, 1));
        Assert.Equal(TimeSpan.Zero, ledger.Unknown(0));
        Assert.Equal(2, ledger.StepsTakenOut);
    }

    [Fact]
    public void AnEarlierGapThatIsToldLaterDoesNotTakeBackTime() =>
        Assert.Equal(At(10), Of(Gap(NotSeenKind.KernelDropped, 9, 10, 1), Gap(NotSeenKind.KernelDropped, 1, 2, 1)).WholeSince(0));

    [Fact]
    public void LossesWithinASecondAreOneGapToAReader()
    {
        NotSeenReport report = Of(Gap(NotSeenKind.KernelDropped, 1, 2, 3), Gap(NotSeenKind.KernelDropped, 2.9, 3, 4), Gap(NotSeenKind.KernelDropped, 4.1, 5, 1)).ToReport(_ => "can0");
        Assert.Equal([(At(1), At(3)), (At(4.1), At(5))], report.Gaps.Select(gap => (gap.Start, gap.End)));
        Assert.Equal(8, report.KernelDropped);
    }

    [Fact]
    public void BeyondTheLimitTheCountersStillCount()
    {
        NotSeenReport report = Of([.. Enumerable.Range(0, 1000).Select(i => Gap(NotSeenKind.KernelDropped, 10 * i, (10 * i) + 1, 2))]).ToReport(_ => "can0");
        Assert.Equal(Limits.Gaps, report.Gaps.Count);
        Assert.Equal(2000, report.KernelDropped);
        Assert.Equal(At(9991), report.Gaps[^1].End);
    }
}
