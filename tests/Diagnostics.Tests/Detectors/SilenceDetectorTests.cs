using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class SilenceDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);
    private const double Heavy = 0.05;

    [Fact]
    public void AModuleThatHangsIsSilentSinceItsLastFrame()
    {
        Replayed replayed = Of(Library(new NodeHang(5) { Start = Begin }), Minutes(4));
        JsonElement silent = replayed.The("node.silent", 5);
        Assert.Equal("fault", Severity(silent));
        Assert.InRange(SecondsOf(silent, "start"), 118.9, 120.1);

        // Three and a half of its periods of 1 s, plus what its jitter and a whole second of looking take.
        Assert.InRange(SecondsOf(silent, "raised"), 122.4, 126);
        Assert.False(HasEnded(silent));
        Assert.Single(replayed.Accusations);
    }

    [Fact]
    public void AModuleThatComesBackEndsItsSilence()
    {
        Replayed replayed = Of(Library(new NodeWithoutPower(5) { Start = Begin, End = Begin + Seconds(30) }), Minutes(4));
        JsonElement silent = replayed.The("node.silent", 5);
        Assert.InRange(SecondsOf(silent, "end"), 150, 151.5);
        Assert.Equal("node 5 was silent, while others went on.", silent.GetProperty("summary").GetString());
        Assert.Single(replayed.Accusations);
    }

    [Fact]
    public void ModulesBehindOneOpenJointAreOneFinding()
    {
        Fault[] dark = [.. new[] { 12, 13, 14 }.Select(node => new NodeWithoutPower(node) { Start = Begin })];
        JsonElement silent = Of(Library(dark), Minutes(4)).The("node.silent");
        Assert.Equal([12, 13, 14], Nodes(silent));
        Assert.Equal(JsonValueKind.Null, silent.GetProperty("node").ValueKind);
    }

    [Fact]
    public void AModuleThatIsOnlyRestartedInTimeIsNotSilent()
    {
        // Off for 2 s and 0.3 s until it is up again: below three and a half periods.
        Replayed replayed = Of(Library(new NodeWithoutPower(5) { Start = Begin, End = Begin + Seconds(2) }), Minutes(4));
        Assert.False(replayed.Has("node.silent"));
    }

    [Fact]
    public void NobodyIsSilentWhileFramesAreBeingLost()
    {
        // Everybody's heartbeats are missing for 8 s in the recording, and the drop counter says so.
        Replayed replayed = Of(Library(), Minutes(4), [(Begin, Begin + Seconds(8))]);
        Assert.Equal(["bus.not-seen"], replayed.Kinds);
    }

    [Fact]
    public void ARealSilenceIsFoundAfterTheRecordIsWholeAgain()
    {
        Replayed replayed = Of(Library(new NodeHang(5) { Start = Begin }), Minutes(4), [(Begin - Seconds(1), Begin + Seconds(20))]);
        JsonElement silent = replayed.The("node.silent", 5);
        Assert.InRange(SecondsOf(silent, "raised"), 143.4, 148);
    }

    [Fact]
    public void AModuleWithoutHeartbeatThatSendsOnChangeOnlyIsNeverCalledSilent()
    {
        Site site = WithModule(Library(new NodeHang(5) { Start = Begin }), 5, module => module with { HeartbeatMilliseconds = 0 }) with { People = new() { Activity = 20 } };
        Replayed replayed = Of(site, Minutes(6));
        Assert.Empty(replayed.Accusations);
        Assert.Equal(JsonValueKind.Null, replayed.Node(5).GetProperty("silenceNoticedWithinSeconds").ValueKind);
    }

    [Fact]
    public void AGuardedModuleThatNoLongerAnswersIsSilent()
    {
        Site site = WithModules(Library(new NodeHang(5) { Start = Begin }), module => module with { HeartbeatMilliseconds = 0 })
            with { Controller = new() { GuardMilliseconds = 1000 } };
        Assert.Equal("fault", Severity(Of(site, Minutes(4)).The("node.silent", 5)));
    }

    [Fact]
    public void AModuleThatDoesNotComeBackWithTheOutputThatFeedsItIsAFault()
    {
        Site site = WithModule(Library(new NodeWithoutPower(11) { Start = Minutes(25) }), 11, module => module with { PoweredBy = new(10, 1) });
        site = WithModules(site, module => module with { Inputs = [.. module.Inputs.Select(input => input with { PressesPerHour = module.Address == 8 && input.Input == 4 ? 60 : 0 })] });
        Replayed replayed = Of(site with { Faults = [new OpenDrop(11) { Start = Minutes(25) }] }, Minutes(45));
        JsonElement silent = replayed.The("node.silent", 11);
        Assert.Equal("fault", Severity(silent));
        Assert.False(HasEnded(silent));
    }

    [Fact]
    public void AModuleThatComesBackWhileThatOutputIsOffWasNotFedByIt()
    {
        // Every output of the site goes off just as the module loses its supply for half a minute: the controller is told to reset the relay modules.
        Site site = Library(new NodeWithoutPower(5) { Start = Begin, End = Begin + Seconds(30) }, new StuckInput(8, 4) { Start = Seconds(60) }, new CommandedReset(10) { Start = Begin + Seconds(0.2) });
        Assert.Equal("fault", Severity(Of(site with { People = new() { Activity = 0 } }, Minutes(4)).The("node.silent", 5)));
    }

    [Fact]
    public void OnABusOfSlowHeartbeatsAModuleThatStopsIsFoundAllTheSame()
    {
        // The whole bus pauses for longer than 2 s all the time.
        Site site = WithModules(Library(new NodeHang(5) { Start = Minutes(10) }), module => module with { HeartbeatMilliseconds = 60_000 }) with { People = new() { Activity = 0 } };
        Assert.True(Of(site, Minutes(18)).Has("node.silent", 5));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(20_000)]
    public void ModulesThatAreCommandedToStopSendingAreNotSilent(int heartbeat)
    {
        Site site = WithModules(Library(new CommandedState(0, 128) { Start = Begin }, new CommandedState(0, 1) { Start = Begin + Seconds(30) }), module => module with { EventTimerMilliseconds = 500, HeartbeatMilliseconds = heartbeat });
        Assert.False(Of(site, Minutes(4)).Has("node.silent"));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(20_000)]
    public void ModulesWhosePdosFollowSyncAreNotSilentWhenItStops(int heartbeat)
    {
        Site site = WithModules(Library(new SyncStops { Start = Begin, End = Begin + Seconds(15) }), module => module with { SynchronousEvery = 1, HeartbeatMilliseconds = heartbeat })
            with { Controller = new() { SyncMilliseconds = 1000 } };
        Assert.False(Of(site, Minutes(4)).Has("node.silent"));
    }

    [Fact]
    public void AModuleWithoutHeartbeatIsFoundByItsEventTimer()
    {
        Site site = WithModules(Library(new NodeHang(5) { Start = Begin }), module => module with { EventTimerMilliseconds = 1000, HeartbeatMilliseconds = 0 });
        Assert.True(Of(site, Minutes(4), null, "--protocol", "canopen").Has("node.silent", 5));
    }

    [Fact]
    public void AModuleThatOnlyConfirmsCommandsIsNotSilentWhenNobodyCommandsIt()
    {
        // Two panels on one address, on one of which a button is held: the controller hears it pressed and let go in turns and switches café relay 1 every 4 s. The
        // relay module confirms that each time, which looks like a rhythm of its own until the button is let go.
        Site site = WithModules(
            Library(new StuckInput(8, 4) { Start = Seconds(100), End = Minutes(5) }, new DuplicateAddress(8) { Start = Begin }) with { People = new() { Activity = 0 } },
            module => module with { HeartbeatMilliseconds = 0, EventTimerMilliseconds = 4000 });
        Replayed replayed = Of(site, Minutes(7), null, "--protocol", "canopen");
        Assert.True(replayed.Has("node.duplicate-address", 8));
        Assert.InRange(replayed.Node(10).GetProperty("frames").GetInt64(), 25, 60);
        Assert.False(replayed.Has("node.silent"));
        Assert.Equal(JsonValueKind.Null, replayed.Node(10).GetProperty("silenceNoticedWithinSeconds").ValueKind);
    }

    /// <summary>
    /// Nobody sends anything regular. Buttons 1 and 2 of panel 8 are pressed sixteen times in turns, in no rhythm, and then as given; each press switches relay 1 or 2 of
    /// module 9, which tells of it.
    /// </summary>
    private static Site Pressed((double Seconds, int Button)[] later, params Fault[] faults)
    {
        IEnumerable<(double Seconds, int Button)> presses = Enumerable.Range(0, 16).Select(press => (120.0 + (8 * press) + (press * press % 11), 1 + (press % 2))).Concat(later);
        Fault[] pressed = [.. presses.Select(press => new StuckInput(8, press.Button) { Start = Seconds(press.Seconds), End = Seconds(press.Seconds + 0.3) })];
        return WithModules(Library([.. pressed, .. faults]) with { People = new() { Activity = 0 } }, module => module with { HeartbeatMilliseconds = 0 });
    }

    [Fact]
    public void AModuleThatNoLongerAnswersCommandsIsSilent()
    {
        // A relay that already is as commanded has nothing to tell, so the fourth press stays without an answer, too: relay 2 missed one command before.
        Site site = Pressed([(320, 1), (340, 2), (360, 1), (380, 2), (400, 1)], new OpenDrop(9) { Start = Seconds(300), End = Seconds(370) });
        Replayed replayed = Of(site, Minutes(8), null, "--protocol", "canopen");
        JsonElement silent = replayed.The("node.silent", 9);
        Assert.Equal("fault", Severity(silent));
        Assert.InRange(SecondsOf(silent, "start"), 320, 320.2);
        Assert.InRange(SecondsOf(silent, "raised"), 360, 363);
        Assert.InRange(SecondsOf(silent, "end"), 400, 400.2);
        Assert.Equal("node 9 didn't answer commands, though it had answered nearly every one before.", silent.GetProperty("summary").GetString());
        Assert.Equal(["node.silent/can0/node-9"], replayed.Accusations);
    }

    [Fact]
    public void AModuleThatAnswersAgainAfterTwoCommandsIsNotSilent()
    {
        Site site = Pressed([(320, 1), (340, 1), (360, 1), (380, 2)], new OpenDrop(9) { Start = Seconds(300), End = Seconds(350) });
        Replayed replayed = Of(site, Minutes(8), null, "--protocol", "canopen");
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void WhoAnswersCommandsIsKnownToBeNoticed()
    {
        Replayed replayed = Of(Pressed([]), Minutes(8), null, "--protocol", "canopen");
        Assert.Empty(replayed.Accusations);
        JsonElement relays = replayed.Node(9);
        Assert.Equal(3, relays.GetProperty("silenceNoticedAfterCommands").GetInt32());
        Assert.Equal(JsonValueKind.Null, relays.GetProperty("silenceNoticedWithinSeconds").ValueKind);
        Assert.Equal(JsonValueKind.Null, relays.GetProperty("present").ValueKind);
        Assert.Equal(JsonValueKind.Null, replayed.Node(8).GetProperty("silenceNoticedAfterCommands").ValueKind);
    }

    [Fact]
    public void NobodyIsSaidNotToAnswerWhoseAnswersMayBeAmongLostFrames()
    {
        // The recorder drops frames right behind each of the last commands.
        (TimeSpan, TimeSpan)[] lost = [.. new[] { 320, 340, 360, 380 }.Select(at => (Seconds(at + 0.1), Seconds(at + 0.9)))];
        Site site = Pressed([(320, 1), (340, 2), (360, 1), (380, 2)], new OpenDrop(9) { Start = Seconds(300) });
        Replayed replayed = Of(site, Minutes(8), lost, "--protocol", "canopen");
        Assert.False(replayed.Has("node.silent"));
    }

    [Fact]
    public void AModuleOneOutputOfWhichNoLongerFollowsIsNotSilent()
    {
        Site site = Pressed([(320, 1), (340, 1), (360, 1), (380, 1), (400, 1)], new OutputRefuses(9, 1) { Start = Seconds(300) });
        Replayed replayed = Of(site, Minutes(8), null, "--protocol", "canopen");
        Assert.False(replayed.Has("node.silent"));
    }

    [Fact]
    public void AModuleThatIsKeptFromSendingNeedNotAnswer()
    {
        // Pre-operational it carries out no commands (CiA 301).
        Site site = Pressed([(320, 1), (340, 2), (360, 1), (380, 2)], new CommandedState(9, 128) { Start = Seconds(300) });
        Replayed replayed = Of(site, Minutes(8), null, "--protocol", "canopen");
        Assert.False(replayed.Has("node.silent"));
    }

    /// <summary>Nobody says that it was listened between two files: who is missing in the second may have been put away, and who stops in it has stopped.</summary>
    [Theory]
    [InlineData("canopen")]
    [InlineData("none")]
    public void WhoIsMissingInTheNextFileIsNotSilentAndWhoStopsInItIs(string protocol)
    {
        string first = Path.GetTempFileName();
        try
        {
            File.WriteAllBytes(first, TraceOf(Library(), Minutes(5)));
            Replayed After(TimeSpan stops) => OfBytes(
                TraceOf(Library(new NodeWithoutPower(5) { Start = stops }) with { Start = Morning + TimeSpan.FromDays(35) }, Minutes(6)), "--bit-rate", "125000", "--protocol", protocol, first);
            Assert.DoesNotContain("node.silent", After(Seconds(-20)).Kinds);
            Assert.Contains("node.silent", After(Minutes(3)).Kinds);
        }
        finally
        {
            File.Delete(first);
        }
    }

    /// <summary>Of 75 bits one in twenty is damaged, so one frame in fifty gets through: nobody is silent of its own accord.</summary>
    [Fact]
    public void WhileNobodyGetsThroughNobodyIsSilentAndWhoStaysAwayThenIs()
    {
        BusNoise disturbed = new(Heavy) { Start = Begin, End = Begin + Seconds(40) };
        Assert.DoesNotContain("node.silent", Of(Library(disturbed), Minutes(5)).Kinds);
        Replayed replayed = Of(Library(disturbed, new NodeHang(5) { Start = Begin + Seconds(10) }), Minutes(5));
        Assert.Equal(["node.silent/can0/node-5"], [.. replayed.Accusations.Where(key => key.StartsWith("node.silent", StringComparison.Ordinal))]);
        Assert.InRange(SecondsOf(replayed.The("node.silent", 5), "start"), 119, 130);
    }

    /// <summary>Its frames make errors without end, and none gets through; those of the others do.</summary>
    [Fact]
    public void WhoAloneDoesNotGetThroughWhileErrorsDominateIsSilent()
    {
        Replayed replayed = Of(Library(new BadDrop(5, 0.3) { Start = Begin }), Minutes(5));
        Assert.True(replayed.Bus.GetProperty("errorMessages").GetInt64() > 0.3 * replayed.Bus.GetProperty("frames").GetInt64());
        Assert.Equal(["node.silent/can0/node-5"], [.. replayed.Accusations.Where(key => key.StartsWith("node.silent", StringComparison.Ordinal))]);
    }

    [Fact]
    public void WithoutAProtocolTooNobodyIsSilentWhileNobodyGetsThrough() =>
        Assert.DoesNotContain("node.silent", Of(Library(new BusNoise(Heavy) { Start = Begin, End = Begin + Seconds(40) }), Minutes(5), null, "--protocol", "none").Kinds);

    [Fact]
    public void WithoutAProtocolACyclicIdentifierThatStopsIsAWarning()
    {
        Replayed replayed = Of(Library(new NodeHang(5) { Start = Minutes(3) }), Minutes(5), null, "--protocol", "none");
        JsonElement silent = replayed.The("node.silent");
        Assert.Equal("0x705", silent.GetProperty("id").GetString());
        Assert.Equal("warning", Severity(silent));
    }
}
