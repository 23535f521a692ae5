using Diagnostics.Core;

namespace Diagnostics.Tests;

public sealed class AnalyzerTests
{
    private const long Second = 1_000_000_000;

    [Theory]
    [InlineData(600, 1)]
    [InlineData(601, 60)]
    [InlineData(86_400, 60)]
    [InlineData(86_401, 3_600)]
    [InlineData(30 * 86_400, 3_600)]
    [InlineData((30 * 86_400) + 1, 86_400)]
    public void LongerSilenceTicksLessOften(int silentSeconds, int stepSeconds)
    {
        const long Midnight = 1_767_744_000 * Second;
        Assert.Equal(Midnight + (stepSeconds * Second), Analyzer.NextTick(Midnight, TimeSpan.FromSeconds(silentSeconds)));
    }

    [Fact]
    public void LeapOverAllTimeThatStampsCanTellTakesFewTicks()
    {
        const long Lowest = -(1L << 60);
        const long Highest = (1L << 62) - 1;
        int ticks = 0;
        for (long tick = Lowest; tick < Highest; tick = Analyzer.NextTick(tick, TimeSpan.FromSeconds((tick - Lowest) / Second)))
        {
            Assert.True(++ticks < 100_000);
        }

        Assert.True(ticks > 60_000);
    }
}
