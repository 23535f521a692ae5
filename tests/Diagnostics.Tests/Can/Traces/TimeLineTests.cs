using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

public class TimeLineTests
{
    private const long Millisecond = 1_000_000;
    private const long Second = 1000 * Millisecond;
    private const long Start = 1_700_000_000 * Second;

    [Fact]
    public void OrderedFramesPassUnchangedAndNothingIsTold()
    {
        List<CanFrame> frames = Cyclic(0, 60 * Second);
        CollectingSink sink = Run(frames);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
        Assert.Empty(sink.NotSeen);
    }

    [Fact]
    public void FramesUpToOneSecondLateAreSorted()
    {
        CollectingSink sink = Run([At(0, 1), At(2000 * Millisecond, 2), At(1000 * Millisecond, 3), At(1500 * Millisecond, 4), At(2000 * Millisecond, 5), At(9999 * Millisecond, 6)]);
        Assert.Equal([1u, 3u, 4u, 2u, 5u, 6u], sink.Frames.Select(frame => frame.Id.Value));
        Assert.Empty(sink.NotSeen);
    }

    [Fact]
    public void ShuffledStampsWithinASecondComeOutSortedAndComplete()
    {
        Random random = new(91);
        List<CanFrame> ordered = Cyclic(0, 20 * Second);
        List<CanFrame> shuffled = [.. ordered.OrderBy(frame => frame.Time.Nanoseconds + random.NextInt64(Second / 2))];
        CollectingSink sink = Run(shuffled);
        Assert.Equal(ordered.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
        Assert.Empty(sink.NotSeen);
    }

    [Fact]
    public void EqualStampsKeepTheirOrder()
    {
        CollectingSink sink = Run([At(500, 9), At(1000, 1), At(1000, 2), At(500, 3), At(500, 4), At(1000, 5)]);
        Assert.Equal([9u, 3u, 4u, 1u, 2u, 5u], sink.Frames.Select(frame => frame.Id.Value));
    }

    [Fact]
    public void StepBackByMoreThanASecondContinuesTheLine()
    {
        List<CanFrame> frames = [.. Cyclic(0, 10 * Second), .. Cyclic(-3600 * Second, -3590 * Second)];
        CollectingSink sink = Run(frames);
        AssertNeverBackwards(sink);
        Assert.Equal(frames.Count, sink.Frames.Count);
        NotSeen step = Assert.Single(sink.NotSeen);
        Assert.Equal(NotSeenKind.ClockStep, step.Kind);
        Assert.Contains("stepped back, by 1 h", step.Why);
        Instant last = Cyclic(0, 10 * Second)[^1].Time;
        Assert.Equal((last, new Instant(last.Nanoseconds + 1)), (step.Start, step.End));
        int first = Cyclic(0, 10 * Second).Count;
        Assert.Equal(step.End, sink.Frames[first].Time);
        Assert.Equal(frames[^1].Time.Nanoseconds - frames[first].Time.Nanoseconds, sink.Frames[^1].Time.Nanoseconds - sink.Frames[first].Time.Nanoseconds);
    }

    [Fact]
    public void StepBackByExactlyOneSecondIsSortedAndOneNanosecondMoreIsAStep()
    {
        Assert.Empty(Run([At(0, 1), At(Second, 2), At(0, 3), At(2 * Second, 4)]).NotSeen);
        Assert.Single(Run([At(0, 1), At(Second + 1, 2), At(0, 3), At(1, 4), At(2, 5), At(3, 6), At(4, 7)]).NotSeen);
    }

    // The jump of a hardware clock as the commit b52d8377 of the linux-can archive tells it: +2.8 s for one frame.
    [Fact]
    public void OneFrameThatLeapsForwardGetsTheTimeOfItsPredecessor()
    {
        CollectingSink sink = Run([At(0, 1), At(2801 * Millisecond, 2), At(10 * Millisecond, 3), At(20 * Millisecond, 4)]);
        Assert.Equal([0, 0, 10 * Millisecond, 20 * Millisecond], sink.Frames.Select(frame => frame.Time.Nanoseconds - Start));
        Assert.Equal([1u, 2u, 3u, 4u], sink.Frames.Select(frame => frame.Id.Value));
        NotSeen step = Assert.Single(sink.NotSeen);
        Assert.Equal((NotSeenKind.ClockStep, 1L, new Instant(Start), new Instant(Start)), (step.Kind, step.Count, step.Start, step.End));
        Assert.Contains("2.801 s", step.Why);
    }

    [Theory]
    [InlineData(-1)]
    [InlineData(0)]
    [InlineData(Start / Second * 2)]
    public void OneWrongStampInTrafficLeavesTheOthersAlone(long stampSeconds)
    {
        List<CanFrame> frames = Cyclic(0, 30 * Second);
        List<CanFrame> wrong = [.. frames];
        int position = wrong.FindIndex(frame => frame.Time.Nanoseconds >= Start + (15 * Second));
        CanFrame changed = wrong[position];
        changed.Time = new(stampSeconds * Second);
        wrong[position] = changed;
        CollectingSink sink = Run(wrong);
        Assert.Equal(1, Assert.Single(sink.NotSeen).Count);
        for (int index = 0; index < frames.Count; index++)
        {
            Assert.Equal(index == position ? frames[index - 1].Time : frames[index].Time, sink.Frames[index].Time);
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(3)]
    [InlineData(40)]
    public void ZeroStampsForAWhileAreTakenBack(int count)
    {
        List<CanFrame> frames = Cyclic(0, 30 * Second);
        List<CanFrame> wrong = [.. frames];
        for (int index = 200; index < 200 + count; index++)
        {
            CanFrame changed = wrong[index];
            changed.Time = default;
            wrong[index] = changed;
        }

        CollectingSink sink = Run(wrong);
        AssertNeverBackwards(sink);
        Assert.Equal(frames.Count, sink.Frames.Count);
        Assert.Equal(frames[^1].Time, sink.Frames[^1].Time);
        Assert.All(sink.NotSeen, notSeen => Assert.Equal(NotSeenKind.ClockStep, notSeen.Kind));
        Assert.InRange(sink.NotSeen.Count, 1, 2);
    }

    [Fact]
    public void TraceThatBeginsWithZeroStampsTakesTheFirstGoodOne()
    {
        List<CanFrame> frames = [Stamped(0, 1), Stamped(0, 2), .. Cyclic(0, 5 * Second)];
        CollectingSink sink = Run(frames);
        Assert.Equal([frames[2].Time, frames[2].Time, frames[2].Time], sink.Frames.Take(3).Select(frame => frame.Time));
        Assert.Equal(frames[^1].Time, sink.Frames[^1].Time);
        Assert.Equal(2, Assert.Single(sink.NotSeen).Count);
    }

    [Fact]
    public void ClockThatWasNeverSetAndThenIsSetIsAStepEvenWithoutRegularTraffic()
    {
        List<CanFrame> frames = [.. Enumerable.Range(0, 20).Select(index => Stamped((100 * Second) + (index * index * Millisecond), 1)), At(0, 2), At(17 * Millisecond, 3)];
        CollectingSink sink = Run(frames);
        Assert.InRange(sink.Frames[^1].Time.Nanoseconds, 100 * Second, 102 * Second);
        Assert.Equal(NotSeenKind.ClockStep, Assert.Single(sink.NotSeen).Kind);
    }

    [Theory]
    [InlineData(5_100)]
    [InlineData(7_777)]
    [InlineData(60_000)]
    [InlineData(3_600_000)]
    [InlineData(31_536_000_123)]
    public void ForwardStepIsTakenOutWhereRegularIdentifiersGoOn(long stepMilliseconds)
    {
        List<CanFrame> frames = Cyclic(0, 60 * Second);
        CollectingSink sink = Run(Shift(frames, 30 * Second, stepMilliseconds * Millisecond));
        AssertNeverBackwards(sink);
        NotSeen step = Assert.Single(sink.NotSeen);
        Assert.Equal(NotSeenKind.ClockStep, step.Kind);
        Assert.Contains("stepped forward, by", step.Why);
        for (int index = 0; index < frames.Count; index++)
        {
            Assert.InRange(sink.Frames[index].Time.Nanoseconds - frames[index].Time.Nanoseconds, -7 * Millisecond, 7 * Millisecond);
        }
    }

    [Fact]
    public void LeapUpToFiveSecondsStaysAsItIs()
    {
        List<CanFrame> frames = Shift(Cyclic(0, 60 * Second), 30 * Second, 4_900 * Millisecond);
        CollectingSink sink = Run(frames);
        Assert.Empty(sink.NotSeen);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
    }

    [Fact]
    public void SilenceBehindWhichOtherPhasesBeginStaysSilence()
    {
        List<CanFrame> before = Cyclic(0, 30 * Second);
        List<CanFrame> after = [.. Cyclic(90 * Second, 120 * Second, 13 * Millisecond, 71 * Millisecond, 120 * Millisecond)];
        AssertUntouched([.. before, .. after]);
    }

    [Fact]
    public void NodesThatBootTogetherAgainInTheSamePhasesWereSilent()
    {
        List<CanFrame> before = Cyclic(0, 30 * Second);
        List<CanFrame> after = Shift(Cyclic(30 * Second, 60 * Second), 0, 45 * Second);
        CanFrame boot = after[2];
        boot.Id = CanId.Base(0x705);
        boot.Length = boot.DataLengthCode = 1;
        boot.Data[0] = 0;
        after.Insert(3, boot);
        AssertUntouched([.. before, .. after]);
    }

    [Fact]
    public void LeapOfATraceWithoutRegularIdentifiersStaysSilence()
    {
        Random random = new(92);
        List<CanFrame> frames = [];
        long time = 0;
        for (int index = 0; index < 500; index++)
        {
            time += random.NextInt64(200 * Millisecond) + (index == 250 ? 60 * Second : 0);
            frames.Add(At(time, (uint)(random.Next(3) + 1)));
        }

        AssertUntouched(frames);
    }

    [Fact]
    public void OneRegularIdentifierAloneCannotTellStepFromSilence() =>
        AssertKeptInDoubt(Shift([.. Cyclic(0, 60 * Second).Where(frame => frame.Id.Value == 0x181)], 30 * Second, 20 * Second));

    [Fact]
    public void TwoRegularIdentifiersAreEnoughWhereThereAreOnlyTwo() =>
        Assert.Single(Run(Shift([.. Cyclic(0, 60 * Second).Where(frame => frame.Id.Value != 0x181)], 30 * Second, 20_013 * Millisecond)).NotSeen);

    [Fact]
    public void BusWithOnlySlowHeartbeatsShowsTheStepToo()
    {
        List<CanFrame> frames = [.. Enumerable.Range(0, 60).SelectMany(index => (CanFrame[])[At(index * 2 * Second, 0x701), At((index * 2 * Second) + (1300 * Millisecond), 0x702)])];
        NotSeen step = Assert.Single(Run(Shift(frames, 60 * Second, 20_013 * Millisecond)).NotSeen);
        Assert.Contains("stepped forward, by 20.", step.Why);
    }

    [Fact]
    public void FewerThanEightRegularGapsProveNothing()
    {
        // Periods of 100, 200 and 350 ms: within 0.7 s none has eight gaps.
        AssertUntouched(Shift(Cyclic(0, 60 * Second), 700 * Millisecond, 20_013 * Millisecond));
    }

    [Fact]
    public void OneOfThreeInAnotherPhaseCannotTellStepFromSilence()
    {
        List<CanFrame> frames = Shift(Cyclic(0, 60 * Second), 30 * Second, 20_013 * Millisecond);
        List<CanFrame> moved = [.. frames.Select(frame =>
        {
            CanFrame copy = frame;
            if (copy.Id.Value == 0x183 && copy.Time.Nanoseconds > Start + (50 * Second))
            {
                copy.Time = new(copy.Time.Nanoseconds + (60 * Millisecond));
            }

            return copy;
        }).OrderBy(frame => frame.Time)];
        AssertKeptInDoubt(moved);
    }

    [Fact]
    public void OneOfThreeThatDoesNotGoOnCannotTellStepFromSilence() =>
        AssertKeptInDoubt(Shift([.. Cyclic(0, 60 * Second).Where(frame => frame.Id.Value != 0x183 || frame.Time.Nanoseconds < Start + (30 * Second))], 30 * Second, 20_013 * Millisecond));

    [Fact]
    public void OneOfFiveThatAChangeSendsEarlyDoesNotHideTheStep()
    {
        List<CanFrame> frames = [.. Heartbeats(5), At((60 * Second) + (5 * Millisecond), 0x703)];
        NotSeen step = Assert.Single(Run(Shift([.. frames.OrderBy(frame => frame.Time)], 60 * Second, 20_013 * Millisecond)).NotSeen);
        Assert.Contains("stepped forward, by 20.", step.Why);
    }

    [Fact]
    public void OneOfFiveThatCameLateCannotTellStepFromSilence()
    {
        List<CanFrame> frames = [.. Heartbeats(5).Where(frame => frame.Id.Value != 0x703 || frame.Time.Nanoseconds < Start + (60 * Second) || frame.Time.Nanoseconds > Start + (62 * Second))];
        AssertKeptInDoubt(Shift(frames, 60 * Second, 20_013 * Millisecond));
    }

    [Fact]
    public void FramesThatWereLostExplainTheLeap()
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        List<CanFrame> frames = Shift([.. Cyclic(0, 60 * Second).Where(frame => frame.Id.Value == 0x181)], 30 * Second, 20 * Second);
        foreach (CanFrame frame in frames)
        {
            if (frame.Time.Nanoseconds >= Start + (50 * Second) && sink.NotSeen.Count == 0)
            {
                line.OnNotSeen(new(NotSeenKind.KernelDropped, 0, new(Start + (30 * Second)), frame.Time, 200, "test"));
            }

            line.OnFrame(in frame);
        }

        line.Complete();
        Assert.All(sink.NotSeen, notSeen => Assert.Equal(NotSeenKind.KernelDropped, notSeen.Kind));
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
    }

    [Fact]
    public void TwoOfFiveThatCameEarlyCannotTellStepFromSilence()
    {
        List<CanFrame> frames = [.. Heartbeats(5), At((60 * Second) + (5 * Millisecond), 0x703), At((60 * Second) + (6 * Millisecond), 0x704)];
        AssertKeptInDoubt(Shift([.. frames.OrderBy(frame => frame.Time)], 60 * Second, 20_013 * Millisecond));
    }

    [Fact]
    public void ThreeOfFiveInPhasesOfTheirOwnWereSilent()
    {
        List<CanFrame> frames = [.. Heartbeats(5), .. Enumerable.Range(3, 3).Select(node => At((60 * Second) + ((node - 2) * 130 * Millisecond), 0x700 + (uint)node))];
        AssertUntouched(Shift([.. frames.OrderBy(frame => frame.Time)], 60 * Second, 20_013 * Millisecond));
    }

    [Fact]
    public void TimersThatChangesSendEarlyNowAndThenStayRegular()
    {
        List<CanFrame> frames = [.. Heartbeats(3), .. Enumerable.Range(1, 3).Select(index => At((index * 18 * Second) + (77 * Millisecond), 0x702))];
        Assert.Contains("stepped forward, by 20.", Assert.Single(Run(Shift([.. frames.OrderBy(frame => frame.Time)], 60 * Second, 20_013 * Millisecond)).NotSeen).Why);
    }

    [Fact]
    public void HeartbeatsEveryTenSecondsBetweenPausesShowTheStep()
    {
        // A slow bus of few nodes: everything comes within a second, and then nothing for nine.
        List<CanFrame> frames = [.. Enumerable.Range(0, 40).SelectMany(index => Enumerable.Range(1, 4).Select(node => At((index * 10_020 * Millisecond) + (node * 200 * Millisecond), 0x700 + (uint)node)))];
        CollectingSink sink = Run(Shift(frames, 200 * Second, 3600 * Second));
        Assert.Contains("stepped forward, by 1 h", Assert.Single(sink.NotSeen).Why);
        Assert.InRange(sink.Frames[^1].Time.Nanoseconds - frames[^1].Time.Nanoseconds, -20 * Millisecond, 20 * Millisecond);
    }

    [Theory]
    [InlineData(599, 0)]
    [InlineData(601, 1)]
    public void PausesOfABusWithNothingRegularAreOrdinaryUpToTenMinutes(long pauseSeconds, int told)
    {
        Random random = new(94);
        List<CanFrame> frames = [];
        long time = 0;
        for (int index = 0; index < 500; index++)
        {
            time += random.NextInt64(900 * Millisecond) + (index == 250 ? pauseSeconds * Second : 0);
            frames.Add(At(time, (uint)(random.Next(3) + 1)));
        }

        CollectingSink sink = Run(frames);
        Assert.Equal(told, sink.NotSeen.Count);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
    }

    [Fact]
    public void NodesThatStartBehindALongPauseOfABusWithNothingRegularWereSilent()
    {
        Random random = new(95);
        List<CanFrame> frames = [.. Enumerable.Range(0, 40).Select(index => At((index * index * 100 * Millisecond) + (index > 20 ? 700 * Second : 0), (uint)(random.Next(3) + 1)))];
        CanFrame boot = CanFrame.Classic(new(frames[21].Time.Nanoseconds + (2 * Second)), CanId.Base(0x705), [0]);
        AssertUntouched([.. frames.Append(boot).OrderBy(frame => frame.Time)]);
        Assert.Single(Run(frames).NotSeen);
    }

    [Fact]
    public void JitterWithinTheToleranceStillShowsTheStep()
    {
        Random random = new(93);
        List<CanFrame> frames = [.. Cyclic(0, 60 * Second).Select(frame =>
        {
            CanFrame copy = frame;
            copy.Time = new(copy.Time.Nanoseconds + random.NextInt64(2 * Millisecond));
            return copy;
        }).OrderBy(frame => frame.Time)];
        Assert.Single(Run(Shift(frames, 30 * Second, 3600 * Second)).NotSeen);
    }

    [Fact]
    public void StepForwardAndBackAgainReturnsToTheLine()
    {
        List<CanFrame> frames = Cyclic(0, 90 * Second);
        List<CanFrame> stepped = [.. frames.Select(frame =>
        {
            CanFrame copy = frame;
            long since = copy.Time.Nanoseconds - Start;
            copy.Time = new(copy.Time.Nanoseconds + (since >= 30 * Second && since < 60 * Second ? 500 * Second : 0));
            return copy;
        })];
        CollectingSink sink = Run(stepped);
        AssertNeverBackwards(sink);
        Assert.Equal(2, sink.NotSeen.Count);
        Assert.InRange(sink.Frames[^1].Time.Nanoseconds - frames[^1].Time.Nanoseconds, -200 * Millisecond, 200 * Millisecond);
    }

    [Fact]
    public void SlowBusesWithLongGapsKeepTheirTimes()
    {
        List<CanFrame> frames = [.. Enumerable.Range(0, 200).Select(index => At(index * 7 * Second, 0x701)), At(1500 * Second, 0x702)];
        AssertUntouched(frames);
    }

    [Fact]
    public void WhatWasNotSeenComesBeforeTheFrameThatEndsItAndOnTheLine()
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        foreach (CanFrame frame in Cyclic(0, 2 * Second))
        {
            line.OnFrame(frame);
        }

        foreach (CanFrame frame in Cyclic(-100 * Second, -95 * Second))
        {
            line.OnFrame(frame);
        }

        CanFrame next = At(-94 * Second, 7);
        line.OnNotSeen(new(NotSeenKind.KernelDropped, 0, new(Start - (95 * Second)), next.Time, 3, "test"));
        line.OnFrame(next);
        line.Complete();
        int place = sink.Story.FindIndex(row => row.Contains("KernelDropped", StringComparison.Ordinal));
        Assert.Equal(sink.Story.Count - 2, place);
        Assert.Equal(sink.Frames[^1].Time, sink.NotSeen[^1].End);
        Assert.Equal(Second, sink.NotSeen[^1].End.Nanoseconds - sink.NotSeen[^1].Start.Nanoseconds);
    }

