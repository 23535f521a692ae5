using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;
using static Diagnostics.Tests.Detectors.Replayed;
using static Diagnostics.Tests.Protocols.CanOpen.WrenfieldSheets;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Data sheets from the file to the report: the library is simulated, and some of its PDOs come on other identifiers, as they would from modules that are
/// built or set another way. Each case is told without the sheet first, so that it is the sheet that makes the difference.
/// </summary>
public class DataSheetAnalysisTests
{
    private const uint Buttons = 0x101;
    private const uint Relays = 0x201;

    private static Report Analyse(Site site, double minutes, Dictionary<uint, uint> moved, params DataSheet[] sheets)
    {
        Analyzer analyzer = new(new() { SourceKind = "trace", SourceName = "library", Protocol = "canopen", BitRate = 125_000, DataSheets = sheets });
        new SiteSimulation(site).Run(new Rewired(analyzer, moved), Minutes(minutes));
        return analyzer.Snapshot();
    }

    private static string[] Accusations(Report report) => [.. report.Findings.Where(finding => finding.Severity is "fault" or "warning").Select(finding => finding.Key)];

    [Fact]
    public void AWornButtonIsFoundOnTheTpdoThatTheSheetNames()
    {
        Site site = Library(new WornContact(5, 1, 2)) with { People = new() { Activity = 10 } };
        Dictionary<uint, uint> moved = site.Modules.ToDictionary(module => 0x180u + (uint)module.Address, module => 0x280u + (uint)module.Address);
        Assert.Empty(Accusations(Analyse(Without(site), 15, moved)));

        DataSheet panel = Sheet(Text(Buttons, null, ("TPDO2", ["60000108"], "$NODEID+0x280")));
        Report report = Analyse(Without(site), 15, moved, panel);
        FindingReport chatter = Assert.Single(report.Findings, finding => finding.Severity != "note");
        Assert.Equal(("input.chatter", 5, 1), (chatter.Finding, chatter.Node, chatter.Input));

        // Relays are commanded in a PDO that panels don't have, so it isn't taken for those.
        Assert.Collection(
            report.Buses[0].Remarks,
            remark => Assert.StartsWith("panel.eds doesn't describe node 2, node 6", remark, StringComparison.Ordinal),
            remark => Assert.StartsWith("panel.eds is taken for node 1, node 3, node 5", remark, StringComparison.Ordinal));
    }

    /// <summary>Relays read their outputs back in TPDO2, which is where the buttons come now.</summary>
    private static Site Without(Site site) => WithModules(site, module => module with { ReadsOutputsBack = false });

    [Fact]
    public void AModuleThatLosesPowerByAnOutputOnAMovedRpdoIsNoFault()
    {
        Site site = WithModule(Library(), 11, module => module with { PoweredBy = new(10, 1) });
        site = WithModules(site, module => module with
        {
            ReadsOutputsBack = false,
            Inputs = [.. module.Inputs.Select(input => input with { PressesPerHour = module.Address == 8 && input.Input == 4 ? 60 : 0 })],
        });
        Dictionary<uint, uint> moved = new() { [0x20A] = 0x34A };
        Assert.NotEmpty(Accusations(Analyse(site, 40, moved)));

        DataSheet relays = Sheet(Text(Relays, "NodeID=10\nNodeName=café relays", ("RPDO1", ["62000108"], "0x34A"), ("TPDO2", ["62000108"], "$NODEID+0x280")), "cafe-10.dcf");
        Report report = Analyse(site, 40, moved, relays);
        Assert.Empty(Accusations(report));
        Assert.Empty(report.Buses[0].Remarks);
        Assert.Equal(("café relays", "module 201"), (report.Buses[0].Nodes.Single(node => node.Address == 10).Name, report.Buses[0].Nodes.Single(node => node.Address == 10).Identity.Name));
    }

    [Fact]
    public void ATpdoThatWasMovedIsItsNodesAndMakesNoOther()
    {
        // By the predefined connection set 1B2h would be TPDO1 of node 50.
        Dictionary<uint, uint> moved = new() { [0x28A] = 0x1B2 };
        Assert.Contains(Analyse(Library(), 20, moved).Buses[0].Nodes, node => node.Address == 50);

        DataSheet relays = Sheet(Text(Relays, "NodeID=10", ("RPDO1", ["62000108"], null), ("TPDO2", ["62000108"], "0x1B2")), "cafe-10.dcf");
        BusReport bus = Analyse(Library(), 20, moved, relays).Buses[0];
        Assert.DoesNotContain(bus.Nodes, node => node.Address == 50);
        Assert.Equal(10, bus.Identifiers.Single(identifier => identifier.Id == "0x1B2").Node);
    }

    [Fact]
    public void ASheetOfOneKindAccusesNobodyOfAnother()
    {
        DataSheet panel = Sheet(Text(Buttons, null, ("TPDO1", ["60000108"], "$NODEID+0x180")));
        Report report = Analyse(Library() with { People = new() { Activity = 10 } }, 15, [], panel);
        Assert.Empty(Accusations(report));
        Assert.Contains(report.Buses[0].Remarks, remark => remark.StartsWith("panel.eds doesn't describe node ", StringComparison.Ordinal));
    }

    [Fact]
    public void AWrongSheetHidesNoWornButton()
    {
        DataSheet wrong = Sheet(Text(Buttons, null, ("TPDO1", ["64010110", "64010210"], null)));
        Report report = Analyse(Library(new WornContact(5, 1, 2)) with { People = new() { Activity = 10 } }, 15, [], wrong);
        FindingReport chatter = Assert.Single(report.Findings, finding => finding.Severity != "note");
        Assert.Equal(("input.chatter", 5, 1), (chatter.Finding, chatter.Node, chatter.Input));
    }

    [Theory]
    [InlineData(125, "data-sheet", 0)]
    [InlineData(250, "option", 1)]
    public void TheBitRateOfAConfigurationFileIsUsedWhereNoneIsKnownAndTold(int kilobits, string source, int remarks)
    {
        DataSheet sheet = Sheet(Text(Buttons, FormattableString.Invariant($"NodeID=5\nBaudrate={kilobits}"), ("TPDO1", ["60000108"], null)), "ws-05.dcf");
        Analyzer analyzer = new(new() { SourceKind = "trace", SourceName = "library", Protocol = "canopen", BitRate = source == "option" ? 125_000 : null, DataSheets = [sheet] });
        analyzer.OnInterface(0, new("can0"));
        analyzer.OnFrame(CanFrame.Classic(Morning, CanId.Base(0x185), [0]));
        BusReport bus = analyzer.Snapshot().Buses[0];
        Assert.Equal((125_000, source, remarks), (bus.BitRate, bus.BitRateSource, bus.Remarks.Count));
        Assert.All(bus.Remarks, remark => Assert.Equal("The device configuration files were made for 250000 bit/s, but the bus runs at 125000.", remark));
    }

    /// <summary>Frames on one identifier come on another.</summary>
    private sealed class Rewired(IFrameSink sink, Dictionary<uint, uint> moved) : IFrameSink
    {
        public void OnInterface(byte index, InterfaceFacts facts) => sink.OnInterface(index, facts);

        public void OnFrame(in CanFrame frame)
        {
            CanFrame passed = frame;
            if (!frame.IsError && !frame.Id.IsExtended && moved.TryGetValue(frame.Id.Value, out uint id))
            {
                passed.Id = CanId.Base(id);
            }

            sink.OnFrame(passed);
        }

        public void OnNotSeen(in NotSeen notSeen) => sink.OnNotSeen(notSeen);
    }
}
