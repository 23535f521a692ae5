using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

/// <summary>One test for each thing that the contract calls never a fault. Each happens in the simulation and goes through the command.</summary>
public class NeverAFaultTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    [Fact]
    public void AUnitReplaced()
    {
        Replayed replayed = Of(Library(new ModuleReplaced(5, 77_123) { Start = Begin, End = Begin + Seconds(50) }) with { WarmUp = TimeSpan.Zero }, Minutes(8));

        // It was away, which is true, and is over.
        Assert.Equal(["node.silent/can0/node-5"], replayed.Accusations);
        Assert.True(HasEnded(replayed.The("node.silent", 5)));
        Assert.Equal("note", Severity(replayed.The("node.replaced", 5)));
    }

    [Fact]
    public void AUnitReturning()
    {
        Replayed replayed = Of(Library(new NodeWithoutPower(5) { Start = Begin, End = Begin + Seconds(50) }), Minutes(8));
        Assert.Equal(["node.silent"], replayed.Kinds);
        Assert.True(HasEnded(replayed.The("node.silent", 5)));
    }

    [Fact]
    public void ARestartThatWasCommanded()
    {
        Assert.Empty(Of(Library(new CommandedReset(5) { Start = Begin }), Minutes(4)).Findings);
        Assert.Empty(Of(Library(new CommandedReset(0) { Start = Begin }), Minutes(4)).Findings);
    }

    [Theory]
    [InlineData(10_000)]
    [InlineData(3000)]
    [InlineData(200)]
    [InlineData(0)]
    public void AHeartbeatTimeThatWasChangedByAWrite(int milliseconds) =>
        Assert.Empty(Of(Library(new HeartbeatWritten(5, milliseconds) { Start = Begin }), Minutes(6)).Findings);

    [Fact]
    public void AHeartbeatTimeThatWasWrittenAndThatARestartTakesBack()
    {
        // Stored 10 s; written 1 s; a reset brings the stored one back.
        Site site = WithModule(Library(new HeartbeatWritten(5, 1000) { Start = Seconds(10) }, new CommandedReset(5) { Start = Begin }), 5, module => module with { HeartbeatMilliseconds = 10_000 });
        Assert.Empty(Of(site, Minutes(8)).Findings);
    }

    [Theory]
    [InlineData(1000)]
    [InlineData(7000)]
    public void AnEventTimerOnTopOfSendingOnChange(int milliseconds)
    {
        Site site = WithModules(Library(), module => module with { EventTimerMilliseconds = milliseconds, HeartbeatMilliseconds = 0 }) with { People = new() { Activity = 6 } };
        Assert.Empty(Of(site, Minutes(15)).Accusations);
    }

    /// <summary>Some timers go on whatever else is sent (1800h sub 5, CiA 301, leaves that open), and what changes may have a clock of its own: here a contactor that is switched every minute.</summary>
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void AnEventTimerThatRunsFreelyOnTopOfSendingOnChange(bool hasHeartbeat)
    {
        TextTrace trace = new TextTrace().Heartbeats(3560, hasHeartbeat ? [1, 2, 3, 4, 5, 6] : [1, 2, 3, 4, 6]);
        double nextTimer = 0;
        for (int minute = 0; minute < 60; minute++)
        {
            double switched = 20.4 + (minute * 60.0018);
            for (; nextTimer < switched; nextTimer += 5)
            {
                trace.Add(nextTimer + (nextTimer % 0.7 * 1e-4), 0x185, minute & 1);
            }

            trace.Add(switched, 0x206, ~minute & 1).Add(switched + 0.003, 0x286, ~minute & 1).Add(switched + 0.025, 0x185, ~minute & 1);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    [Fact]
    public void FramesRepeatedForWantOfAnAcknowledgeTakenForADuplicate()
    {
        Replayed replayed = Of(Library(new SenderAlone(5) { Start = Begin, End = Begin + Seconds(10) }), Minutes(4));
        Assert.True(replayed.Has("bus.no-acknowledge", 5));
        Assert.False(replayed.Has("node.duplicate-address"));
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(0.5)]
    [InlineData(2.0)]
    [InlineData(5.0)]
    public void ATraceThatStartsInMidTraffic(double secondsBefore)
    {
        // A download, and with it the module's restart, is under way when the recording begins.
        Assert.Empty(Of(Library(new FirmwareDownload(6) { Start = Seconds(-secondsBefore) }), Minutes(2)).Findings);
    }

    [Fact]
    public void AClockStep()
    {
        Assert.Empty(Of(Library(new ClockStep(TimeSpan.FromHours(1)) { Start = Begin }), Minutes(5)).Accusations);
        Assert.Empty(Of(Library(new ClockStep(TimeSpan.FromHours(-1)) { Start = Begin }), Minutes(5)).Accusations);
    }

    /// <summary>Up to the second within which records may be out of order.</summary>
    [Theory]
    [InlineData(20)]
    [InlineData(300)]
    [InlineData(1000)]
    public void ShuffledStamps(int milliseconds)
    {
        Fault[] faults =
        [
            new ShuffledStamps(TimeSpan.FromMilliseconds(milliseconds)) { Start = Begin },
            new FirmwareDownload(7) { Start = Begin + Seconds(20) },
            new ChildrenPlay([1, 5, 8]) { Start = Begin, End = Minutes(12) },
        ];
        Assert.Empty(Of(Library(faults), Minutes(22)).Accusations);
    }

    [Fact]
    public void ChildrenPlayingWithButtons() =>
        Assert.Empty(Of(Library(new ChildrenPlay([1, 5, 8]) { Start = Begin, End = Minutes(12) }), Minutes(16)).Findings);

    [Fact]
    public void ANodeThatLosesPowerByAnOutputOfItsOwnSite()
    {
        // The café door's module hangs on the menu board's relay, which the button at the counter switches.
        Site site = WithModule(Library(), 11, module => module with { PoweredBy = new(10, 1) });
        site = WithModules(site, module => module with { Inputs = [.. module.Inputs.Select(input => input with { PressesPerHour = module.Address == 8 && input.Input == 4 ? 60 : 0 })] });
        Replayed replayed = Of(site, Minutes(40));
        Assert.Empty(replayed.Accusations);
        Assert.True(replayed.Node(11).GetProperty("restarts").GetInt32() > 3);
    }

    [Fact]
    public void SeveralNodesThatLosePowerByOneOutputOfTheirOwnSite()
    {
        Site site = WithModules(Library(), module => (module.Address is 11 or 14 ? module with { PoweredBy = new(10, 1) } : module)
            with { Inputs = [.. module.Inputs.Select(input => input with { PressesPerHour = module.Address == 8 && input.Input == 4 ? 60 : 0 })] });
        Assert.Empty(Of(site, Minutes(40)).Accusations);
    }

    [Theory]
    [InlineData(4096)]
    [InlineData(60_000)]
    public void FirmwareDownloads(int bytes) =>
        Assert.Empty(Of(Library(new FirmwareDownload(6, bytes) { Start = Begin }), Minutes(6)).Findings);

    /// <summary>A module that flashes itself sends nothing for as long as that takes; its start with the new program ends it.</summary>
    [Fact]
    public void AFirmwareDownloadBehindWhichTheModuleFlashesItselfForAMinuteAndAHalf()
    {
        TextTrace trace = new TextTrace().Heartbeats(400, 1, 2, 3, 4).Every(1, 0.4, 120, 0x706, 5).Write(120.1, 6, 0x1F51, 1, 1, 1)
            .Add(210, 0x706, 0).Every(1, 211, 400, 0x706, 5);
        Assert.Empty(trace.Replay().Findings);
    }

    [Fact]
    public void TwoInterfacesThatCarryTheSameIdentifiers()
    {
        Site second = WrenfieldLibrary.Create(9) with { Start = Morning, Observer = new() { Interface = 1, InterfaceName = "can1" } };
        Replayed replayed = OfSeveral(Minutes(6), Library(), second);
        Assert.Equal(2, replayed.Report.GetProperty("buses").GetArrayLength());
        Assert.Empty(replayed.Findings);
    }

    [Fact]
    public void SingleErrorsAtTheRateOfAProductionLine()
    {
        // So full and fast that there is one.
        Replayed replayed = Of(Library(new HighLoad(0.65), new BusNoise(3.1e-9)) with { BitRate = 1_000_000 }, Seconds(400), null, "--bit-rate", "1000000");
        Assert.InRange(replayed.Bus.GetProperty("errorMessages").GetInt64(), 1, 10);
        Assert.Empty(replayed.Findings);
    }

    [Fact]
    public void OurOwnAdapterInListenOnlyThatCallsItselfErrorPassive()
    {
        Replayed replayed = Of(Library() with { Observer = new() { CallsItselfPassive = true, ReportsCounters = true } }, Minutes(3));
        Assert.Equal("error-passive", replayed.Bus.GetProperty("controllerState").GetString());
        Assert.Empty(replayed.Findings);
    }
}
