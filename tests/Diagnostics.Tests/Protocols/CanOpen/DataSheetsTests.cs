using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;
using static Diagnostics.Tests.Protocols.CanOpen.WrenfieldSheets;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Which data sheet holds for which node, and who wins: heard, as-built record, DCF, EDS, default of CiA 401. Node 5 is heard; 185h and 285h are its
/// TPDO1 and TPDO2 of the predefined connection set (reference values 7.1), and a TPDO has the length of its mapping (CiA 301).
/// </summary>
public class DataSheetsTests
{
    private const uint Panel8 = 0x101;
    private const uint Relays8 = 0x201;

    private static readonly DataSheet PanelSheet = Sheet(Text(Panel8, null, ("TPDO2", ["60000108"], "$NODEID+0x280")));
    private static readonly DataSheet RelaySheet = Sheet(Text(Relays8, null, ("TPDO2", ["62000108"], null), ("RPDO1", ["62000108"], null)), "relays.eds");

    /// <summary>Node 5 is asked for 1018h sub 1 and 2 and answers.</summary>
    private static string[] Identify(uint product) =>
    [
        "605#4018100100000000", "585#43181001" + LittleEndian(Vendor), "605#4018100200000000", "585#43181002" + LittleEndian(product),
    ];

    private static string LittleEndian(uint value) => Convert.ToHexString(BitConverter.GetBytes(value));

    private static string[] Firsts(string what, int from, int active = 0) =>
        [.. Enumerable.Range(from, 8).Select(number => $"{what} 5.{number} {(number == active ? "on" : "off")} first")];

    [Fact]
    public void AnInputComesInTheTpdoThatTheSheetNames()
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll("285#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Equal("panel.eds is taken for node 5: nothing that was heard speaks against it, but no identity was heard either.", Assert.Single(events.SheetRemarks));
        Assert.Null(events.ProductOf(5));
    }

    [Fact]
    public void AnIdentityThatWasHeardMakesItSure()
    {
        WrittenEvents events = new(null, PanelSheet, RelaySheet);
        events.FeedAll(Identify(Panel8));
        events.TakeMeanings();
        events.FeedAll("285#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Equal("module 101", events.ProductOf(5));
        Assert.Equal("relays.eds: no node that was heard is such a device.", Assert.Single(events.SheetRemarks));
    }

    [Theory]
    [InlineData(0x1018, 1, 0xFA1u)]
    [InlineData(0x1018, 2, Relays8)]
    [InlineData(0x1000, 0, 0x30192u)]
    public void AnotherDeviceIsReadAsWithoutTheSheet(int index, int subIndex, uint value)
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll($"605#40{index & 0xFF:X2}{index >> 8:X2}{subIndex:X2}00000000", $"585#43{index & 0xFF:X2}{index >> 8:X2}{subIndex:X2}{LittleEndian(value)}");
        events.TakeMeanings();
        events.FeedAll("285#01", "185#02");

        // Profile 402 is for drives: such a device has no inputs by default.
        Assert.Equal(index == 0x1000 ? [] : Firsts("input", 1, 2), events.TakeMeanings());
        Assert.Equal("panel.eds: no node that was heard is such a device.", Assert.Single(events.SheetRemarks));
    }

    [Fact]
    public void ALengthThatDoesNotFitEndsAnAssumptionBeforeAnythingIsRead()
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll("285#0100", "285#01", "185#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Equal("panel.eds doesn't describe node 5: PDOs were heard that don't fit. What was heard wins; they are read as without data sheet.", Assert.Single(events.SheetRemarks));
    }

