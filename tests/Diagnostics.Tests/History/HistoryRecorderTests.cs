using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

public class HistoryRecorderTests
{
    private static readonly Instant Start = SampleReports.Start;

    /// <summary>A report of a bus with the given totals at a second after the start.</summary>
    private static Report At(double second, double? loadMean = 0.2, double loadPeak = 0.4, long frames = 0, long bitErrors = 0, params FindingReport[] findings)
    {
        Report rich = SampleReports.Rich();
        return rich with
        {
            Source = rich.Source with { End = Start + TimeSpan.FromSeconds(second), NotSeen = new(0, 0, 0, []) },
            Buses = [rich.Buses[0] with { HeardSeconds = second, LoadMean = loadMean, LoadPeak1s = loadPeak, Frames = frames, Errors = new(bitErrors, 0, 0, 0, 0, 0), Nodes = [rich.Buses[0].Nodes[0]] }],
            Findings = findings,
        };
    }

    private static FindingReport Finding() => SampleReports.Rich().Findings[0] with { End = null, Count = 1 };

    [Fact]
    public void AFindingIsKeptWhenItIsRaisedEndsComesBackOrGetsWorse()
    {
        HistoryRecorder recorder = new();
        FindingReport raised = Finding() with { Severity = "warning" };
        Assert.Empty(recorder.OnSnapshot(At(1)).Findings);
        Assert.Equal([raised], recorder.OnSnapshot(At(2, findings: raised)).Findings);
        Assert.Empty(recorder.OnSnapshot(At(3, findings: raised with { Confidence = 0.99 })).Findings);
        FindingReport ended = raised with { End = Start };
        Assert.Equal([ended], recorder.OnSnapshot(At(4, findings: ended)).Findings);
        FindingReport again = raised with { Count = 2 };
        Assert.Equal([again], recorder.OnSnapshot(At(5, findings: again)).Findings);
        FindingReport worse = again with { Severity = "fault" };
        Assert.Equal([worse], recorder.OnSnapshot(At(6, findings: worse)).Findings);
        Assert.Empty(recorder.OnSnapshot(At(7, findings: worse)).Findings);
    }

    /// <summary>A module that takes its fault back and reports it again all the time must not write to the card each second.</summary>
    [Fact]
    public void OneThatIsOverAndGoesOnWithinAnEpisodeIsKeptTwiceAMinuteAtMost()
    {
        HistoryRecorder recorder = new();
        FindingReport open = Finding() with { Count = 2 };
        FindingReport over = open with { End = Start };
        recorder.OnSnapshot(At(1, findings: open));
        int kept = Enumerable.Range(2, 600).Sum(second => recorder.OnSnapshot(At(second, findings: second % 2 == 0 ? over : open)).Findings.Count);
        Assert.InRange(kept, 10, 21);
        Assert.Equal([open], recorder.OnSnapshot(At(700, findings: open)).Findings);
        Assert.Equal([over], recorder.OnSnapshot(At(701, findings: over)).Findings);
    }

    [Fact]
    public void EachMeasuredMinuteIsKeptOnceWhenItIsOver()
    {
        HistoryRecorder recorder = new();
        Instant first = Start;
        Instant second = Start + TimeSpan.FromMinutes(1);
        Assert.Empty(recorder.OnSnapshot(Measured(("supplyVolts", null))).Measured);
        MeasuredRow row = Assert.Single(recorder.OnSnapshot(Measured(("supplyVolts", first), ("airCelsius", null))).Measured);
        Assert.Equal(first, row.Start);
        Assert.Equal([new MeasuredMinute("supplyVolts", 23, 24, 25)], row.Values);

        // The air is measured rarely, so its minute is over later.
        Assert.Equal("airCelsius", Assert.Single(Assert.Single(recorder.OnSnapshot(Measured(("supplyVolts", first), ("airCelsius", first))).Measured).Values).Quantity);
        Assert.Empty(recorder.OnSnapshot(Measured(("supplyVolts", first), ("airCelsius", first))).Measured);
        Assert.Equal(second, Assert.Single(recorder.OnSnapshot(Measured(("supplyVolts", second), ("airCelsius", first))).Measured).Start);

        static Report Measured(params (string Quantity, Instant? Minute)[] quantities) => At(1) with
        {
            Measurements = [.. quantities.Select(one => new QuantityReport(
                one.Quantity, "V", Start, Start, 24, 23, 24, 25, 1, 0.01, null, null, one.Minute is { } minute ? new SpanReport(minute, 23, 24, 25) : null)
            {
                Minutes = one.Minute is { } over ? [new(over, 23, 24, 25)] : [],
            })],
        };
    }

