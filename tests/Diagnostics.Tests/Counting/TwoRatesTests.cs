using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class TwoRatesTests
{
    /// <summary>
    /// Counts and exposures with the interval of their ratio. The first is the example of R's manual page of poisson.test (11 of 800 against 21 of 3,011: ratio 1.971488, 0.8584264 to 4.277266; from memory), the
    /// second breast cancer by person-years (41 in 28,010 against 15 in 19,017, Rothman; from memory). All, tails included, computed anew by sums of exact fractions with 40 digits.
    /// </summary>
    [Theory]
    [InlineData(21, 3011, 11, 800, 1.971488095, 0.858426403, 4.27726594, 0.05600865979, 0.9759318232)]
    [InlineData(15, 19017, 41, 28010, 1.855758658, 1.00568406, 3.60930031, 0.02383012338, 0.9883727016)]
    [InlineData(41, 28010, 15, 19017, 0.5388631738, 0.27706201, 0.994348063, 0.9883727016, 0.02383012338)]
    [InlineData(10, 1, 50, 2, 2.5, 1.25303733, 5.52926774, 0.003168484087, 0.9988339648)]
    [InlineData(3, 100, 3, 100, 1, 0.133937588, 7.46616401, 0.65625, 0.65625)]
    [InlineData(5, 10, 0, 10, 0, 0, 1.09127911, 1, 0.03125)]
    public void PublishedRatiosAreReproduced(long before, double exposureBefore, long after, double exposureAfter, double ratio, double low, double high, double soMany, double soFew)
    {
        TwoRates rates = new(before, exposureBefore, after, exposureAfter);
        (double Low, double High) interval = rates.RatioInterval(0.95);
        Assert.Equal(ratio, rates.RateAfter / rates.RateBefore, 1e-8);
        Assert.Equal(low, interval.Low, 1e-7);
        Assert.Equal(high, interval.High, 1e-7);
        Assert.Equal(soMany, rates.ProbabilityOfSoMany, 1e-9);
        Assert.Equal(soFew, rates.ProbabilityOfSoFew, 1e-9);
        Assert.Equal(Math.Min(1, 2 * Math.Min(soMany, soFew)), rates.TwoSided, 1e-9);
    }

    [Fact]
    public void NothingBeforeLeavesTheRatioWithoutBound()
    {
        TwoRates rates = new(0, 3, 10, 1);
        Assert.Equal(double.PositiveInfinity, rates.RatioInterval(0.95).High);
        Assert.Equal(6.72456443, rates.RatioInterval(0.95).Low, 1e-7);
        Assert.Equal(Math.Pow(0.25, 10), rates.ProbabilityOfSoMany, 1e-15);
        Assert.Equal(double.PositiveInfinity, rates.ExposureNeeded(0.05));
        Assert.False(new TwoRates(0, 1, 0, 1).IsComparable);
        Assert.False(default(TwoRates).IsComparable);
        Assert.False(new TwoRates(1, 0, 1, 1).IsComparable);
    }

    /// <summary>(1/20)^(−1/n) − 1 times the exposure before: closed form of the binomial with no hit.</summary>
    [Theory]
    [InlineData(1, 19)]
    [InlineData(2, 3.4721359550)]
    [InlineData(3, 1.7144176166)]
    [InlineData(5, 0.8205642030)]
    [InlineData(10, 0.3492828477)]
    public void SoMuchWithoutAnEventIsNeeded(long before, double times)
    {
        Assert.Equal(times * 7, new TwoRates(before, 7, 0, 1).ExposureNeeded(0.05), 1e-8);
        Assert.Equal(0.05, new TwoRates(before, 7, 0, times * 7).ProbabilityOfSoFew, 1e-9);
    }

    [Theory]
    [InlineData(29, 1)]
    [InlineData(29, 7)]
    [InlineData(4, 3)]
    [InlineData(1000, 900)]
    public void AtTheNeededExposureChanceIsJustAsLarge(long before, long after)
    {
        double needed = new TwoRates(before, 100, after, 1).ExposureNeeded(0.05);
        Assert.Equal(0.05, new TwoRates(before, 100, after, needed).ProbabilityOfSoFew, 1e-9);
    }

    [Fact]
    public void ProbabilityAndIntervalNeverContradictEachOther()
    {
        Random random = new(20260107);
        int significant = 0;
        for (int round = 0; round < 2_000; round++)
        {
            TwoRates rates = new(random.Next(0, 40), 1 + (random.NextDouble() * 9), random.Next(0, 40), 1 + (random.NextDouble() * 9));
            if (rates.IsComparable)
            {
                (double low, double high) = rates.RatioInterval(0.95);
                Assert.Equal(rates.TwoSided < 0.05, low > 1 || high < 1);
                significant += rates.TwoSided < 0.05 ? 1 : 0;
            }
        }

        Assert.InRange(significant, 200, 1_900);
    }

    /// <summary>The conditional test is exact: whatever the rate, "fewer" is said by chance in 5 % of cases at most. Summed over all pairs of counts, not drawn.</summary>
    [Theory]
    [InlineData(1)]
    [InlineData(4)]
    [InlineData(0.3)]
    public void FewerIsNeverSaidTooOften(double timesAsLong)
    {
        for (double mean = 0.1; mean < 30; mean *= 1.3)
        {
            double said = 0;
            for (int before = 0; before < 120; before++)
            {
                for (int after = 0; after < 250; after++)
                {
                    if (new TwoRates(before, 1, after, timesAsLong) is { IsComparable: true, ProbabilityOfSoFew: < 0.05 })
                    {
                        said += Poisson(before, mean) * Poisson(after, mean * timesAsLong);
                    }
                }
            }

            Assert.InRange(said, 0, 0.05);
        }
    }

    [Fact]
    public void MillionsOfEventsAreCompared()
    {
        TwoRates rates = new(1_000_000, 1, 1_005_000, 1);
        // Normal approximation: z = 5,000 / √2,005,000 = 3.531, two-sided 0.000414.
        Assert.InRange(rates.TwoSided, 0.000405, 0.000423);
    }

    private static double Poisson(int count, double mean)
    {
        double probability = Math.Exp(-mean);
        for (int k = 1; k <= count; k++)
        {
            probability *= mean / k;
        }

        return probability;
    }
}
