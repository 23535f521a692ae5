using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

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

    [Fact]
    public void IdentifiersBeyondTheTableAreCountedInTheReport()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        analyzer.OnInterface(0, new("can0"));
        for (uint i = 0; i < Limits.Identifiers + 7; i++)
        {
            analyzer.OnFrame(CanFrame.Classic(new(i * 1_000_000L), CanId.Extended(i), [1]));
        }

        BusReport bus = Assert.Single(analyzer.Snapshot().Buses);
        Assert.Equal(7, bus.UntrackedFrames);
        Assert.Equal(Limits.Identifiers, bus.Identifiers.Count);
    }
}
