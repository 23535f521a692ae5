using System.Globalization;
using System.Text;
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

    /// <summary>
    /// Heartbeats a second apart that stop for a while, and go on in the same phases (the clock was set) or each in another (nothing was sent). Two nodes are too few to prove
    /// the latter.
    /// </summary>
    private static Replayed Paused(int nodes, double pause, double shift = 0)
    {
        StringBuilder log = new();
        for (int beat = 0; beat < 240; beat++)
        {
            for (int node = 1; node <= nodes; node++)
            {
                double time = 1_700_000_000 + beat + (0.137 * node) + (beat < 120 ? 0 : pause + (shift * node));
                log.Append(CultureInfo.InvariantCulture, $"({time:0.000000}) can0 {0x700 + node:X3}#05\n");
            }
        }

        return OfBytes(Encoding.ASCII.GetBytes(log.ToString()), "--bit-rate", "125000");
    }

    private static double ValueOf(JsonElement finding, string name) =>
        finding.GetProperty("measurements").EnumerateArray().Single(measured => measured.GetProperty("name").GetString() == name).GetProperty("value").GetDouble();

    [Fact]
    public void WhereAStepCannotBeToldFromSilenceTheFindingDoesNotSayStepped()
    {
        Replayed replayed = Paused(2, 64.4, 0.19);
        JsonElement doubt = replayed.The("bus.not-seen");
        Assert.Equal("note", Severity(doubt));
        Assert.Equal(0.5, doubt.GetProperty("confidence").GetDouble());
        Assert.StartsWith("This recorder's clock stepped forward, or the bus was silent, for 65 s in all: which of the two can't be told", doubt.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.InRange(ValueOf(doubt, "unknownTime"), 64, 66);
        Assert.Single(doubt.GetProperty("measurements").EnumerateArray());
        Assert.InRange(SecondsOf(doubt, "start") - SecondsOf(doubt, "end"), -66, -64);
        Assert.InRange(replayed.Bus.GetProperty("heardSeconds").GetDouble(), 238, 241);
        Assert.DoesNotContain("file's stamps", doubt.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void AStepThatWasTakenOutSaysThatTimesAreNotTheStampsOfTheFile()
    {
        JsonElement step = Paused(4, 3600).The("bus.not-seen");
        Assert.Equal(1, step.GetProperty("confidence").GetDouble());
        Assert.Equal(
            "This recorder's clock stepped; how long anything was silent around that moment isn't known. From a step of its clock on, times here aren't the file's stamps: a step forward is taken off them, a step back put on.",
            step.GetProperty("summary").GetString());
    }

    [Fact]
    public void SilenceThatIsToldAsSuchLeavesNothingUnseen() => Assert.DoesNotContain("bus.not-seen", Paused(4, 64.4, 0.19).Kinds);

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
