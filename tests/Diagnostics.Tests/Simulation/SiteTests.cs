using System.Text;
using System.Text.Json.Nodes;
using Diagnostics.Can;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Simulation;

public class SiteTests
{
    [Theory]
    [InlineData(1, 20_000)]
    [InlineData(2, 50_000)]
    [InlineData(3, 125_000)]
    [InlineData(4, 250_000)]
    public void EachRandomSiteIsHealthyAndAllItSendsIsHeard(ulong seed, int bitRate)
    {
        Site site = RandomSite.Create(seed, new() { BitRate = bitRate, Nodes = 20 }) with { WarmUp = TimeSpan.Zero };
        SiteSimulation simulation = new(site);
        Recorder recorder = new();
        simulation.Run(recorder, TimeSpan.FromMinutes(4));
        Assert.Empty(recorder.Errors);
        Assert.Equal(simulation.Counts.FramesSent, recorder.Frames.Count());
        Assert.Equal(20, recorder.Frames.Where(frame => frame.Id.Value is > 0x700 and < 0x780 && !frame.IsRemote).Select(frame => frame.Id).Distinct().Count());
        Assert.All(simulation.Stage.Wire.Controllers, controller => Assert.Equal(0, controller.DroppedFrames + controller.PendingCount));
    }

    /// <summary>Conservation: what a controller took on it has sent, dropped or still holds; what was sent is heard or seen as an error.</summary>
    [Fact]
    public void NoFrameDisappearsInNoise()
    {
        Site site = RandomSite.Create(8, new() { BitRate = 125_000, Nodes = 20 }) with { Faults = [new BusNoise(2e-4), new HighLoad(0.3)], WarmUp = TimeSpan.Zero };
        SiteSimulation simulation = new(site);
        Recorder recorder = new();
        simulation.Run(recorder, TimeSpan.FromMinutes(2));
        long heard = recorder.Frames.Count();
        long errors = recorder.Errors.Count();
        Assert.True(errors > 300);
        Assert.InRange(simulation.Counts.FramesSent, heard - errors, heard + errors);
        Assert.InRange(errors, simulation.Counts.FailedAttempts / 2, simulation.Counts.FailedAttempts * 2);
    }

    [Fact]
    public void RandomSitesDifferBySeedAndKeepTheirLimits()
    {
        HashSet<string> shapes = [];
        for (ulong seed = 1; seed <= 60; seed++)
        {
            Site site = RandomSite.Create(seed);
            Assert.InRange(site.Modules.Count, 5, 60);
            Assert.InRange(site.BitRate, 20_000, 250_000);
            Assert.Equal(site.Modules.Count, site.Modules.Select(module => module.Address).Distinct().Count());
            shapes.Add($"{site.Modules.Count} {site.BitRate} {site.Modules[0].Address}");
        }

        Assert.True(shapes.Count > 50);
    }

    [Fact]
    public void EachFindingHasAFaultThatCausesIt()
    {
        Site site = RandomSite.Create(12, new() { BitRate = 125_000, Nodes = 10, ReadsOutputsBack = true, Supervision = Supervision.Heartbeat });
        foreach (string finding in RandomFault.Findings)
        {
            for (ulong seed = 1; seed <= 3; seed++)
            {
                Fault? fault = RandomFault.Create(site, finding, seed, TimeSpan.FromSeconds(2), TimeSpan.FromSeconds(5));
                Assert.NotNull(fault);
                SiteSimulation simulation = new(site with { Faults = [fault] });
                simulation.Run(new Recorder(), TimeSpan.FromSeconds(8));
                GroundTruth truth = Assert.Single(simulation.Truth);

                // A dark site that comes back within the run has restarted.
                Assert.True(truth.Finding == finding || (finding == "bus.no-traffic" && truth.Finding == "bus.restarted"), $"{finding} became {truth.Finding}");
            }
        }

        Site mute = RandomSite.Create(12, new() { Supervision = Supervision.None, EventTimers = false });
        Assert.Null(RandomFault.Create(mute, "node.silent", 1, default));
        Assert.Throws<ArgumentOutOfRangeException>(() => RandomFault.Create(site, "bus.unheard-of", 1, default));
    }

    [Fact]
    public void WhatIsBenignIsNoFinding()
    {
        Site site = WrenfieldLibrary.Create();
        SiteSimulation simulation = new(site with { Faults = RandomFault.Benign(site, 4, TimeSpan.FromSeconds(5), TimeSpan.FromSeconds(100)) });
        Recorder recorder = new();
        simulation.Run(recorder, TimeSpan.FromSeconds(120));
        Assert.All(simulation.Truth, truth => Assert.True(truth.IsBenign));
        Assert.Empty(recorder.Errors);
        Assert.Contains(recorder.With(0), frame => frame.Bytes[0] == 129);
    }

    [Fact]
    public void TheLibrarysAsBuiltRecordNamesItsNodesInCableOrder()
    {
        Site site = WrenfieldLibrary.Create();
        JsonNode record = JsonNode.Parse(AsBuiltText.Write(site))!;
        Assert.Equal("Wrenfield community library", (string?)record["site"]);
        Assert.Equal(125_000, (int)record["bitRate"]!);
        Assert.Equal(site.Modules.Select(module => module.Address), record["trunk"]!.AsArray().Where(entry => entry!["node"] is not null).Select(entry => (int)entry!["node"]!));
        JsonNode relays = record["nodes"]!.AsArray().Single(node => (int)node!["address"]! == 6)!;
        Assert.Equal("6200:01", (string?)relays["pdoMapping"]!["TPDO2"]![0]);
        Assert.Equal(5, (int)relays["outputs"]![0]!["switchedBy"]![0]!["node"]!);
        Assert.Equal("push-button", (string?)record["nodes"]![0]!["inputs"]![0]!["kind"]);
    }

