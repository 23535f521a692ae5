using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Reporting;

public class HeardTimeTests
{
    private static readonly Instant Start = new(1_700_000_000_000_000_000);

    /// <summary>Two interfaces with a frame each 10 ms; the second doesn't hear from 70 s to 100 s.</summary>
    private static Report[] Minutes()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "two", BitRate = 125_000 });
        analyzer.Advance(Start);
        Report[] reports = new Report[2];
        for (int i = 1; i <= 12_000; i++)
        {
            Instant time = Start + TimeSpan.FromMilliseconds(10 * i);
            analyzer.OnFrame(new() { Time = time, Interface = 0, Id = CanId.Base(0x123) });
            if (i == 10_000)
            {
                analyzer.OnNotSeen(new(NotSeenKind.InterfaceDown, 1, Start + TimeSpan.FromSeconds(70), time, 0, "the interface was down"));
            }

            if (i is <= 7_000 or > 10_000)
            {
                analyzer.OnFrame(new() { Time = time, Interface = 1, Id = CanId.Base(0x123) });
            }

            if (i % 6_000 == 0)
            {
                reports[(i / 6_000) - 1] = analyzer.Snapshot();
            }
        }

        return reports;
    }

    [Fact]
    public void EachInterfaceHasItsOwnHeardTime()
    {
        Report last = Minutes()[1];
        Assert.Equal(120, last.Buses[0].HeardSeconds, 0.02);
        Assert.Equal(90, last.Buses[1].HeardSeconds, 0.02);
    }

    [Fact]
    public void TheLoadOfAMinuteWithAGapIsThatOfTheTimeHeard()
    {
        Report[] reports = Minutes();
        double[] loads = [.. Enumerable.Range(0, 2).Select(bus => InMinute(reports[0].Buses[bus], reports[1].Buses[bus]))];

        // The same traffic on both while they heard it.
        Assert.Equal(loads[0], loads[1], 0.01 * loads[0]);

        static double InMinute(BusReport from, BusReport to) =>
            ((to.LoadMean!.Value * to.HeardSeconds) - (from.LoadMean!.Value * from.HeardSeconds)) / (to.HeardSeconds - from.HeardSeconds);
    }
}
