using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class CycleTests
{
    private static double Gaussian(Random chance) => Math.Sqrt(-2 * Math.Log(1 - chance.NextDouble())) * Math.Cos(2 * Math.PI * chance.NextDouble());

    private static Cycle Of(params IEnumerable<double> seconds)
    {
        Cycle cycle = new();
        foreach (double gap in seconds)
        {
            cycle.Add((long)(gap * 1e9));
        }

        return cycle;
    }

    [Fact]
    public void FourGapsAreTooFew()
    {
        Assert.Equal(Rhythm.None, Of(1, 1, 1, 1).Rhythm);
        Assert.Null(Of(1, 1, 1, 1).SilenceSeconds(3));
        Assert.Equal(Rhythm.Cyclic, Of(1, 1, 1, 1, 1).Rhythm);
    }

    [Fact]
    public void JitterIsTheStandardDeviation()
    {
        // 1.4826 · median absolute deviation of Gaussian jitter equals its standard deviation (Hampel 1974, from memory).
        Random chance = new(1);
        double sum = 0;
        for (int run = 0; run < 200; run++)
        {
            Cycle cycle = Of(Enumerable.Range(0, 64).Select(_ => 1 + (0.01 * Gaussian(chance))));
            Assert.Equal(Rhythm.Cyclic, cycle.Rhythm);
            Assert.Equal(1, cycle.PeriodSeconds, 0.01);
            sum += cycle.JitterSeconds;
        }

        Assert.Equal(0.01, sum / 200, 0.0006);
    }

    [Fact]
    public void SilenceIsThreeAndAHalfPeriodsAndFourDeviations()
    {
        Cycle cycle = Of(0.98, 1, 1.02, 0.98, 1, 1.02, 1);
        Assert.Equal((3.5 * cycle.PeriodSeconds) + (4 * cycle.JitterSeconds), cycle.SilenceSeconds(3)!.Value, 9);
        Assert.Equal(3.5, Of(1, 1, 1, 1, 1).SilenceSeconds(3)!.Value, 9);
    }

    [Fact]
    public void ARestartAndALostFrameDoNotMoveThePeriod()
    {
        Cycle cycle = Of([.. Enumerable.Repeat(2.0, 30), 47.3, .. Enumerable.Repeat(2.0, 8), 4.0, .. Enumerable.Repeat(2.0, 8)]);
        Assert.Equal(Rhythm.Cyclic, cycle.Rhythm);
        Assert.Equal(2, cycle.PeriodSeconds, 9);
    }

    [Theory]
    [InlineData(0.3, true)]
    [InlineData(0.7, false)]
    public void AThirdOfTheFramesLostLeavesTheRhythm(double lost, bool isCyclic)
    {
        Random chance = new(4);
        List<double> gaps = [];
        double gap = 0;
        while (gaps.Count < 64)
        {
            gap++;
            if (chance.NextDouble() >= lost)
            {
                gaps.Add(gap);
                gap = 0;
            }
        }

        Cycle cycle = Of(gaps);
        Assert.Equal(isCyclic, cycle.Rhythm == Rhythm.Cyclic);
        Assert.Equal(isCyclic ? 1 : 0, cycle.KnownPeriodSeconds, 9);
    }

    [Fact]
    public void AnEventTimerThatChangesRestartIsAnEventTimer()
    {
        Random chance = new(2);
        Cycle cycle = Of(Enumerable.Range(0, 64).Select(i => i % 2 == 0 ? 10 + (0.001 * Gaussian(chance)) : 0.2 + (9 * chance.NextDouble())));
        Assert.Equal(Rhythm.EventTimer, cycle.Rhythm);
        Assert.Equal(10, cycle.PeriodSeconds, 0.05);
        Assert.InRange(cycle.SilenceSeconds(3)!.Value, 35, 36.5);
    }

    [Fact]
    public void PressesByPeopleHaveNoRhythm()
    {
        for (int seed = 0; seed < 300; seed++)
        {
            Random chance = new(seed);
            Assert.Equal(Rhythm.None, Of(Enumerable.Range(0, 64).Select(_ => -60 * Math.Log(1 - chance.NextDouble()))).Rhythm);
        }
    }

    [Fact]
    public void ResetForgetsTheOldPeriod()
    {
        Cycle cycle = Of(1, 1, 1, 1, 1, 1);
        cycle.Reset();
        Assert.Equal(Rhythm.None, cycle.Rhythm);
        for (int i = 0; i < 5; i++)
        {
            cycle.Add(5_000_000_000);
        }

        Assert.Equal(5, cycle.PeriodSeconds, 9);
    }

    [Fact]
    public void ANewPeriodIsLearnedWithinItsLastGaps()
    {
        Cycle cycle = Of([.. Enumerable.Repeat(1.0, 64), .. Enumerable.Repeat(3.0, 60)]);
        Assert.Equal(3, cycle.PeriodSeconds, 9);
    }
}
