using Diagnostics.Can;
using Diagnostics.Core.Counting;

namespace Diagnostics.Tests.Counting;

/// <summary>125 kbit/s: 8,000 ns a bit, 125,000 bits a second, 12,500 a tenth.</summary>
public class LoadMeterTests
{
    private const double Bit = 8000;
    private const long Second = 1_000_000_000;

    /// <summary>Frames back to back; their ends are the stamps.</summary>
    private static LoadMeter Saturated(int bits, double seconds, double squeeze = 1)
    {
        LoadMeter meter = new();
        for (long i = 1; i * bits * Bit / squeeze < seconds * Second; i++)
        {
            meter.Add(new((long)(i * bits * Bit / squeeze)), bits, Bit);
        }

        return meter;
    }

    [Theory]
    [InlineData(125)]
    [InlineData(111)]
    [InlineData(47)]
    [InlineData(135)]
    public void ASaturatedBusShowsExactlyOneInBothPeaks(int bits)
    {
        (double second, double tenth) = Saturated(bits, 4.7).Peaks();
        Assert.Equal(125_000, second, 1e-3);
        Assert.Equal(12_500, tenth, 1e-3);
    }

    [Fact]
    public void StampsThatCannotBeShowMoreThanOne()
    {
        (double second, double tenth) = Saturated(100, 3, squeeze: 2).Peaks();
        Assert.InRange(second, 249_000, 251_000);
        Assert.InRange(tenth, 24_900, 25_200);
    }

    [Fact]
    public void AFrameThatCrossesAnEdgeCountsInBothWindowsByItsParts()
    {
        LoadMeter meter = new();
        meter.Add(new((long)(0.95 * Second)), 1000, Bit);
        meter.Add(new(Second + (long)(30 * Bit)), 100, Bit);
        meter.AdvanceTo(new(3 * Second));
        Assert.Equal(1100, meter.TotalBits);
        Assert.Equal(1070, meter.Peaks().Second, 1e-6);
    }

    [Fact]
    public void WindowsAreAlignedToWholeSecondsAndTenths()
    {
        // Half a second of traffic on each side of a whole second: neither second is more than half full, the tenths are full.
        LoadMeter meter = new();
        for (int i = 0; i < 1000; i++)
        {
            meter.Add(new((Second / 2) + ((i + 1) * 1_000_000)), 125, Bit);
        }

        meter.AdvanceTo(new(5 * Second));
        Assert.Equal(62_500, meter.Peaks().Second, 1e-3);
        Assert.Equal(12_500, meter.Peaks().Tenth, 1e-3);
    }

    [Fact]
    public void TheBusiestSecondSinceAnyMomentIsToldAndOneThatIsStillOpenIsNot()
    {
        LoadMeter meter = new();
        int[] bits = [50, 400, 100, 300, 300, 20, 0, 70];
        for (int second = 0; second < bits.Length; second++)
        {
            meter.Add(new((second * Second) + (Second / 2)), bits[second], Bit);
            meter.AdvanceTo(new((second + 1) * Second));
            foreach (int open in new[] { 0, 1 })
            {
                // Half a second later another second is open, and nothing came in it yet.
                IReadOnlyList<(Instant End, double Bits)> told = meter.BusiestSeconds(new(((second + 1) * Second) + (open * Second / 2)));
                for (int since = 0; since <= second; since++)
                {
                    Assert.Equal(bits[since..(second + 1)].Max(), told.First(one => one.End.Nanoseconds > since * Second).Bits);
                }

                Assert.All(told, one => Assert.True(one.End.Nanoseconds <= (second + 1) * Second));
            }

            Assert.DoesNotContain(meter.BusiestSeconds(new(second * Second)), one => one.End.Nanoseconds > second * Second);
        }
    }

    [Fact]
    public void ALoadThatOnlyFallsKeepsSoManySecondsAndNoMore()
    {
        LoadMeter meter = new();
        for (int second = 0; second < 1000; second++)
        {
            meter.Add(new((second * Second) + (Second / 2)), 2000 - second, Bit);
        }

        Assert.InRange(meter.BusiestSeconds(new(1000 * Second)).Count, 200, Core.Limits.BusiestSeconds);
    }

    [Fact]
    public void AQuietHourBetweenDoesNotCarryOver()
    {
        LoadMeter meter = new();
        meter.Add(new(Second / 2), 100, Bit);
        meter.Add(new((3600 * Second) + (Second / 2)), 100, Bit);
        meter.AdvanceTo(new(3605 * Second));
        Assert.Equal(100, meter.Peaks().Second);
        Assert.Equal(100, meter.Peaks().Tenth);
    }

    [Fact]
    public void BitsLostToErrorsAreKeptApart()
    {
        LoadMeter meter = new();
        meter.AddError(70);
        Assert.Equal(0, meter.TotalBits);
        Assert.Equal(70, meter.ErrorBits);
    }

    [Fact]
    public void WithoutABitRateAFrameCountsWholeWhereItEnds()
    {
        LoadMeter meter = new();
        meter.Add(new(Second + 10), 100, 0);
        meter.AdvanceTo(new(4 * Second));
        Assert.Equal(100, meter.Peaks().Tenth);
    }
}
