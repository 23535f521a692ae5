using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.AsBuilt;

public class AsBuiltDraftTests
{
    private static readonly AsBuiltRecord Written = new()
    {
        Site = "Wrenfield community library",
        Trunk = [new(null, 120, false, null), new(9, null, false, 4)],
        Nodes =
        [
            new() { Address = 9, Name = "café dimmer" },
            new() { Address = 5, Name = "workshop buttons", Serial = "100", Inputs = [new(1, "door, upper", InputKind.Contact)], PdoMapping = new Dictionary<string, IReadOnlyList<MappedObject>> { ["TPDO2"] = [new(0x6200, 1)] } },
        ],
    };

    [Fact]
    public void EveryNodeHeardIsThereWithWhatItSaidOfItselfAndNothingElse()
    {
        AsBuiltDraft draft = AsBuiltDraft.Of(Heard(Node(7, "300"), Node(5, "200")), [new(5, false, 2), new(5, true, 3), new(5, false, 2)], null);
        Assert.Equal([(5, DraftStanding.HeardOnly), (7, DraftStanding.HeardOnly)], draft.Nodes.Select(node => (node.Node.Address, node.Standing)));
        BuiltNode node = draft.Record.Nodes[0];
        Assert.Equal(("BI-8", "200", "1.4"), (node.Type, node.Serial, node.Firmware));
        Assert.Null(node.Name);
        Assert.Equal(new BuiltInput(2, null, InputKind.Unknown), Assert.Single(node.Inputs));
        Assert.Equal(3, Assert.Single(node.Outputs).Output);
        Assert.Empty(draft.Record.Trunk);
        Assert.Null(draft.Record.Site);
    }

    [Fact]
    public void WhatAPersonWroteStaysAndGapsAreFilled()
    {
        AsBuiltDraft draft = AsBuiltDraft.Of(Heard(Node(5, "200"), Node(7, "300")), [new(5, false, 1), new(5, false, 2)], Written);
        Assert.Equal(
            [(9, DraftStanding.RecordedOnly), (5, DraftStanding.HeardAndRecorded), (7, DraftStanding.HeardOnly)],
            draft.Nodes.Select(node => (node.Node.Address, node.Standing)));
        BuiltNode node = draft.Record.Nodes[1];
        Assert.Equal(("workshop buttons", "100", "BI-8", "1.4"), (node.Name, node.Serial, node.Type, node.Firmware));
        Assert.Equal([new(1, "door, upper", InputKind.Contact), new(2, null, InputKind.Unknown)], node.Inputs);
        Assert.Single(node.PdoMapping);
        Assert.Same(Written.Nodes[0], draft.Record.Nodes[0]);
        Assert.Equal(Written.Trunk, draft.Record.Trunk);
    }

    [Fact]
    public void WhereTwoDevicesUseOneAddressNeitherIsTakenForTheRecordedOne()
    {
        Report report = Heard(Node(5, "200"));
        FindingReport two = SampleReports.Rich().Findings.First(finding => finding.Finding == "node.duplicate-address") with { Node = 5 };
        BuiltNode node = AsBuiltDraft.Of(report with { Findings = [two] }, [], null).Record.Nodes[0];
        Assert.Equal((null, null, null), (node.Type, node.Serial, node.Firmware));
    }

    /// <summary>Reports also come out of bundles that anybody may have written.</summary>
    [Fact]
    public void WhateverADeviceSaysTheDraftCanBeReadBack()
    {
        NodeReport hostile = Node(3, new string('9', 300)) with { Name = "line\u0001break\n", Identity = new(null, null, null, new string('9', 300), new string('x', 99) + "💡", "\u0007") };
        AsBuiltDraft draft = AsBuiltDraft.Of(Heard(hostile, Node(0, "1"), Node(128, "1"), hostile), [new(3, true, 0), new(3, true, 99_999), new(3, false, -1)], null);
        Assert.True(AsBuiltReader.TryRead(AsBuiltWriter.ToUtf8(draft.Record), out AsBuiltRecord? read, out AsBuiltError? error), error?.ToString());
        BuiltNode node = Assert.Single(read!.Nodes);
        Assert.Equal((100, 99, null), (node.Serial!.Length, node.Type!.Length, node.Firmware));
        Assert.Empty(node.Outputs);
    }

    [Theory]
    [InlineData("interface", 125_000)]
    [InlineData("option", 125_000)]
    [InlineData("detected", null)]
    public void TheBitRateIsWrittenDownWhereItWasSetAndNotWhereItWasFound(string source, int? expected)
    {
        Report report = Heard() with { Buses = [Heard().Buses[0] with { BitRate = 125_000, BitRateSource = source }] };
        Assert.Equal(expected, AsBuiltDraft.Of(report, [], null).Record.BitRate);
        Assert.Equal(50_000, AsBuiltDraft.Of(report, [], new() { BitRate = 50_000 }).Record.BitRate);
    }

    private static NodeReport Node(int address, string serial) => new() { Address = address, Identity = new("0x1", "0x2", null, serial, "BI-8", "1.4") };

    private static Report Heard(params NodeReport[] nodes) => SampleReports.Quiet() with { Buses = [SampleReports.NothingHeard().Buses[0] with { Nodes = nodes }] };
}
