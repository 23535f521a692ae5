using System.Text;
using Diagnostics.Can;
using Diagnostics.Simulation;
using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Tests.Simulation;

/// <summary>CiA 301 and CiA 401 behaviour of the simulated modules; vectors as in the shared reference values, sections 7.1–7.4.</summary>
public class DeviceTests
{
    private static (Timeline Timeline, Wire Wire, Module Module, WireBench.Ear Ear, ProtocolController Tester) Bench(ModulePlan plan)
    {
        Timeline timeline = new();
        Wire wire = new(timeline, 125_000);
        Module module = new(plan, wire, new Randomness(1, "module"), "node");
        WireBench.Ear ear = new();
        ProtocolController tester = new("tester", ear) { HearsAll = true };
        ear.Controller = tester;
        wire.Attach(tester);
        wire.PowerOn(tester);
        module.PowerOn();
        wire.Run(1_000_000_000);
        return (timeline, wire, module, ear, tester);
    }

    private static readonly ModulePlan Plan = new()
    {
        Address = 5,
        Name = "test",
        ProductName = "Push-button panel 8",
        Vendor = 0x1234_5678,
        HeartbeatMilliseconds = 0,
        Inputs = [new(1, "a"), new(3, "c")],
        Outputs = [new(1, "x"), new(9, "y")],
        ReadsOutputsBack = true,
    };

    private static WireFrame Ask(ProtocolController tester, Wire wire, WireBench.Ear ear, params byte[] request)
    {
        tester.Send(WireFrame.Of(0x605, request), wire.Timeline.Now);
        wire.Run(wire.Timeline.Now + 20_000_000);
        WireFrame answer = ear.Received[^1].Frame;
        Assert.Equal(0x585u, answer.Id);
        return answer;
    }

    [Fact]
    public void TheFirstFrameIsTheBootUp()
    {
        (_, _, Module module, WireBench.Ear ear, _) = Bench(Plan);
        Assert.Equal(WireFrame.Of(0x705, [0]), ear.Received[0].Frame);
        Assert.Equal(NetworkState.PreOperational, module.State);
    }