    [Fact]
    public void OtherChangesOfAFindingAreKeptOnceAMinute()
    {
        HistoryRecorder recorder = new();
        recorder.OnSnapshot(At(1, findings: Finding()));
        FindingReport surer = Finding() with { Confidence = 0.5 };
        Assert.Empty(recorder.OnSnapshot(At(59, findings: surer)).Findings);
        Assert.Equal([surer], recorder.OnSnapshot(At(60, findings: surer)).Findings);
        Assert.Empty(recorder.OnSnapshot(At(120, findings: surer)).Findings);
    }

    [Fact]
    public void AFindingThatLastsForDaysIsKeptAboutOnceAnHour()
    {
        HistoryRecorder recorder = new();
        int kept = 0;
        for (int minute = 0; minute < 3 * 1440; minute++)
        {
            FindingReport finding = Finding() with { Raised = Start, Summary = $"{minute} errors." };
            kept += recorder.OnSnapshot(At(60 * minute, findings: finding)).Findings.Count;
        }

        // An hour of minutes, then a twelfth of its age each: 12 ln(12) times to half a day, and hourly from there.
        Assert.InRange(kept, 72, 72 + 60);
    }

    [Fact]
    public void AMinuteRowHoldsWhatThatMinuteAdded()
    {
        HistoryRecorder recorder = new();
        recorder.OnSnapshot(At(0, loadMean: null, loadPeak: 0));
        Assert.Empty(recorder.OnSnapshot(At(30, frames: 500, bitErrors: 1)).Minutes);
        Assert.Equal(
            [new TrafficRow(Start, 60, "can0", 0.2, 0.4, 1000, 2, 1) { HeardSeconds = 60, Bits = 0, ErrorEpisodes = 0, Restarts = 0 }],
            recorder.OnSnapshot(At(60, frames: 1000, bitErrors: 2)).Minutes);

        // The mean since the start went from 0.2 to 0.3, so the second minute alone had 0.4; the peak of all the time did not rise, and of the seconds that ended since, that of 0.6 is the busiest.
        recorder.OnSnapshot(At(90, loadMean: 0.2, frames: 1200, bitErrors: 2));
        Report at120 = At(120, loadMean: 0.3, frames: 3000, bitErrors: 2);
        BusySecond[] busiest = [new(Start + TimeSpan.FromSeconds(60), 0.7), new(Start + TimeSpan.FromSeconds(61), 0.6), new(Start + TimeSpan.FromSeconds(120), 0.1)];
        TrafficRow second = Assert.Single(recorder.OnSnapshot(at120 with { Buses = [at120.Buses[0] with { BusiestSeconds = busiest }] }).Minutes);
        Assert.Equal(0.4, second.LoadMean!.Value, 9);
        Assert.Equal(0.6, second.LoadPeak!.Value, 9);
        Assert.Equal(2000, second.Frames);
        Assert.Equal(0, second.Errors);
    }

