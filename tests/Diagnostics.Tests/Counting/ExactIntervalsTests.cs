using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class ExactIntervalsTests
{
    /// <summary>Garwood's limits, 95 %: counts 0, 10 and 25 published (epitools manual; GraphPad FAQ), the others computed with 30 digits (chi-square quantiles).</summary>
    [Theory]
    [InlineData(0, 0.0, 3.68888)]
    [InlineData(1, 0.0253178, 5.57164)]
    [InlineData(2, 0.242209, 7.22469)]
    [InlineData(3, 0.618672, 8.76727)]
    [InlineData(4, 1.08987, 10.2416)]
    [InlineData(5, 1.62349, 11.6683)]
    [InlineData(6, 2.20189, 13.0595)]
    [InlineData(7, 2.81436, 14.4227)]
    [InlineData(8, 3.45383, 15.7632)]
    [InlineData(9, 4.11537, 17.0848)]
    [InlineData(10, 4.79539, 18.3904)]
    [InlineData(15, 8.39539, 24.7402)]
    [InlineData(20, 12.2165, 30.8884)]
    [InlineData(25, 16.1787, 36.9049)]
    [InlineData(50, 37.111, 65.9188)]
    [InlineData(100, 81.364, 121.627)]
    public void GarwoodsTableIsReproduced(long count, double low, double high)
    {
        (double Low, double High) interval = ExactIntervals.Poisson(count, 0.95);
        Assert.InRange(interval.Low, low * (1 - 6e-6), low * (1 + 6e-6));
        Assert.InRange(interval.High, high * (1 - 6e-6), high * (1 + 6e-6));
    }

    /// <summary>GraphPad FAQ, 25 events at three levels.</summary>
    [Theory]
    [InlineData(0.90, 17.38, 34.92)]
    [InlineData(0.95, 16.18, 36.90)]
    [InlineData(0.99, 14.00, 41.00)]
    public void TwentyFiveEventsAtThreeLevels(double level, double low, double high)
    {
        (double Low, double High) interval = ExactIntervals.Poisson(25, level);
        Assert.Equal(low, interval.Low, 0.0051);
        Assert.Equal(high, interval.High, 0.0051);
    }

    /// <summary>No hit, or all of them: 1 − (α/2)^(1/n) in closed form (Clopper and Pearson 1934).</summary>
    [Theory]
    [InlineData(10)]
    [InlineData(1000)]
    public void AProportionWithoutAHitHasAClosedForm(long trials)
    {
        double high = 1 - Math.Pow(0.025, 1.0 / trials);
        Assert.Equal(high, ExactIntervals.Binomial(0, trials, 0.95).High, 1e-12);
        Assert.Equal(1 - high, ExactIntervals.Binomial(trials, trials, 0.95).Low, 1e-12);
        Assert.Equal(0, ExactIntervals.Binomial(0, trials, 0.95).Low);
        Assert.Equal(1, ExactIntervals.Binomial(trials, trials, 0.95).High);
    }

    /// <summary>With many trials the interval is ±1.96 standard deviations; computed. Terms near no hit are too small for a double there.</summary>
    [Theory]
    [InlineData(3_000, 30_000)]
    [InlineData(27_000, 30_000)]
    public void AProportionOfManyTrialsNearsTheNormalInterval(long hits, long trials)
    {
        double ratio = hits / (double)trials;
        double half = 1.96 * Math.Sqrt(ratio * (1 - ratio) / trials);
        (double low, double high) = ExactIntervals.Binomial(hits, trials, 0.95);
        Assert.Equal(ratio - half, low, 0.02 * half);
        Assert.Equal(ratio + half, high, 0.02 * half);
    }

    /// <summary>Rule of three and its factors: −ln 0.05 = 2.9957, 3.51 (97 %), 4.61 (99 %), 5.3 (99.5 %) (encyclopaedia article on the rule of three).</summary>
    [Theory]
    [InlineData(0.95, 2.9957, 0.0001)]
    [InlineData(0.97, 3.51, 0.006)]
    [InlineData(0.99, 4.61, 0.006)]
    [InlineData(0.995, 5.3, 0.006)]
    public void NoEventBoundsTheMean(double level, double bound, double tolerance) => Assert.Equal(bound, ExactIntervals.PoissonUpper(0, level), tolerance);

    /// <summary>One-sided 95 % bounds after some events; computed (chi-square quantiles).</summary>
    [Theory]
    [InlineData(1, 4.74)]
    [InlineData(2, 6.30)]
    [InlineData(5, 10.5)]
    [InlineData(10, 17.0)]
    public void EventsRaiseTheBound(long count, double bound) => Assert.Equal(bound, ExactIntervals.PoissonUpper(count, 0.95), 0.05);

    /// <summary>Exact bound without a failure, 1 − 0.05^(1/n); n = 50, 300, 1000 and 1500 published (JAMA 274 (1995) 1013, citing Hanley and Lippman-Hand 1983).</summary>
    [Theory]
    [InlineData(10, 0.258866)]
    [InlineData(30, 0.095034)]
    [InlineData(50, 0.058155)]
    [InlineData(100, 0.029513)]
    [InlineData(300, 0.009936)]
    [InlineData(1000, 0.002991)]
    [InlineData(1500, 0.001995)]
    public void ZeroFailuresHaveTheirExactBound(long trials, double bound) => Assert.Equal(0.95, ExactIntervals.BinomialTail(1, trials, bound), 3e-4);

    /// <summary>Errors on one of equal nodes that noise on everybody doesn't explain at a corrected p of 0.01; computed from the binomial.</summary>
    [Theory]
    [InlineData(30, 3, 4, true)]
    [InlineData(30, 4, 10, true)]
    [InlineData(30, 5, 14, true)]
    [InlineData(64, 3, 7, true)]
    [InlineData(30, 2, 4, false)]
    [InlineData(30, 3, 5, false)]
    [InlineData(30, 4, 11, false)]
    [InlineData(30, 4, 14, false)]
    public void SoFewErrorsOnOneNodeSuffice(int nodes, int hits, int errors, bool suffices) =>
        Assert.Equal(suffices, nodes * ExactIntervals.BinomialTail(hits, errors, 1.0 / nodes) < 0.01);

    [Fact]
    public void TailsHaveTheirEnds()
    {
        Assert.Equal(1, ExactIntervals.BinomialTail(0, 10, 0.1));
        Assert.Equal(0, ExactIntervals.BinomialTail(11, 10, 0.1));
        Assert.Equal(0, ExactIntervals.BinomialTail(1, 10, 0));
        Assert.Equal(1, ExactIntervals.BinomialTail(10, 10, 1));
        Assert.Equal(1, ExactIntervals.PoissonTail(0, 3));
        Assert.Equal(0, ExactIntervals.PoissonTail(1, 0));
        Assert.Equal(1 - Math.Exp(-2), ExactIntervals.PoissonTail(1, 2), 12);
        Assert.Equal(Math.Pow(0.3, 10), ExactIntervals.BinomialTail(10, 10, 0.3), 12);
    }

    [Fact]
    public void MillionsOfEventsKeepTheirInterval()
    {
        // By the normal approximation, half width 1.96·√k.
        (double low, double high) = ExactIntervals.Poisson(4_000_000, 0.95);
        Assert.InRange(low, 4_000_000 - 3925, 4_000_000 - 3915);
        Assert.InRange(high, 4_000_000 + 3915, 4_000_000 + 3925);
    }
}
