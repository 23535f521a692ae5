using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

public class BitRateEstimateTests
{
    /// <summary>Frames of 55 to 131 bits; a third follow their predecessor back to back, the others after a pause. Stamps are rounded to the adapter's resolution.</summary>
    private static int? Estimate(int rate, double jitterSeconds, double resolutionSeconds, int seed = 1)
    {
        Random chance = new(seed);
        BitRateEstimate estimate = new();
        double time = 0;
        long last = 0;
        for (int i = 0; i < 20_000; i++)
        {
            int bits = 55 + (chance.Next(10) < 6 ? 76 : chance.Next(76));
            time += chance.Next(3) == 0 ? 0 : chance.NextDouble() * 0.02;
            time += bits / (double)rate;
            double stamped = Math.Round((time + (jitterSeconds * chance.NextDouble())) / resolutionSeconds) * resolutionSeconds;
            long now = Math.Max(last, (long)(stamped * 1e9));
            estimate.Add(bits, now - last);
            last = now;
        }

        return estimate.BitRate;
    }

    [Theory]
    [InlineData(10_000)]
    [InlineData(20_000)]
    [InlineData(50_000)]
    [InlineData(100_000)]
    [InlineData(125_000)]
    [InlineData(250_000)]
    [InlineData(500_000)]
    [InlineData(800_000)]
    [InlineData(1_000_000)]
    public void AStandardRateIsFoundFromHardwareStamps(int rate) => Assert.Equal(rate, Estimate(rate, 1e-6, 1e-6));

    [Theory]
    [InlineData(125_000)]
    [InlineData(250_000)]
    [InlineData(500_000)]
    [InlineData(1_000_000)]
    public void CoarseStampsNeverGiveAWrongRate(int rate)
    {
        for (int seed = 0; seed < 8; seed++)
        {
            Assert.True(Estimate(rate, 0, 1e-3, seed) is not int given || given == rate, $"seed {seed} at a resolution of 1 ms");
            Assert.True(Estimate(rate, 0.5e-3, 1e-6, seed) is not int other || other == rate, $"seed {seed} with half a millisecond of jitter");
            Assert.True(Estimate(rate, 0, 125e-6, seed) is not int third || third == rate, $"seed {seed} at a resolution of 125 µs");
        }
    }

    [Fact]
    public void StampsThatWereMadeUpAtEqualStepsGiveNone()
    {
        // A frame each millisecond, most of them about 125 bits long: it looks like a full bus of 125 kbit/s.
        BitRateEstimate estimate = new();
        for (int i = 0; i < 17_000; i++)
        {
            estimate.Add(120 + (i % 11), 1_000_000);
        }

        Assert.Null(estimate.BitRate);
    }

    [Fact]
    public void ABusThatIsNeverBusyGivesNone()
    {
        BitRateEstimate estimate = new();
        for (int i = 0; i < 100_000; i++)
        {
            estimate.Add(70, 39_000_000 + (i % 1000));
        }

        Assert.Null(estimate.BitRate);
    }
}