    [Fact]
    public void TheDemoShowsItsFaultsWithinItsLength()
    {
        SiteSimulation simulation = new(DemoSite.Create());
        Recorder recorder = new();
        simulation.Run(recorder, DemoSite.Length);
        Assert.All(simulation.Truth, truth => Assert.True(truth.Start < DemoSite.Create().Start + DemoSite.Length));
        Assert.Contains(recorder.Errors, error => error.IsWireError);
        Assert.Contains(recorder.With(0x707), frame => frame.FirstEight == 0);
        Assert.True(recorder.With(0x70D).Last().Time < DemoSite.Create().Start + TimeSpan.FromMinutes(96));
    }

    [Fact]
    public void TwoSitesOnTwoInterfacesAreOneSourceInOrder()
    {
        Site first = WrenfieldLibrary.Create(1);
        Site second = WrenfieldLibrary.Create(2) with { Observer = new() { Interface = 1, InterfaceName = "can1" } };
        Recorder recorder = new();
        PairedRun run = new(new SiteSimulation(first), new SiteSimulation(second));
        run.Run(recorder, TimeSpan.FromSeconds(30));
        run.Run(recorder, TimeSpan.FromSeconds(30));
        Assert.Equal(["can0", "can1"], recorder.Facts.Select(facts => facts.Name));
        Assert.InRange(recorder.With(0x705).Count(frame => frame.Interface == 1), 59, 61);
        Assert.True(recorder.All.Zip(recorder.All.Skip(1), (a, b) => a.Time <= b.Time).All(ordered => ordered));
        Recorder alone = new();
        new SiteSimulation(first).Run(alone, TimeSpan.FromSeconds(60));
        Assert.Equal(alone.All.Count, recorder.All.Count(frame => frame.Interface == 0));
    }

    [Fact]
    public void ASiteThatContradictsItselfIsRefused()
    {
        Site site = WrenfieldLibrary.Create();
        Assert.Throws<ArgumentException>(() => new SiteSimulation(site with { BitRate = 33_333 }));
        Assert.Throws<ArgumentException>(() => new SiteSimulation(site with { Modules = [site.Modules[0], site.Modules[0]] }));
        Assert.Throws<ArgumentException>(() => new SiteSimulation(site with { Modules = [site.Modules[0] with { Address = 128 }] }));
    }

    /// <summary>Lines as the kernel's serial-line driver reads them.</summary>
    [Fact]
    public void FramesBecomeSerialLines()
    {
        Assert.Equal("t1232AABB\r", Line(CanFrame.Classic(default, CanId.Base(0x123), [0xAA, 0xBB])));
        Assert.Equal("T1ABCDEF03010203\r", Line(CanFrame.Classic(default, CanId.Extended(0x1ABCDEF0), [1, 2, 3])));
        Assert.Equal("r7051\r", Line(CanFrame.RemoteRequest(default, CanId.Base(0x705), 1)));
        Assert.Equal("e1a\r", Line(Error(ErrorClasses.NoAcknowledge | ErrorClasses.Protocol | ErrorClasses.BusError, 0, 0)));
        Assert.Equal("e2Bs\r", Line(Error(ErrorClasses.Protocol | ErrorClasses.BusError, 0, (byte)(ProtocolViolations.BitRecessive | ProtocolViolations.Stuff))));
        Assert.Equal("e1c\r", Line(Error(ErrorClasses.Protocol | ErrorClasses.BusError, 0, 0, (byte)ErrorLocation.CrcSequence)));
        Assert.Equal("sw096010\r", Line(Error(ErrorClasses.Controller | ErrorClasses.Counters, (byte)ControllerProblems.ReceiveWarning, 0, 0, 10, 96)));
        Assert.Equal("sb000255\r", Line(Error(ErrorClasses.BusOff, 0, 0)));
    }

    [Fact]
    public void WhatTheProtocolCannotSayIsRefusedWithoutText()
    {
        StringBuilder text = new("x");
        Assert.False(SerialAdapter.TryAppend(new CanFrame { Flags = FrameFlags.Flexible }, text));
        Assert.False(SerialAdapter.TryAppend(Error(ErrorClasses.Restarted, 0, 0), text));
        Assert.Equal("x", text.ToString());
    }

    [Theory]
    [InlineData("C", SerialRequest.Close)]
    [InlineData("O", SerialRequest.Open)]
    [InlineData("L", SerialRequest.OpenListenOnly)]
    [InlineData("S4", SerialRequest.BitRate)]
    [InlineData("t1230", SerialRequest.Transmit)]
    [InlineData("S9", SerialRequest.Unknown)]
    [InlineData("", SerialRequest.Unknown)]
    [InlineData("CC", SerialRequest.Unknown)]
    public void TheKernelsLinesAreUnderstood(string line, SerialRequest expected)
    {
        Assert.Equal(expected, SerialAdapter.Read(line));
        Assert.Equal(expected == SerialRequest.BitRate, SerialAdapter.TryReadBitRate(line, out int bitRate));
        Assert.Equal(expected == SerialRequest.BitRate ? 125_000 : 0, bitRate);
    }

    private static CanFrame Error(ErrorClasses classes, byte controller, byte violation, byte location = 0, byte transmit = 0, byte receive = 0) =>
        CanFrame.ErrorReport(default, (uint)classes, [0, controller, violation, location, 0, 0, transmit, receive]);

    private static string Line(CanFrame frame)
    {
        StringBuilder text = new();
        Assert.True(SerialAdapter.TryAppend(frame, text));
        return text.ToString();
    }
}