    /// <summary>While it is open whether a leap was a step, further losses come; each must be told before the frame behind it, or the silence is laid to a module.</summary>
    [Fact]
    public void ALossWhileALeapIsUndecidedIsToldBeforeTheFrameBehindIt()
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        long[] seconds = [0, 2, 4, 6, 8, 10, 12, 14, 30, 38, 46, 60, 62, 64, 66, 68];
        for (int index = 0; index < seconds.Length; index++)
        {
            CanFrame frame = At(seconds[index] * Second, 0x701);
            if (seconds[index] is 38 or 46 or 60)
            {
                line.OnNotSeen(new(NotSeenKind.KernelDropped, 0, new(frame.Time.Nanoseconds - (4 * Second)), frame.Time, 2, "test"));
            }

            line.OnFrame(frame);
        }

        line.Complete();
        string[] order = [.. sink.Story.Select(row => row.Contains("KernelDropped", StringComparison.Ordinal) ? "lost" : "frame")];
        int[] lost = [.. Enumerable.Range(0, order.Length).Where(place => order[place] == "lost")];
        CanFrame[] behind = [.. lost.Select(place => sink.Frames[order[..place].Count(kind => kind == "frame")])];
        Assert.Equal(sink.NotSeen.Where(notSeen => notSeen.Kind == NotSeenKind.KernelDropped).Select(notSeen => notSeen.End), behind.Select(frame => frame.Time));
    }

    [Fact]
    public void EndOfTheTraceIsToldLast()
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        line.OnFrame(At(0, 1));
        line.OnFrame(At(100 * Second, 2));
        line.OnNotSeen(new(NotSeenKind.BrokenOff, NotSeen.AllInterfaces, new(Start + (100 * Second)), new(Start + (100 * Second)), 0, "test"));
        line.Complete();
        Assert.Equal(2, sink.Frames.Count);
        Assert.Contains("BrokenOff", sink.Story[^1]);
    }

    [Fact]
    public void AnyStampsComeOutInOrderAndComplete()
    {
        for (int seed = 0; seed < 100; seed++)
        {
            Random random = new(seed);
            long time = random.Next(3) == 0 ? 0 : Start;
            List<CanFrame> frames = [];
            for (int index = 0; index < 400; index++)
            {
                long move = random.Next(12) switch
                {
                    0 => random.NextInt64(20 * Second) - (10 * Second),
                    1 => random.NextInt64(4 * Second) - (2 * Second),
                    2 when seed % 5 == 0 => random.NextInt64(),
                    3 when seed % 5 == 0 => long.MinValue,
                    _ => random.NextInt64(100 * Millisecond),
                };
                time = unchecked(time + move);
                frames.Add(Stamped(random.Next(30) == 0 ? random.NextInt64() : time, (uint)random.Next(4)));
            }

            CollectingSink sink = Run(frames);
            Assert.Equal(frames.Count, sink.Frames.Count);
            AssertNeverBackwards(sink);
        }
    }

    [Fact]
    public void MoreFramesInASecondThanAreKeptStillComeOutInOrder()
    {
        CollectingCount sink = new();
        TimeLine line = new(sink);
        Random random = new(94);
        for (int index = 0; index < 200_000; index++)
        {
            line.OnFrame(At(random.NextInt64(Second), 1));
        }

        Assert.InRange(sink.Count, 200_000 - (64 * 1024) - 1, 200_000);
        line.Complete();
        Assert.Equal(200_000, sink.Count);
    }

    [Theory]
    [InlineData(2_801_365_000, "2.801 s")]
    [InlineData(59_400_000_000, "59.4 s")]
    [InlineData(61 * Second, "1 min 1 s")]
    [InlineData(120 * Second, "2 min")]
    [InlineData(3600 * Second, "1 h")]
    [InlineData(5000 * Second, "1 h 23 min")]
    [InlineData(100_000 * Second, "1 day 3 h")]
    [InlineData(20 * 86_400 * Second, "20 days")]
    public void SizesAreSaidInWords(long nanoseconds, string words) => Assert.Equal(words, TimeLine.Words(nanoseconds));

    private static void AssertUntouched(List<CanFrame> frames)
    {
        CollectingSink sink = Run(frames);
        Assert.Empty(sink.NotSeen);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
    }

    /// <summary>All times stay, and the leap is told as time of unknown length.</summary>
    private static void AssertKeptInDoubt(List<CanFrame> frames)
    {
        CollectingSink sink = Run(frames);
        NotSeen doubt = Assert.Single(sink.NotSeen);
        Assert.Equal(NotSeenKind.StepOrSilence, doubt.Kind);
        Assert.Contains("or the bus was silent", doubt.Why);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
        int behind = sink.Frames.FindIndex(frame => frame.Time == doubt.End);
        Assert.Equal(sink.Frames[behind - 1].Time, doubt.Start);
    }

    /// <summary>Two minutes of nodes from 1 on, every 2 s, in phases that share nothing.</summary>
    private static List<CanFrame> Heartbeats(int nodes) =>
        [.. Enumerable.Range(0, 60).SelectMany(index => Enumerable.Range(1, nodes).Select(node => At((index * 2 * Second) + (node * 313 * Millisecond), 0x700 + (uint)node)))];

    private static void AssertNeverBackwards(CollectingSink sink)
    {
        for (int index = 1; index < sink.Frames.Count; index++)
        {
            Assert.True(sink.Frames[index].Time >= sink.Frames[index - 1].Time, "the line runs backwards at frame " + index);
        }
    }

    [Theory]
    [InlineData(60)]
    [InlineData(600)]
    [InlineData(3 * 86_400)]
    public void BetweenTwoFilesNothingWasRecordedWhateverThePhases(int gapSeconds)
    {
        // The gap is a common multiple of all periods: within one file that would be a step of the clock.
        List<CanFrame> first = Cyclic(0, 20 * Second);
        List<CanFrame> second = Cyclic((20 + gapSeconds) * Second, (40 + gapSeconds) * Second);
        CollectingSink sink = RunFiles(first, second);
        Assert.Equal(first.Concat(second).Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
        NotSeen gap = Assert.Single(sink.NotSeen);
        Assert.Equal((NotSeenKind.NotRecorded, first[^1].Time, second[0].Time), (gap.Kind, gap.Start, gap.End));
        Assert.StartsWith("Between two files nothing was recorded, for ", gap.Why, StringComparison.Ordinal);
    }

    [Fact]
    public void FilesThatFollowEachOtherAreOne()
    {
        List<CanFrame> frames = Cyclic(0, 40 * Second);
        CollectingSink sink = RunFiles(frames[..100], frames[100..101], frames[101..]);
        Assert.Equal(frames.Select(frame => frame.Time), sink.Frames.Select(frame => frame.Time));
        Assert.Empty(sink.NotSeen);
    }

    [Fact]
    public void FilesInTheWrongOrderAreAStepBack()
    {
        CollectingSink sink = RunFiles(Cyclic(3600 * Second, 3620 * Second), Cyclic(0, 20 * Second));
        AssertNeverBackwards(sink);
        Assert.Equal(NotSeenKind.ClockStep, Assert.Single(sink.NotSeen).Kind);
    }

    private static CollectingSink RunFiles(params List<CanFrame>[] files)
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        foreach (List<CanFrame> file in files)
        {
            foreach (CanFrame frame in file)
            {
                line.OnFrame(in frame);
            }

            line.EndFile();
        }

        line.Complete();
        return sink;
    }

    private static CollectingSink Run(List<CanFrame> frames)
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        foreach (CanFrame frame in frames)
        {
            line.OnFrame(in frame);
        }

        line.Complete();
        return sink;
    }

    /// <summary>Three regular identifiers, 100, 200 and 350 ms, in phases of their own.</summary>
    private static List<CanFrame> Cyclic(long from, long to, long phase1 = 3 * Millisecond, long phase2 = 41 * Millisecond, long phase3 = 87 * Millisecond)
    {
        List<CanFrame> frames = [];
        void Add(uint id, long period, long phase)
        {
            for (long time = from - (from % period) + phase - period; time < to; time += period)
            {
                if (time >= from)
                {
                    frames.Add(At(time, id));
                }
            }
        }

        Add(0x181, 100 * Millisecond, phase1);
        Add(0x182, 200 * Millisecond, phase2);
        Add(0x183, 350 * Millisecond, phase3);
        return [.. frames.OrderBy(frame => frame.Time)];
    }

    private static List<CanFrame> Shift(List<CanFrame> frames, long from, long by) => [.. frames.Select(frame =>
    {
        CanFrame copy = frame;
        copy.Time = new(copy.Time.Nanoseconds + (copy.Time.Nanoseconds >= Start + from ? by : 0));
        return copy;
    })];

    private static CanFrame At(long sinceStart, uint id) => Stamped(Start + sinceStart, id);

    private static CanFrame Stamped(long stamp, uint id) => CanFrame.Classic(new(stamp), CanId.Base(id), [1, 2]);

    private sealed class CollectingCount : IFrameSink
    {
        private Instant _last = Instant.MinValue;

        public int Count { get; private set; }

        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame)
        {
            Assert.True(frame.Time >= _last);
            _last = frame.Time;
            Count++;
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
        }
    }
}
