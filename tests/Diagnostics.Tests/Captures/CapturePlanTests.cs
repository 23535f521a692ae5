using Diagnostics.Agent.Captures;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Captures;

public class CapturePlanTests
{
    private static Report At(double second, params FindingReport[] findings)
    {
        Report rich = SampleReports.Rich();
        return rich with { Source = rich.Source with { End = SampleReports.Start + TimeSpan.FromSeconds(second) }, Findings = findings };
    }

    private static FindingReport Finding(double start, double raised, string key = "node.silent/can0/node-5", int count = 1, string severity = "fault") => SampleReports.Rich().Findings[0] with
    {
        Key = key,
        Count = count,
        Severity = severity,
        Start = SampleReports.Start + TimeSpan.FromSeconds(start),
        Raised = SampleReports.Start + TimeSpan.FromSeconds(raised),
    };

    [Fact]
    public void AFindingIsCapturedOnceWhenTheTimeAfterItIsOver()
    {
        CapturePlan plan = new();
        Assert.Empty(plan.OnSnapshot(At(1)));
        Assert.Empty(plan.OnSnapshot(At(5, Finding(3, 5))));
        Assert.Empty(plan.OnSnapshot(At(14, Finding(3, 5))));
        CaptureRequest request = Assert.Single(plan.OnSnapshot(At(15, Finding(3, 5))));
        Assert.Equal((SampleReports.Start + TimeSpan.FromSeconds(5), "node.silent/can0/node-5", false), (request.Time, request.Why, request.IsMark));
        Assert.Equal(SampleReports.Start - TimeSpan.FromSeconds(55), request.From);
        Assert.Empty(plan.OnSnapshot(At(99, Finding(3, 5))));
    }

    /// <summary>Its frames must hold what it was found by, so they begin where it began, as far as that can still be in memory.</summary>
    [Theory]
    [InlineData(1500, 1800, 1500)]
    [InlineData(0, 1800, 1200)]
    [InlineData(1790, 1800, 1740)]
    public void AFindingThatTookLongToBeSureOfIsCapturedFromItsBeginning(double start, double raised, double from)
    {
        CapturePlan plan = new();
        CaptureRequest request = Assert.Single(plan.OnSnapshot(At(raised + 10, Finding(start, raised))));
        Assert.Equal(SampleReports.Start + TimeSpan.FromSeconds(raised), request.Time);
        Assert.Equal(SampleReports.Start + TimeSpan.FromSeconds(from), request.From);
    }

    [Fact]
    public void TheSameFindingWaitsAnHourAndANoteIsNotWorthIt()
    {
        CapturePlan plan = new();
        Assert.Single(plan.OnSnapshot(At(100, Finding(3, 5))));
        Assert.Empty(plan.OnSnapshot(At(1000, Finding(900, 905, count: 2))));
        Assert.Single(plan.OnSnapshot(At(4000, Finding(3900, 3905, count: 3))));
        Assert.Empty(plan.OnSnapshot(At(4100, Finding(4000, 4005, key: "bus.not-seen/can0/bus", severity: "note"))));
    }

    [Fact]
    public void ManyFindingsAtOnceAreLimitedAndMarksAreNot()
    {
        CapturePlan plan = new();
        FindingReport[] many = [.. Enumerable.Range(1, 40).Select(node => Finding(1, 2, key: $"node.silent/can0/node-{node}"))];
        plan.OnMark(SampleReports.Start + TimeSpan.FromSeconds(2), "it just happened");
        IReadOnlyList<CaptureRequest> ready = plan.OnSnapshot(At(20, many));
        Assert.Equal(CapturePlan.MostAnHour, ready.Count(request => !request.IsMark));
        Assert.Equal("it just happened", Assert.Single(ready, request => request.IsMark).Why);
    }

    [Fact]
    public void WhatFindingsMayTakeInADayIsLimitedAndWhatMarksTakeIsNot()
    {
        CapturePlan plan = new();
        CaptureRequest At(double hours, bool isMark = false) => new(SampleReports.Start + TimeSpan.FromHours(hours), "", isMark);
        int taken = 0;
        for (int n = 0; n < 100; n++)
        {
            plan.OnTaken(At(n / 10.0, isMark: true), CaptureFiles.MostBytes);
            int bytes = Math.Min(plan.RoomFor(At(n / 10.0)), 1 << 20);
            plan.OnTaken(At(n / 10.0), bytes);
            taken += bytes;
        }

        Assert.Equal(CapturePlan.MostBytesADay, taken);
        Assert.Equal(0, plan.RoomFor(At(23.9)));
        Assert.Equal(CaptureFiles.MostBytes, plan.RoomFor(At(23.9, isMark: true)));

        // What was taken in the first tenth of an hour is a day old.
        Assert.Equal(1 << 20, plan.RoomFor(At(24)));
        Assert.Equal(CaptureFiles.MostBytes, plan.RoomFor(At(48)));
    }
}