    /// <summary>In the demo snapshots are a minute apart; by hand, 125 bits a millisecond at 125 kbit/s are a full bus, so 300 such frames make a second of 0.3.</summary>
    [Fact]
    public void TheBusiestSecondOfAMinuteIsToldThoughSnapshotsAreAMinuteApartAndAnEarlierOneWasBusier()
    {
        Analyzer analyzer = new(new() { SourceKind = "simulated", SourceName = "a test", BitRate = 125_000, Protocol = "none" });
        analyzer.OnInterface(0, new("can0") { BitRate = 125_000 });
        HistoryRecorder recorder = new();
        List<TrafficRow> rows = [];
        CanFrame frame = CanFrame.Classic(default, CanId.Base(0x555), [0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55, 0x55]);
        (int Second, int Frames)[] busy = [(20, 900), (90, 600), (150, 300)];
        for (int second = 0; second < 180; second++)
        {
            int frames = busy.FirstOrDefault(one => one.Second == second) is { Frames: > 0 and int many } ? many : 100;
            for (int index = 1; index <= frames; index++)
            {
                CanFrame next = frame with { Time = Start + TimeSpan.FromSeconds(second + (index / (double)frames)) };
                analyzer.OnFrame(in next);
            }

            if (second % 60 == 59)
            {
                analyzer.Advance(Start + TimeSpan.FromSeconds(second + 1));
                rows.AddRange(recorder.OnSnapshot(analyzer.Snapshot()).Minutes);
            }
        }

        // The first snapshot begins the log; then two minutes follow, whose busiest seconds are 2/3 and 1/3 of the busiest of all.
        double all = analyzer.Snapshot().Buses[0].LoadPeak1s!.Value;
        Assert.Equal([2 / 3.0, 1 / 3.0], rows.Select(row => row.LoadPeak!.Value / all), (expected, actual) => Math.Abs(expected - actual) < 0.005);
        Assert.All(rows, row => Assert.InRange(row.LoadMean!.Value / all, 1 / 9.0, 0.13));
    }

    [Fact]
    public void TimeThatWasNotHeardIsNotAveragedIn()
    {
        TrafficMeter meter = new();
        meter.Observe(At(60, loadMean: 0.2));
        Report later = At(120, loadMean: 0.3);
        later = later with { Buses = [later.Buses[0] with { HeardSeconds = 90 }] };

        // Heard: 60 s at 0.2 and 30 s more; 0.3 × 90 − 0.2 × 60 = 15 over 30 s.
        Assert.Equal(0.5, Assert.Single(meter.Close(later, Start + TimeSpan.FromSeconds(60), 60)).LoadMean!.Value, 9);
    }

    [Fact]
    public void WhatRatesAreCountedOverAddsUpInARowAndIsNotKnownWhereErrorsCannotBeSeen()
    {
        TrafficMeter meter = new();
        Report With(double second, double bits, long? errors, int restarts)
        {
            Report report = At(second);
            BusReport bus = report.Buses[0];
            return report with { Buses = [bus with { BitsHeard = bits, ErrorEpisodes = errors, Nodes = [bus.Nodes[0] with { RestartsUnexplained = restarts }] }] };
        }

        meter.Observe(With(60, 1e6, null, 1));
        TrafficRow row = Assert.Single(meter.Close(With(120, 3e6, 2, 1), Start + TimeSpan.FromSeconds(60), 60));
        Assert.Equal((60.0, 2e6, 2L, 0L), (row.HeardSeconds, row.Bits, row.ErrorEpisodes, row.Restarts));
        TrafficRow next = Assert.Single(meter.Close(With(180, 4e6, null, 4), Start + TimeSpan.FromSeconds(120), 60));
        Assert.Null(next.ErrorEpisodes);
        Assert.Equal(3, next.Restarts);

        // A part that isn't known makes the whole not known.
        Assert.Equal((120.0, 3e6, null, 3L), (row.With(next).HeardSeconds, row.With(next).Bits, row.With(next).ErrorEpisodes, row.With(next).Restarts));
    }

