using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using Diagnostics.Tests.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

/// <summary>The same traffic gives the same document, however often time is told between.</summary>
public class SameReportTests
{
    private static byte[] ReportOf(Recorder recorder, TimeSpan? step)
    {
        Analyzer analyzer = new(new() { SourceKind = "trace", SourceName = "test" });
        analyzer.OnInterface(0, recorder.Facts[0]);
        Instant told = recorder.All[0].Time;
        foreach (CanFrame frame in recorder.All)
        {
            for (; step is TimeSpan by && told < frame.Time; told += by)
            {
                analyzer.Advance(told);
            }

            analyzer.OnFrame(frame);
        }

        return ReportJson.ToUtf8(analyzer.Snapshot());
    }

    [Fact]
    public void TellingTimeInStepsOfAnySizeChangesNothing()
    {
        Recorder recorder = new();
        new SiteSimulation(Library(
            new BadDrop(9, 2e-3),
            new DuplicateAddress(7) { Start = Minutes(1) },
            new NodeWithoutPower(5) { Start = Minutes(2), End = Minutes(3) },
            new SiteWithoutPower { Start = Minutes(4), End = Minutes(4.5) },
            new WornContact(1, 1, 3)) with { People = new() { Activity = 8 } }).Run(recorder, Minutes(6));
        byte[] report = ReportOf(recorder, null);
        Assert.Equal(report, ReportOf(recorder, null));
        Assert.Equal(report, ReportOf(recorder, TimeSpan.FromMilliseconds(1000)));
        Assert.Equal(report, ReportOf(recorder, TimeSpan.FromMilliseconds(170)));
    }

    [Fact]
    public void LookingAtTheReportChangesNothing()
    {
        Recorder recorder = new();
        new SiteSimulation(Library(new NodeWithoutPower(5) { Start = Minutes(1), End = Minutes(2) })).Run(recorder, Minutes(3));
        Analyzer looked = new(new() { SourceKind = "trace", SourceName = "test" });
        Analyzer left = new(new() { SourceKind = "trace", SourceName = "test" });
        foreach (CanFrame frame in recorder.All)
        {
            looked.OnFrame(frame);
            looked.Snapshot();
            left.OnFrame(frame);
        }

        Assert.Equal(ReportJson.ToUtf8(left.Snapshot()), ReportJson.ToUtf8(looked.Snapshot()));
    }
}