    [Theory]
    [InlineData("185#01")]
    [InlineData("385#01")]
    [InlineData("205#01")]
    public void APdoThatTheDeviceDoesNotHaveEndsAnAssumption(string frame)
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll(frame, "185#01");
        Assert.Contains("input 5.1 on first", events.Lines);
        Assert.StartsWith("panel.eds doesn't describe node 5", Assert.Single(events.SheetRemarks), StringComparison.Ordinal);
    }

    [Fact]
    public void ASheetThatNoLongerHoldsLeavesNoStateBehind()
    {
        WrittenEvents events = new(null, Sheet(Text(Panel8, null, ("TPDO1", ["60000108"], null), ("TPDO2", ["60000208"], null))));
        events.FeedAll("185#01");
        events.TakeMeanings();

        // Read by the sheet, input 1 would now go off; read anew, it is only known.
        events.FeedAll("285#0101", "185#00");
        Assert.Equal(Firsts("input", 1), events.TakeMeanings());
    }

    [Fact]
    public void OfSeveralSheetsTheLengthTellsTheOne()
    {
        DataSheet wide = Sheet(Text(0x301, null, ("TPDO2", ["60000108", "60000208"], null)), "wide.eds");
        WrittenEvents events = new(null, PanelSheet, wide);
        events.FeedAll("285#0001");
        Assert.Contains("input 5.9 on first", events.Lines);
        Assert.Equal(
            ["wide.eds is taken for node 5: nothing that was heard speaks against it, but no identity was heard either.", "panel.eds: no node that was heard is such a device."],
            events.SheetRemarks);
        events.FeedAll("286#010101");
        Assert.Contains("None of the data sheets describes node 6: PDOs were heard that don't fit. What was heard wins; they are read as without data sheet.", events.SheetRemarks);
    }

    [Fact]
    public void WhatSeveralSheetsDisagreeOnIsNotRead()
    {
        WrittenEvents events = new(null, PanelSheet, RelaySheet);
        events.FeedAll("285#01");
        Assert.Empty(events.TakeMeanings());
        Assert.StartsWith("More than one data sheet may hold for node 5, and they don't agree;", Assert.Single(events.SheetRemarks), StringComparison.Ordinal);

        // Once it is heard which device it is, the same payload is read.
        events.FeedAll(Identify(Relays8));
        events.TakeMeanings();
        events.FeedAll("285#01");
        Assert.Equal(Firsts("reported", 1, 1), events.TakeMeanings());
        Assert.Equal("panel.eds: no node that was heard is such a device.", Assert.Single(events.SheetRemarks));
    }

    [Fact]
    public void WhatSeveralSheetsAgreeOnIsRead()
    {
        WrittenEvents events = new(null, PanelSheet, Sheet(Text(0x301, null, ("TPDO2", ["60000108"], null), ("TPDO3", ["60000208"], null)), "other.eds"));
        events.FeedAll("285#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Empty(events.SheetRemarks);
    }

    [Fact]
    public void TheRevisionTellsTwoSheetsOfOneProductApart()
    {
        DataSheet first = PanelSheet with { Revision = 1 };
        DataSheet second = Sheet(Text(Panel8, null, ("TPDO2", ["60000208"], null)), "second.eds") with { Revision = 2 };
        WrittenEvents events = new(null, first, second);
        events.FeedAll([.. Identify(Panel8), "605#4018100300000000", "585#43181003" + LittleEndian(2)]);
        events.TakeMeanings();
        events.FeedAll("285#01");
        Assert.Equal(Firsts("input", 9, 9), events.TakeMeanings());
    }

    [Theory]
    [InlineData("MODULE 201")]
    [InlineData("WR-R8")]
    public void TheTypeInTheRecordNamesTheSheet(string type)
    {
        AsBuiltRecord record = new() { Nodes = [new() { Address = 5, Type = type }] };
        WrittenEvents events = new(record, PanelSheet, RelaySheet with { OrderCode = "WR-R8" });
        events.FeedAll("285#01", "205#02");
        Assert.Equal([.. Firsts("reported", 1, 1), .. Firsts("commanded", 1, 2)], events.TakeMeanings());
        Assert.Equal("module 201", events.ProductOf(5));
    }

    [Fact]
    public void AConfigurationFileHoldsForItsNodeOnly()
    {
        WrittenEvents events = new(null, Sheet(WorkshopPanel, "ws-05.dcf"));
        events.FeedAll("1C5#01", "186#01");
        Assert.Equal([.. Firsts("input", 9, 9), .. Firsts("input", 1, 1).Select(line => line.Replace("5.", "6.", StringComparison.Ordinal))], events.TakeMeanings());
        Assert.Empty(events.SheetRemarks);
        Assert.Equal("Push-button panel 8", events.ProductOf(5));
        Assert.Null(events.ProductOf(6));
    }

    [Fact]
    public void AConfigurationFileWinsOverADataSheet()
    {
        WrittenEvents events = new(null, Sheet(Panel), Sheet(WorkshopPanel, "ws-05.dcf"));
        events.FeedAll([.. Identify(Panel8)]);
        events.TakeMeanings();
        events.FeedAll("1C5#01", "286#01");
        Assert.Equal([.. Firsts("input", 9, 9), .. Firsts("input", 1, 1).Select(line => line.Replace("5.", "6.", StringComparison.Ordinal))], events.TakeMeanings());
    }

    [Fact]
    public void TheRecordWinsOverAConfigurationFile()
    {
        // The record says where a node differs from the default, so what it leaves out is the default.
        AsBuiltRecord record = new() { Nodes = [new() { Address = 5, PdoMapping = new Dictionary<string, IReadOnlyList<MappedObject>> { ["TPDO3"] = [new(0x6000, 4)] } }] };
        WrittenEvents events = new(record, Sheet(WorkshopPanel, "ws-05.dcf"));
        events.FeedAll("385#01", "1C5#01");
        Assert.Equal([.. Firsts("input", 25, 25), .. Firsts("input", 1, 1)], events.TakeMeanings());
    }

    [Fact]
    public void AMappingThatWasHeardWinsAndIsToldOnce()
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll("605#40011A0000000000", "585#4F011A0001000000", "605#40011A0100000000", "585#43011A0108030060");
        events.TakeMeanings();
        events.FeedAll("285#01", "285#00", "285#01");
        Assert.Equal([.. Firsts("input", 17, 17), "input 5.17 off", "input 5.17 on"], events.TakeMeanings());
        Assert.Equal(
            ["What was read from node 5, or written there, about PDOs isn't what panel.eds says. What was heard wins.", "panel.eds is taken for node 5: nothing that was heard speaks against it, but no identity was heard either."],
            events.SheetRemarks);
    }

    [Fact]
    public void AMappingThatWasHeardInPartAndContradictsReadsNothing()
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll("605#40011A0100000000", "585#43011A0108030060");
        events.TakeMeanings();
        events.FeedAll("285#01");
        Assert.Empty(events.TakeMeanings());
        Assert.StartsWith("What was read from node 5, or written there, about PDOs isn't what panel.eds says.", events.SheetRemarks[0], StringComparison.Ordinal);
    }

    [Fact]
    public void AMappingThatIsHeardAsTheSheetHasItIsNoContradiction()
    {
        WrittenEvents events = new(null, [PanelSheet with { Node = 5 }]);
        events.FeedAll("605#40011A0000000000", "585#4F011A0001000000", "605#40011A0100000000", "585#43011A0108010060", "605#4001180100000000", "585#4301180185020000");
        events.TakeMeanings();
        events.FeedAll("285#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Empty(events.SheetRemarks);
    }

    [Fact]
    public void ALengthThatDoesNotFitASureSheetSilencesThatPdoOnly()
    {
        WrittenEvents events = new(null, Sheet(Text(Panel8, "NodeID=5", ("TPDO1", ["60000108"], null), ("TPDO2", ["60000208"], null)), "ws-05.dcf"));
        events.FeedAll("185#0100", "185#01", "285#01");
        Assert.Equal(Firsts("input", 9, 9), events.TakeMeanings());
        Assert.Equal("TPDO1 of node 5 has 2 bytes, but by ws-05.dcf it has 1 byte. What was heard wins; nothing is read from this PDO.", Assert.Single(events.SheetRemarks));
    }

    [Fact]
    public void AConfigurationFileOfAnotherDeviceIsNotUsed()
    {
        WrittenEvents events = new(null, Sheet(WorkshopPanel, "ws-05.dcf"));
        events.FeedAll([.. Identify(Relays8)]);
        events.TakeMeanings();
        events.FeedAll("185#01");
        Assert.Equal(Firsts("input", 1, 1), events.TakeMeanings());
        Assert.Null(events.ProductOf(5));
        Assert.Equal("Node 5 says that it is another device than ws-05.dcf describes (product 0x00000201, the file has 0x00000101). What was heard wins; the file isn't used.", Assert.Single(events.SheetRemarks));
    }

    [Fact]
    public void AnOutputIsCommandedOnTheIdentifierThatTheFileNames()
    {
        WrittenEvents events = new(null, Sheet(Text(Relays8, "NodeID=5", ("RPDO1", ["62000108"], "0x345")), "ws-05.dcf"));
        events.FeedAll("345#01");
        Assert.Equal(Firsts("commanded", 1, 1), events.TakeMeanings());
        Assert.Equal(DecodeOutcome.NotCanOpen, events.Feed("205#00"));
        Assert.Empty(events.TakeMeanings());
    }

    [Theory]
    [InlineData("0x80000205")]
    [InlineData("$NODEID+0x80000200")]
    [InlineData("0x80000000")]
    public void AnRpdoThatTheFileHasSwitchedOffReceivesNothing(string cobId)
    {
        WrittenEvents events = new(null, Sheet(Text(Relays8, "NodeID=5", ("RPDO1", ["62000108"], cobId)), "ws-05.dcf"));
        Assert.Equal(DecodeOutcome.NotCanOpen, events.Feed("205#01"));
        events.FeedAll("606#2300140105020000", "605#2300140105020000", "585#6000140100000000", "205#01");
        Assert.Contains("commanded 5.1 on first", events.Lines);
        Assert.StartsWith("What was read from node 5, or written there,", Assert.Single(events.SheetRemarks), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("0x785")]
    [InlineData("0x20000185")]
    [InlineData("0")]
    [InlineData("$NODEID")]
    public void AnIdentifierThatIsNoPdosIsNotFollowed(string cobId)
    {
        WrittenEvents events = new(null, Sheet(Text(Panel8, "NodeID=5", ("TPDO2", ["60000108"], cobId), ("RPDO1", ["62000108"], cobId)), "ws-05.dcf"));
        events.FeedAll("285#01", "205#01");
        Assert.Equal([.. Firsts("input", 1, 1), .. Firsts("commanded", 1, 1)], events.TakeMeanings());
    }

    [Fact]
    public void ATpdoThatStillComesWhereTheFileMovedItFromIsNotRead()
    {
        WrittenEvents events = new(null, Sheet(WorkshopPanel, "ws-05.dcf"));
        Assert.Equal(5, events.SenderOf(0x1C5));
        Assert.Equal(5, events.SenderOf(0x185));
        events.FeedAll("185#01");
        Assert.Empty(events.TakeMeanings());
        Assert.Equal(0x45, events.SenderOf(0x1C5));
        Assert.Equal("TPDO1 of node 5 comes on its predefined identifier, from where ws-05.dcf has moved it. What was heard wins; nothing is read from this PDO.", Assert.Single(events.SheetRemarks));
    }

    [Fact]
    public void AnIdentifierThatWasLeftMayBeAnothers()
    {
        WrittenEvents events = new(null, Sheet(WorkshopPanel, "ws-05.dcf"), Sheet(Text(Panel8, "NodeID=6", ("TPDO1", ["60000108"], "0x185")), "ws-06.dcf"));
        events.FeedAll("185#01", "1C5#01");
        Assert.Equal([.. Firsts("input", 1, 1).Select(line => line.Replace("5.", "6.", StringComparison.Ordinal)), .. Firsts("input", 9, 9)], events.TakeMeanings());
        Assert.Empty(events.SheetRemarks);
    }

    [Fact]
    public void AnAssumptionMovesNoIdentifier()
    {
        WrittenEvents events = new(null, Sheet(Text(Panel8, null, ("TPDO1", ["60000108"], "$NODEID+0x1C0"))));
        events.FeedAll("1C5#01");
        Assert.Contains("input 69.1 on first", events.Lines);
        Assert.StartsWith("panel.eds doesn't describe node 69", Assert.Single(events.SheetRemarks), StringComparison.Ordinal);
    }

    [Fact]
    public void NamesOfManyNodesAreCut()
    {
        WrittenEvents events = new(null, PanelSheet);
        events.FeedAll([.. Enumerable.Range(1, 20).Select(node => $"{0x280 + node:X3}#00")]);
        Assert.Contains("node 8 and 12 more", Assert.Single(events.SheetRemarks), StringComparison.Ordinal);
    }
}
