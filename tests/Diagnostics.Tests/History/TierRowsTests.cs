using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

public class TierRowsTests
{
    /// <summary>A full hour.</summary>
    private static readonly Instant Hour = Instant.FromDateTime(new(2026, 1, 7, 9, 0, 0, TimeSpan.Zero));

    private static Report At(int second)
    {
        Report rich = SampleReports.Rich();
        return rich with
        {
            Source = rich.Source with { Start = Hour, End = Hour + TimeSpan.FromSeconds(second), NotSeen = new(0, 0, 0, []) },
            Buses = [rich.Buses[0] with { HeardSeconds = second, LoadMean = 0.25, LoadPeak1s = 0.4, Frames = 10L * second, Errors = new(second / 60, 0, 0, 0, 0, 0) }],
        };
    }

    private static List<(StoreSeries Tier, TrafficRow Row)> Over(int seconds, int step)
    {
        TierRows tiers = new();
        List<(StoreSeries, TrafficRow)> rows = [];
        for (int second = 0; second <= seconds; second += step)
        {
            rows.AddRange(tiers.OnSnapshot(At(second), Hour + TimeSpan.FromSeconds(second)));
        }

        return rows;
    }

    [Theory]
    [InlineData(StoreSeries.Seconds, 7200, 1)]
    [InlineData(StoreSeries.Minutes, 120, 60)]
    [InlineData(StoreSeries.Quarters, 8, 900)]
    [InlineData(StoreSeries.Hours, 2, 3600)]
    public void EveryTierCoversTheWholeTimeOnce(object tier, int count, double seconds)
    {
        TrafficRow[] rows = [.. Over(7200, 1).Where(row => row.Tier == (StoreSeries)tier).Select(row => row.Row)];
        Assert.Equal(count, rows.Length);
        Assert.All(rows, row => Assert.Equal(seconds, row.Seconds, 1e-6));
        Assert.Equal(Enumerable.Range(0, count).Select(n => Hour + TimeSpan.FromSeconds(n * seconds)), rows.Select(row => row.Start));
        Assert.Equal(72_000, rows.Sum(row => row.Frames));
        Assert.Equal(120, rows.Sum(row => row.Errors));
        Assert.All(rows, row => Assert.Equal(0.25, row.LoadMean!.Value, 1e-6));
    }

    /// <summary>In the demo a snapshot comes about once a minute: all of it was heard, and each minute is told by one tier.</summary>
    [Fact]
    public void SnapshotsThatAreAboutAMinuteApartLeaveNothingUnheard()
    {
        TierRows tiers = new();
        List<(StoreSeries Tier, TrafficRow Row)> rows = [];
        int second = 37;
        foreach (int step in new[] { 0, 70, 45, 61, 59, 90, 52, 58, 63, 60, 48, 75, 300, 30 })
        {
            second += step;
            rows.AddRange(tiers.OnSnapshot(At(second), Hour + TimeSpan.FromSeconds(second)));
        }

        TrafficRow[] minutes = [.. rows.Where(row => row.Tier == StoreSeries.Minutes).Select(row => row.Row)];
        Assert.Equal(minutes.Length + rows.Count(row => row.Tier == StoreSeries.Quarters), rows.Count);
        Assert.Equal(Hour + TimeSpan.FromSeconds(37), minutes[0].Start);
        Assert.All(minutes.Zip(minutes.Skip(1)), pair => Assert.Equal(pair.First.End, pair.Second.Start));
        Assert.All(minutes, row => Assert.Equal(row.Seconds, row.HeardSeconds!.Value, 1e-6));
    }

    [Fact]
    public void SnapshotsThatAreMinutesApartGiveNoSecondsAndStillEveryMinute()
    {
        List<(StoreSeries Tier, TrafficRow Row)> rows = Over(7200, 300);
        Assert.DoesNotContain(rows, row => row.Tier == StoreSeries.Seconds);
        Assert.Equal(24, rows.Count(row => row.Tier == StoreSeries.Minutes));
        Assert.Equal(8, rows.Count(row => row.Tier == StoreSeries.Quarters));
    }
}