    [Fact]
    public void SdoAnswersTheVectorsOfTheReference()
    {
        (_, Wire wire, _, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        Assert.Equal(WireFrame.Of(0x585, [0x43, 0x18, 0x10, 0x01, 0x78, 0x56, 0x34, 0x12]), Ask(tester, wire, ear, 0x40, 0x18, 0x10, 1, 0, 0, 0, 0));
        Assert.Equal(WireFrame.Of(0x585, [0x80, 0x18, 0x10, 0x05, 0x11, 0x00, 0x09, 0x06]), Ask(tester, wire, ear, 0x40, 0x18, 0x10, 5, 0, 0, 0, 0));
        Assert.Equal(WireFrame.Of(0x585, [0x80, 0x00, 0x55, 0x00, 0x00, 0x00, 0x02, 0x06]), Ask(tester, wire, ear, 0x40, 0x00, 0x55, 0, 0, 0, 0, 0));

        // Device type: profile 401 in the low word, inputs bit 16, outputs bit 17.
        Assert.Equal(WireFrame.Of(0x585, [0x43, 0x00, 0x10, 0x00, 0x91, 0x01, 0x03, 0x00]), Ask(tester, wire, ear, 0x40, 0x00, 0x10, 0, 0, 0, 0, 0));

        // Default TPDO1 mapping of CiA 401.
        Assert.Equal(WireFrame.Of(0x585, [0x43, 0x00, 0x1A, 0x01, 0x08, 0x01, 0x00, 0x60]), Ask(tester, wire, ear, 0x40, 0x00, 0x1A, 1, 0, 0, 0, 0));
        Assert.Equal(WireFrame.Of(0x585, [0x43, 0x00, 0x16, 0x02, 0x08, 0x02, 0x00, 0x62]), Ask(tester, wire, ear, 0x40, 0x00, 0x16, 2, 0, 0, 0, 0));
    }

    [Fact]
    public void ANameComesInSegments()
    {
        (_, Wire wire, _, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        WireFrame first = Ask(tester, wire, ear, 0x40, 0x08, 0x10, 0, 0, 0, 0, 0);
        Assert.Equal(0x41, first[0]);
        Assert.Equal(19, first[4]);
        StringBuilder name = new();
        byte toggle = 0;
        WireFrame segment;
        do
        {
            segment = Ask(tester, wire, ear, (byte)(0x60 | toggle), 0, 0, 0, 0, 0, 0, 0);
            Assert.Equal(toggle, segment[0] & 0x10);
            for (int i = 1; i <= 7 - ((segment[0] >> 1) & 7); i++)
            {
                name.Append((char)segment[i]);
            }

            toggle ^= 0x10;
        }
        while ((segment[0] & 1) == 0);
        Assert.Equal("Push-button panel 8", name.ToString());
    }

    [Fact]
    public void AWrittenHeartbeatTimeIsKept()
    {
        (_, Wire wire, Module module, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        Assert.Equal(0x60, Ask(tester, wire, ear, 0x2B, 0x17, 0x10, 0, 0xF4, 0x01, 0, 0)[0]);
        ear.Received.Clear();
        wire.Run(wire.Timeline.Now + 5_000_000_000);
        Assert.Equal(500, module.HeartbeatMilliseconds);
        Assert.InRange(ear.Received.Count(received => received.Frame == WireFrame.Of(0x705, [127])), 9, 11);

        // Wrong length: 06070010h, and nothing changes.
        Assert.Equal(0x80, Ask(tester, wire, ear, 0x2F, 0x17, 0x10, 0, 1, 0, 0, 0)[0]);
        Assert.Equal(500, module.HeartbeatMilliseconds);
    }

    [Fact]
    public void GuardingAnswersToggle()
    {
        (_, Wire wire, _, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        ear.Received.Clear();
        for (int i = 0; i < 4; i++)
        {
            tester.Send(WireFrame.RemoteRequest(0x705, 1), wire.Timeline.Now);
            wire.Run(wire.Timeline.Now + 50_000_000);
        }

        Assert.Equal([127UL, 255UL, 127UL, 255UL], ear.Received.Select(received => received.Frame.Data));
    }

    [Fact]
    public void InputsAreNumberedAsInTheObjectDictionary()
    {
        (_, Wire wire, Module module, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        module.SetContact(1, true);
        wire.Run(wire.Timeline.Now + 50_000_000);
        Assert.DoesNotContain(ear.Received, received => received.Frame.Id == 0x185);
        tester.Send(WireFrame.Of(0, [1, 5]), wire.Timeline.Now);
        wire.Run(wire.Timeline.Now + 50_000_000);
        module.SetContact(3, true);
        wire.Run(wire.Timeline.Now + 50_000_000);

        // 0x185 with 05 = node 5, inputs 1 and 3 active: reference-values 7.4.
        Assert.Equal(WireFrame.Of(0x185, [5]), ear.Received[^1].Frame);
    }

    [Fact]
    public void OutputsFollowTheirCommandAndAreReadBack()
    {
        (_, Wire wire, Module module, WireBench.Ear ear, ProtocolController tester) = Bench(Plan);
        tester.Send(WireFrame.Of(0x205, [1, 1]), wire.Timeline.Now);
        wire.Run(wire.Timeline.Now + 50_000_000);
        Assert.Equal(0UL, module.Outputs);
        tester.Send(WireFrame.Of(0, [1, 0]), wire.Timeline.Now);
        wire.Run(wire.Timeline.Now + 50_000_000);
        tester.Send(WireFrame.Of(0x205, [1, 1]), wire.Timeline.Now);
        wire.Run(wire.Timeline.Now + 50_000_000);
        Assert.Equal(0x101UL, module.Outputs);
        Assert.Equal(WireFrame.Of(0x285, [1, 1]), ear.Received[^1].Frame);
    }

    [Theory]
    [InlineData(37, 0)]
    [InlineData(-2800, 150)]
    public void AClockAndItsInverseAgree(double deviation, double wander)
    {
        Oscillator oscillator = new(new(deviation) { WanderPartsPerMillion = wander, WanderPhase = 1, WanderPeriod = TimeSpan.FromHours(3) });
        for (double time = 0; time < 4e13; time += 3.7e12)
        {
            Assert.Equal(time, oscillator.True(oscillator.Local(time)), 1.0);
        }

        double hours = (oscillator.Local(1.08e13) - oscillator.Local(0)) / 1.08e13;
        Assert.Equal(1 + (deviation * 1e-6), hours, 1e-6);
    }

    [Fact]
    public void AGridKeepsItsPhaseAndAWalkLosesIt()
    {
        double Spread(HeartbeatSchedule schedule)
        {
            (_, Wire wire, _, WireBench.Ear ear, _) = Bench(Plan with { HeartbeatMilliseconds = 100, Schedule = schedule, SoftwareJitter = TimeSpan.FromMilliseconds(1) });
            wire.Run(60_000_000_000);
            long[] times = [.. ear.Received.Skip(1).Select(received => received.Time)];
            return (times[^1] - times[0]) - ((times.Length - 1) * 1e8);
        }

        Assert.InRange(Spread(HeartbeatSchedule.Grid), -5e6, 5e6);
        Assert.True(Spread(HeartbeatSchedule.Walk) > 1e8);
    }

    [Fact]
    public void TheObserverReportsAsItsPlanSays()
    {
        Site site = WrenfieldLibrary.Create(2) with { Faults = [new BusNoise(1e-4), new HighLoad(0.3)] };
        Recorder With(ObserverPlan plan)
        {
            Recorder recorder = new();
            new SiteSimulation(site with { Observer = plan }).Run(recorder, TimeSpan.FromSeconds(60));
            return recorder;
        }

        Assert.All(With(new() { ReportsErrorPositions = false }).Errors, error => Assert.True(error.Location is ErrorLocation.Unspecified or ErrorLocation.CrcSequence));
        Assert.Contains(With(new()).Errors, error => error.Location == ErrorLocation.Data);
        Assert.Empty(With(new() { ReportsErrors = false }).Errors);
        Recorder active = With(new() { ListenOnly = false, ReportsCounters = true });
        Assert.Contains(active.Errors, error => error.ReceiveErrorCounter > 0);
        Recorder passive = With(new() { CallsItselfPassive = true, ReportsErrors = false });
        Assert.Equal(ControllerProblems.ReceivePassive, Assert.Single(passive.Errors).Controller);
        Assert.Equal(ControllerState.ErrorPassive, passive.Facts[0].State);
    }

    [Fact]
    public void TheObserversClockRunsAsFastAsItsPlanSays()
    {
        Site site = WrenfieldLibrary.Create(2) with { Observer = new() { PartsPerMillion = 100, StampJitter = TimeSpan.Zero } };
        Recorder fast = new();
        new SiteSimulation(site).Run(fast, TimeSpan.FromSeconds(1000));
        Recorder exact = new();
        new SiteSimulation(site with { Observer = site.Observer with { PartsPerMillion = 0 } }).Run(exact, TimeSpan.FromSeconds(1000));
        double gained = fast.All[^1].Time.SecondsSince(site.Start) - exact.All[^1].Time.SecondsSince(site.Start);
        Assert.Equal(0.1, gained, 0.001);
    }
}
