using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class LoadDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(30);

    private static Replayed Loaded(double ratio, TimeSpan length, (TimeSpan, TimeSpan)[]? lost = null) =>
        Of(Library(new HighLoad(ratio) { Start = Begin, End = Begin + length }), Begin + length + Seconds(15), lost);

    [Fact]
    public void EightyPercentIsAWarning()
    {
        JsonElement high = Loaded(0.82, Seconds(20)).The("bus.load-high");
        Assert.Equal("warning", Severity(high));
        Assert.InRange(SecondsOf(high, "start"), 30, 32);
        Assert.InRange(SecondsOf(high, "raised"), 40, 42);
        Assert.InRange(SecondsOf(high, "end"), 48, 53);
    }

    [Fact]
    public void NearlyFullIsAFault() => Assert.Equal("fault", Severity(Loaded(1.0, Seconds(25)).The("bus.load-high")));

    [Fact]
    public void SixtyPercentIsNone() => Assert.False(Loaded(0.62, Seconds(20)).Has("bus.load-high"));

    [Fact]
    public void EightSecondsAreTooShort() => Assert.False(Loaded(0.82, Seconds(8)).Has("bus.load-high"));

    [Fact]
    public void AFirmwareDownloadDoesNotFillTheBusLongEnough() =>
        Assert.Empty(Of(Library(new FirmwareDownload(6, 16_384) { Start = Begin }), Minutes(3)).Accusations);

    /// <summary>On a slow bus a download takes most of the time; the second time nothing else has shown that it is CANopen (<see cref="RandomSite"/> without heartbeats and people).</summary>
    [Theory]
    [InlineData(Supervision.Heartbeat)]
    [InlineData(Supervision.None)]
    public void ADownloadThatFillsASlowBusForMinutesIsNone(Supervision supervision)
    {
        Site site = RandomSite.Create(10, new() { Nodes = 6, BitRate = 20_000, Supervision = supervision, EventTimers = false, Synchronous = false }) with { Start = Morning, People = new() { Activity = 0 } };
        Replayed replayed = Of(site with { Faults = [new FirmwareDownload(site.Modules[0].Address, 65_536) { Start = Begin }] }, Minutes(5));
        Assert.True(replayed.Bus.GetProperty("loadPeak1s").GetDouble() > 0.75);
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void WhatElseFillsTheBusBesideADownloadIsFound()
    {
        Site site = Library(new FirmwareDownload(6, 60_000) { Start = Begin }, new HighLoad(0.95) { Start = Begin, End = Begin + Seconds(20) });
        Assert.True(Of(site, Begin + Seconds(40)).Has("bus.load-high"));
    }

    [Fact]
    public void LostFramesOnlyLowerTheLoad()
    {
        (TimeSpan, TimeSpan)[] gaps = [.. Enumerable.Range(0, 20).Select(second => (Begin + Seconds(second), Begin + Seconds(second + 0.3)))];
        Assert.False(Loaded(0.82, Seconds(20), gaps).Has("bus.load-high"));
    }
}