    [Fact]
    public void WithoutABitRateThereIsNoLoadButTheRestIsCounted()
    {
        HistoryRecorder recorder = new();
        recorder.OnSnapshot(At(0, loadMean: null));
        Report at60 = At(60, loadMean: null, frames: 10);
        at60 = at60 with { Buses = [at60.Buses[0] with { LoadPeak1s = null }] };
        TrafficRow row = Assert.Single(recorder.OnSnapshot(at60).Minutes);
        Assert.Null(row.LoadMean);
        Assert.Null(row.LoadPeak);
        Assert.Equal(10, row.Frames);
    }

    [Fact]
    public void WhereSnapshotsAreFurtherApartThanAMinuteTheRowSaysHowLongItIs()
    {
        HistoryRecorder recorder = new();
        recorder.OnSnapshot(At(30));
        Assert.Equal(150, Assert.Single(recorder.OnSnapshot(At(200)).Minutes).Seconds);
    }

    [Fact]
    public void AClockThatStepsBackMakesNoRow()
    {
        HistoryRecorder recorder = new();
        recorder.OnSnapshot(At(180));
        Assert.Empty(recorder.OnSnapshot(At(60)).Minutes);
        Assert.Single(recorder.OnSnapshot(At(125)).Minutes);
    }

    [Fact]
    public void WhatHappensToANodeIsKept()
    {
        HistoryRecorder recorder = new();
        Report first = At(10);
        NodeReport node = first.Buses[0].Nodes[0];
        Report With(double second, NodeReport changed)
        {
            Report report = At(second);
            return report with { Buses = [report.Buses[0] with { Nodes = [changed] }] };
        }

        NodeEventKind[] Kinds(Report report) => recorder.OnSnapshot(report).NodeEvents.Select(happened => happened.Kind).ToArray();
        Assert.Equal([NodeEventKind.Appeared, NodeEventKind.State], Kinds(first));
        Assert.Empty(Kinds(With(11, node)));
        Assert.Equal([NodeEventKind.Restarted], Kinds(With(12, node with { Restarts = 1 })));
        Assert.Equal([NodeEventKind.State], Kinds(With(13, node with { Restarts = 1, State = "stopped" })));
        Assert.Equal([NodeEventKind.Silent], Kinds(With(14, node with { Restarts = 1, State = "stopped", Present = false })));
        Assert.Empty(Kinds(With(15, node with { Restarts = 1, State = "stopped", Present = false })));
        Assert.Equal([NodeEventKind.Returned], Kinds(With(16, node with { Restarts = 1, State = "stopped" })));
    }

    /// <summary>A second device on the address hides the silence of the first: from then on presence can't be told, until one of them is gone.</summary>
    [Fact]
    public void ThatPresenceCannotBeToldIsKept()
    {
        HistoryRecorder recorder = new();
        NodeReport node = At(10).Buses[0].Nodes[0] with { FirstHeard = At(10).Source.End!.Value };
        Assert.Empty(Of(10, true));
        Assert.Equal([(NodeEventKind.CannotTell, At(11).Source.End!.Value)], Of(11, null));
        Assert.Empty(Of(12, null));
        Assert.Equal([(NodeEventKind.CanTell, At(13).Source.End!.Value)], Of(13, true));

        // Of who never had a rhythm it holds from the beginning, but is only known when a rhythm would have been learned: five minutes.
        recorder = new();
        Assert.Empty(Of(10, null));
        Assert.Empty(Of(309, null));
        Assert.Equal([(NodeEventKind.CannotTell, node.FirstHeard)], Of(310, null));
        Assert.Equal([(NodeEventKind.Silent, node.LastHeard)], Of(400, false));
        Assert.Equal([(NodeEventKind.Returned, At(401).Source.End!.Value)], Of(401, true));

        (NodeEventKind, Instant)[] Of(double second, bool? present)
        {
            Report report = At(second);
            report = report with { Buses = [report.Buses[0] with { Nodes = [node with { Present = present }] }] };
            return [.. recorder.OnSnapshot(report).NodeEvents.Where(happened => happened.Kind is not (NodeEventKind.Appeared or NodeEventKind.State)).Select(happened => (happened.Kind, happened.Time))];
        }
    }
}
