using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class NotSeenDetectorTests
{
    [Fact]
    public void FewLostFramesAreANote()
    {
        Replayed replayed = Of(Library(), Minutes(4), [(Minutes(2), Minutes(2) + Seconds(0.6))]);
        JsonElement lost = replayed.The("bus.not-seen");
        Assert.Equal("note", Severity(lost));
        Assert.InRange(SecondsOf(lost, "start"), 120, 122);
        Assert.True(replayed.Report.GetProperty("source").GetProperty("notSeen").GetProperty("kernelDropped").GetInt64() > 0);
    }

    [Fact]
    public void MoreThanAHundredthIsAWarning() =>
        Assert.Equal("warning", Severity(Of(Library(new LostFrames(0.05)), Minutes(2)).The("bus.not-seen")));

    [Fact]
    public void LessThanAHundredthStaysANote() =>
        Assert.Equal("note", Severity(Of(Library(), Minutes(4), [(Minutes(3), Minutes(3) + Seconds(1))]).The("bus.not-seen")));

    [Fact]
    public void AWholeRecordHasNone()
    {
        Replayed replayed = Of(Library(), Minutes(1));
        Assert.Empty(replayed.Findings);
        Assert.Empty(replayed.Report.GetProperty("source").GetProperty("notSeen").GetProperty("gaps").EnumerateArray());
    }

    [Fact]
    public void AnInterfaceThatWasDownForLongIsAWarning()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        analyzer.Advance(Morning);
        analyzer.OnInterface(0, new("can0") { BitRate = 125_000 });
        analyzer.Advance(Morning + Seconds(5));
        analyzer.OnNotSeen(new(NotSeenKind.InterfaceDown, 0, Morning + Seconds(2), Morning + Seconds(5), 0, "the interface was down"));
        analyzer.Advance(Morning + Seconds(7));
        FindingReport lost = Assert.Single(analyzer.Snapshot().Findings);
        Assert.Equal("bus.not-seen", lost.Finding);
        Assert.Equal("warning", lost.Severity);
    }
}
