using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

/// <summary>
/// What goes on at sites every day and accuses nobody; most of it where modules have no heartbeat (CiA 301 leaves that to the device), or while somebody sets
/// up the site. Common practice, no source, unless one is named. Beside each stands what has to be found nevertheless.
/// </summary>
public class EverydayTests
{
    private static readonly int[] Others = [1, 2, 3, 4];

    /// <summary>A hundred levels in five seconds, every two minutes, from a dimmer that tells its level only while it changes.</summary>
    [Fact]
    public void ADimmerThatTellsItsLevelOnlyWhileItRampsIsNotSilentAfterwards()
    {
        TextTrace trace = new TextTrace().Heartbeats(1200, Others);
        for (double begin = 60; begin < 1200; begin += 120)
        {
            for (int step = 0; step < 100; step++)
            {
                trace.Add(begin + (step * 0.05), 0x294, step, 0);
            }
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    [Fact]
    public void OnASiteThatSendsOnChangeOnlyARampEndsWithoutTheWholeBusBeingQuiet()
    {
        TextTrace trace = new();
        int state = 0;
        for (double time = 2; time < 1200; time += 41)
        {
            state ^= 1;
            trace.Press(time, 3).Add(time + 0.01, 0x204, state).Add(time + 0.014, 0x284, state);
        }

        for (double begin = 60; begin < 1200; begin += 120)
        {
            for (int step = 0; step < 80; step++)
            {
                trace.Add(begin + (step * 0.05), 0x314, step, 0);
            }
        }

        Assert.Empty(trace.Replay("--protocol", "canopen").Accusations);
    }

    [Fact]
    public void AButtonThatSendsAgainWhileItIsHeldIsNotSilentAfterwards()
    {
        TextTrace trace = new TextTrace().Heartbeats(1200, Others);
        for (double begin = 60; begin < 1200; begin += 120)
        {
            trace.Every(0.2, begin, begin + 12, 0x19E, 1).Add(begin + 12, 0x19E, 0);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    [Fact]
    public void AModuleThatSendsByAClockIsMissedWithoutHeartbeatAsWell()
    {
        Replayed replayed = new TextTrace().Heartbeats(600, Others).Every(1, 0.5, 300, 0x28A, 7).Replay();
        Assert.Equal("fault", Severity(replayed.The("node.silent", 10)));
    }

    /// <summary>A meter at a constant load for half an hour, of which then nothing is left; pulses of 90 ms (EN 62053-31, from memory: at least 30 ms).</summary>
    [Fact]
    public void APulseMeterWhoseLoadGoesOffIsNeitherSilentNorFlapping()
    {
        TextTrace trace = new TextTrace().Heartbeats(3000, Others);
        for (int pulse = 0; pulse < 500; pulse++)
        {
            trace.Press(5 + (pulse * 3.6) + (pulse * 7 % 11 * 0.003), 9, 0.09);
        }

        Replayed replayed = trace.Replay();
        Assert.Empty(replayed.Accusations);
        Assert.Equal("note", Severity(replayed.The("input.flapping", 9)));
    }

    [Fact]
    public void AContactThatFluttersIsFlappingNevertheless()
    {
        TextTrace trace = new TextTrace().Heartbeats(1800, Others);
        Random chance = new(7);
        for (double time = 5; time < 1800; time += 1 + (chance.NextDouble() * 8))
        {
            trace.Press(time, 4, -0.2 * Math.Log(1 - (0.98 * chance.NextDouble())));
        }

        Assert.Equal("warning", Severity(trace.Replay().The("input.flapping", 4)));
    }

    [Fact]
    public void AnEventTimerThatIsWrittenAndAPdoThatIsSwitchedOffSilenceNobody()
    {
        Replayed replayed = new TextTrace().Heartbeats(1200, Others)
            .Every(1, 0.21, 300, 0x28A, 0).Write(300.2, 10, 0x1801, 5, 0, 2)
            .Every(1, 0.22, 300, 0x28B, 0).Write(300.3, 11, 0x1801, 5, 60_000, 2).Every(60, 330, 1200, 0x28B, 0)
            .Every(1, 0.23, 300, 0x28C, 0).Write(300.4, 12, 0x1801, 1, 0x8000028C, 4)
            .Replay();
        Assert.Empty(replayed.Accusations);
    }

    /// <summary>Every fiftieth SYNC of 0.1 s (CiA 301, transmission type 50); the controller that makes SYNC starts anew meanwhile.</summary>
    [Fact]
    public void PdosOfEveryFiftiethSyncAreDueOnlyThatLongAfterSyncIsBack()
    {
        TextTrace trace = new TextTrace().Heartbeats(1200, Others);
        for (int beat = 0; beat < 11_800; beat++)
        {
            double time = (beat * 0.1) + (beat < 6005 ? 0 : 20);
            trace.Add(time, 0x080);
            if (beat % 50 < 4)
            {
                trace.Add(time + 0.0012, 0x18A + (beat % 50), beat % 50);
            }
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    [Fact]
    public void AnEmergencyThatIsRepeatedWhileItLastsAndThenResetIsNoSilence()
    {
        Replayed replayed = new TextTrace().Heartbeats(900, Others).Every(2, 200, 300, 0x094, 0x20, 0x31, 5, 0, 0, 0, 0, 0).Add(300.5, 0x094, 0, 0, 0, 0, 0, 0, 0, 0).Replay();
        Assert.Equal(["node.reports-fault/can0/node-20"], replayed.Accusations);
    }

    /// <summary>Resetting the application passes into resetting the communication (CiA 301), and some announce both.</summary>
    [Fact]
    public void AStartThatIsAnnouncedTwiceIsOne()
    {
        TextTrace trace = new();
        for (int node = 1; node <= 6; node++)
        {
            double begin = node * 60;
            trace.Add(begin, 0x700 + node, 0).Add(begin + 0.02, 0x700 + node, 0).Every(1, begin + 0.5, 600, 0x700 + node, 127)
                .Add(600.9 + (node * 0.03), 0x700 + node, 0).Add(601.1 + (node * 0.03), 0x700 + node, 0).Every(1, 602, 900, 0x700 + node, 127);
        }

        Assert.Empty(trace.Add(600.5, 0, 0x81, 0).Replay().Accusations);
    }

    [Fact]
    public void AModuleThatStartsAgainAndAgainHasRestartedNevertheless()
    {
        TextTrace trace = new TextTrace().Heartbeats(400, Others).Every(1, 0.3, 200, 0x709, 5).Every(0.3, 200, 210, 0x709, 0).Every(1, 210.5, 400, 0x709, 5);
        Assert.True(trace.Replay().Has("node.restarted", 9));
    }

    [Fact]
    public void AModuleThatRestoresItsDefaultsMayStartAnew()
    {
        Replayed replayed = new TextTrace().Heartbeats(300, Others).Every(1, 0.3, 200, 0x709, 5).Write(200, 9, 0x1011, 1, 0x64616F6C, 4).Add(200.6, 0x709, 0).Every(1, 201, 300, 0x709, 5).Replay();
        Assert.Empty(replayed.Accusations);
    }

    /// <summary>Somebody sets up one module, and takes it out of operation and back for that; with a heartbeat of 10 s the state is told up to 10 s later.</summary>
    [Fact]
    public void AStateThatIsToldLongAfterTheCommandIsNoSecondDevice()
    {
        TextTrace trace = new TextTrace().Heartbeats(600, 1, 2, 3);
        double[] commands = [302, 312, 322, 332, 342, 352];
        foreach ((double time, int index) in commands.Select((time, index) => (time, index)))
        {
            trace.Add(time, 0, index % 2 == 0 ? 0x80 : 1, 4);
        }

        for (int beat = 0; beat < 60; beat++)
        {
            double time = (beat * 10) + 0.3;
            trace.Add(time, 0x704, commands.Count(command => command < time) % 2 == 1 ? 127 : 5);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>A controller that starts all once a minute, to be sure, and modules that tell their state at once when they are commanded.</summary>
    [Fact]
    public void AStateThatIsToldOnCommandBesidesTheHeartbeatIsNoSecondDevice()
    {
        TextTrace trace = new TextTrace().Heartbeats(900, 1, 2, 3, 4, 5, 6);
        for (double time = 50; time < 900; time += 60)
        {
            trace.Add(time, 0, 1, 0);
            for (int node = 1; node <= 6; node++)
            {
                trace.Add(time + 0.002 + (node * 0.0006), 0x700 + node, 5);
            }
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>A client that asks only for the length of a long object; the server gives up after 0.8 s with "SDO protocol timed out" (CiA 301).</summary>
    [Fact]
    public void ATransferThatItsServerGivesUpHasNoSecondAnswer()
    {
        TextTrace trace = new TextTrace().Heartbeats(600, Others);
        for (double time = 100; time < 500; time += 60)
        {
            trace.Add(time, 0x603, 0x40, 8, 0x10, 0, 0, 0, 0, 0).Add(time + 0.005, 0x583, 0x41, 8, 0x10, 0, 20, 0, 0, 0).Add(time + 0.8, 0x583, 0x80, 8, 0x10, 0, 0, 0, 4, 5);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>Layer setting services, CiA 305: configure node-ID, answered, stored; then the module is reset.</summary>
    [Fact]
    public void AModuleThatIsGivenAnotherAddressIsNoSilentOne()
    {
        Replayed replayed = new TextTrace().Heartbeats(600, 1, 2, 3).Every(1, 0.4, 300.8, 0x704, 5)
            .Add(300.1, 0x7E5, 17, 14, 0, 0, 0, 0, 0, 0).Add(300.12, 0x7E4, 17, 0, 0, 0, 0, 0, 0, 0).Add(300.9, 0, 0x82, 4)
            .Add(301.5, 0x70E, 0).Every(1, 302, 600, 0x70E, 5)
            .Replay();
        Assert.Empty(replayed.Accusations);
        Assert.Equal("note", Severity(replayed.The("node.silent", 4)));
    }

    [Fact]
    public void AModuleThatStopsWhenNobodyTookTheAddressIsSilent()
    {
        Replayed replayed = new TextTrace().Heartbeats(600, 1, 2, 3).Every(1, 0.4, 300.8, 0x704, 5)
            .Add(300.1, 0x7E5, 17, 14, 0, 0, 0, 0, 0, 0).Add(300.12, 0x7E4, 17, 0, 0, 0, 0, 0, 0, 0)
            .Replay();
        Assert.Equal("fault", Severity(replayed.The("node.silent", 4)));
    }

    /// <summary>A door's contact at an input that nobody named: opened for some seconds each time, and then held open for a delivery.</summary>
    [Fact]
    public void ADoorThatIsHeldOpenIsNoStuckButton()
    {
        TextTrace trace = new TextTrace().Heartbeats(2400, Others);
        for (int time = 0; time < 8; time++)
        {
            trace.Press(60 + (time * 120), 3, 4 + (time * 0.6));
        }

        Assert.Empty(trace.Press(1200, 3, 720).Replay().Accusations);
    }

    /// <summary>The night's set-back: outputs go off one behind the other, and each takes a module with it.</summary>
    [Fact]
    public void ModulesThatOutputsSwitchOffOneBehindTheOtherAreNotAccused()
    {
        TextTrace trace = new TextTrace().Heartbeats(1200, 1, 2, 3, 4);
        for (int node = 1; node <= 4; node++)
        {
            double off = 600 + (node * 0.5);
            trace.Add(100, 0x200 + node, 1).Add(100.01, 0x280 + node, 1).Add(off, 0x200 + node, 0).Add(off + 0.01, 0x280 + node, 0)
                .Every(1, node * 0.07, off + 0.3, 0x710 + node, 5);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>Modules without heartbeat that are taken out of operation for the night, and started again: their PDOs are due from then on.</summary>
    [Fact]
    public void WhatIsStartedAfterANightIsDueOnlyFromThenOn()
    {
        TextTrace trace = new TextTrace().Heartbeats(2400, Others).Add(600, 0, 0x80, 0).Add(2000, 0, 1, 0);
        for (int node = 30; node < 34; node++)
        {
            trace.Every(2, node * 0.01, 599, 0x180 + node, node).Every(2, 2000.3 + ((node - 30) * 0.5), 2400, 0x180 + node, node);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>Its read-back is switched off by a write, so it confirms nothing any more.</summary>
    [Fact]
    public void AModuleWhoseReadBackIsSwitchedOffStillAnswers()
    {
        TextTrace trace = new TextTrace().Heartbeats(2000, Others).Write(1000, 30, 0x1801, 1, 0x8000029E, 4);
        for (int command = 0; command < 95; command++)
        {
            double time = 5 + (command * 20);
            int state = 1 << (command % 4);
            trace.Add(time, 0x21E, state);
            if (time < 1000)
            {
                trace.Add(time + 0.005, 0x29E, state);
            }
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>A controller that reads an input twice a second for some minutes, and ends while the button is pressed.</summary>
    [Fact]
    public void AnInputThatIsNoLongerReadIsNotStuck()
    {
        TextTrace trace = new TextTrace().Heartbeats(1500, Others);
        for (int read = 0; read <= 400; read++)
        {
            double time = 100 + (read * 0.5);
            trace.Add(time, 0x603, 0x40, 0, 0x60, 1, 0, 0, 0, 0).Add(time + 0.004, 0x583, 0x4F, 0, 0x60, 1, read % 5 == 0 ? 1 : 0, 0, 0, 0);
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    /// <summary>A small controller's program that looks at its clock once in a loop: 1 s comes as 0.9, 1.05 and 1.05 s in turn.</summary>
    [Theory]
    [InlineData(0.1)]
    [InlineData(0.15)]
    [InlineData(0.3)]
    public void AHeartbeatByAProgramThatSeldomLooksAtItsClockIsOneDevice(double loop)
    {
        TextTrace trace = new();
        for (int node = 1; node <= 6; node++)
        {
            for (int beat = 0; beat < 900; beat++)
            {
                trace.Add((Math.Ceiling(((beat * 1.0003) + (node * 0.13)) / loop) * loop) + (node * 0.011), 0x700 + node, 5);
            }
        }

        Assert.Empty(trace.Replay().Accusations);
    }

    [Fact]
    public void TwoDevicesOnOneAddressFromTheStartAreTwo()
    {
        Replayed replayed = new TextTrace().Heartbeats(600, 1, 2, 3).Every(1.00002, 0.2, 600, 0x704, 5).Every(0.99995, 0.55, 600, 0x704, 5).Replay();
        Assert.True(replayed.Has("node.duplicate-address", 4));
    }

    /// <summary>By its own keys, or by a write that went unheard. That it was away for a moment can't be told from that; that it comes and goes can.</summary>
    [Fact]
    public void AHeartbeatThatIsSetFromOneSecondToTenDoesNotComeAndGo()
    {
        Replayed replayed = new TextTrace().Heartbeats(1200, Others).Every(1, 0.4, 300, 0x714, 5).Every(10, 309.4, 1200, 0x714, 5).Replay();
        Assert.False(replayed.Has("node.unstable"));
        Assert.True(HasEnded(replayed.The("node.silent", 20)));
        Assert.InRange(replayed.The("node.silent", 20).GetProperty("count").GetInt32(), 1, 3);
    }
}
