using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>
/// Digital inputs and outputs in PDOs. CiA 401's default mapping from memory, its first entries as public device code has them; device type 1000h:
/// profile in the lower word, bit 16 digital inputs, bit 17 digital outputs (CiA 401, from memory).
/// </summary>
public class PdoDecodingTests
{
    private readonly WrittenEvents _events = new();

    [Fact]
    public void DefaultTpdoCarriesInputsFromOne()
    {
        _events.FeedAll("185#05");

        Assert.Equal(
            ["input 5.1 on first", "input 5.2 off first", "input 5.3 on first", .. Enumerable.Range(4, 5).Select(i => $"input 5.{i} off first")],
            _events.Meanings);
    }

    [Fact]
    public void OnlyChangesAreTold()
    {
        _events.FeedAll("185#0500");
        _events.TakeMeanings();

        _events.FeedAll("185#0500");
        Assert.Empty(_events.TakeMeanings());

        _events.FeedAll("185#0480");
        Assert.Equal(["input 5.1 off", "input 5.16 on"], _events.Meanings);
    }

    [Fact]
    public void FirstKnownIsToldForEachGroupOfEight()
    {
        _events.FeedAll("185#00");
        _events.TakeMeanings();

        _events.FeedAll("185#0001");
        Assert.Equal(["input 5.9 on first", .. Enumerable.Range(10, 7).Select(i => $"input 5.{i} off first")], _events.Meanings);
    }

    [Fact]
    public void DefaultRpdoCommandsOutputs()
    {
        _events.FeedAll("205#00", "205#02");

        Assert.Equal("commanded 5.2 on", _events.Meanings.Last());
        Assert.Equal(9, _events.Meanings.Count());
    }

    [Fact]
    public void CommandByWriteAndByPdoAreOneState()
    {
        _events.FeedAll("205#01");
        _events.TakeMeanings();

        _events.FeedAll("605#2F00620100000000", "585#6000620100000000", "205#01");
        Assert.Equal(["write 5 6200:01 00", "commanded 5.1 off", "commanded 5.1 on"], _events.Meanings);
    }

    [Fact]
    public void ReadingInputsAndOutputsTellsTheirState()
    {
        _events.FeedAll("605#4000600200000000", "585#4F00600201000000", "605#4000620100000000", "585#4F00620101000000");

        Assert.Contains("input 5.9 on first", _events.Lines);
        Assert.Contains("reported 5.1 on first", _events.Lines);
    }

    [Theory]
    [InlineData("91010700", true, true)]
    [InlineData("91010100", true, false)]
    [InlineData("91010200", false, true)]
    [InlineData("91010400", false, false)]
    [InlineData("92010200", false, false)]
    [InlineData("00000000", false, false)]
    public void DeviceTypeDecidesAboutTheDefault(string deviceType, bool hasInputs, bool hasOutputs)
    {
        _events.FeedAll("605#4000100000000000", $"585#43001000{deviceType}", "185#01", "205#01");

        Assert.Equal(hasInputs, _events.Lines.Contains("input 5.1 on first"));
        Assert.Equal(hasOutputs, _events.Lines.Contains("commanded 5.1 on first"));
    }

    [Fact]
    public void OtherTpdosCarryNoInputsByDefault()
    {
        _events.FeedAll("285#FF", "385#FF", "485#FF", "305#FF");

        Assert.Empty(_events.Meanings);
    }

    [Fact]
    public void MappingHeardCompletelyReplacesTheDefault()
    {
        _events.FeedAll("605#40001A0000000000", "585#4F001A0002000000", "605#40001A0100000000", "585#43001A0110000064");
        _events.TakeMeanings();

        // Sub 1 contradicts the default, so nothing is read until sub 2 was heard as well.
        _events.FeedAll("185#0000FF");
        Assert.Empty(_events.TakeMeanings());

        _events.FeedAll("605#40001A0200000000", "585#43001A0208030060");
        _events.TakeMeanings();
        _events.FeedAll("185#000001");
        Assert.Equal(["input 5.17 on first", .. Enumerable.Range(18, 7).Select(i => $"input 5.{i} off first")], _events.Meanings);
    }

    [Fact]
    public void MappingIsBitGranularAndSingleBitsAreSkipped()
    {
        _events.FeedAll(
            "605#2F001A0000000000", "585#60001A0000000000", "605#23001A0101012060", "585#60001A0100000000", "605#23001A0208010060", "585#60001A0200000000",
            "605#2F001A0002000000", "585#60001A0000000000");
        _events.TakeMeanings();

        _events.FeedAll("185#0300");
        Assert.Equal(["input 5.1 on first", .. Enumerable.Range(2, 7).Select(i => $"input 5.{i} off first")], _events.Meanings);
    }

    [Fact]
    public void SamePayloadIsReadAnewOnceTheMappingChanged()
    {
        _events.FeedAll("185#01", "185#01", "605#40001A0000000000", "585#4F001A0001000000", "605#40001A0100000000", "585#43001A0108020060");
        _events.TakeMeanings();

        _events.FeedAll("185#01");
        Assert.Equal("input 5.9 on first", _events.Meanings.First());
    }

    [Fact]
    public void MappingThatWasSwitchedOffReadsNothing()
    {
        _events.FeedAll("605#2F001A0000000000", "585#60001A0000000000");
        _events.TakeMeanings();

        _events.FeedAll("185#FF");
        Assert.Empty(_events.Meanings);
    }

    [Fact]
    public void PdoShorterThanItsMappingIsNotUsed()
    {
        _events.FeedAll("605#40001A0000000000", "585#4F001A0002000000", "605#40001A0100000000", "585#43001A0108010060", "605#40001A0200000000", "585#43001A0208020060");
        _events.TakeMeanings();

        Assert.Equal(DecodeOutcome.PdoTooShort, _events.Feed("185#FF"));
        Assert.Empty(_events.Meanings);
        _events.FeedAll("185#FFFF", "185#FFFFFF");
        Assert.Equal(16, _events.Meanings.Count());
    }

    [Fact]
    public void AsBuiltMappingReadsOutputsBack()
    {
        WrittenEvents events = new(Built(new() { ["TPDO2"] = [new(0x6200, 1)], ["TPDO1"] = [] }));

        events.FeedAll("285#80", "185#FF");

        Assert.Equal([.. Enumerable.Range(1, 7).Select(i => $"reported 5.{i} off first"), "reported 5.8 on first"], events.Meanings);
    }

    [Fact]
    public void MappingHeardWinsOverTheRecord()
    {
        WrittenEvents events = new(Built(new() { ["TPDO2"] = [new(0x6200, 1)] }));
        events.FeedAll("605#40011A0000000000", "585#4F011A0001000000", "605#40011A0100000000", "585#43011A0108040060");
        events.TakeMeanings();

        events.FeedAll("285#01");
        Assert.Equal("input 5.25 on first", events.Meanings.First());
    }

    [Fact]
    public void MovedTpdoIsFollowed()
    {
        _events.FeedAll("605#23001801C5010040", "585#6000180100000000");
        _events.TakeMeanings();

        _events.FeedAll("1C5#01");
        Assert.Contains("pdo T1 5", _events.Lines);
        Assert.Contains("input 5.1 on first", _events.Lines);
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed("185#01"));
    }

    [Fact]
    public void NodeThatGaveUpAnIdentifierReturnsItToItsDefaultOwner()
    {
        _events.FeedAll("606#2300180185010000", "586#6000180100000000", "185#01", "606#2300180186010000", "586#6000180100000000", "185#01");

        Assert.Equal(["pdo T1 6", "pdo T1 5"], _events.Lines.Where(line => line.StartsWith("pdo", StringComparison.Ordinal)));
    }

    [Fact]
    public void BoardsThatListenToAnotherBoardsInputsAreCommandedByThem()
    {
        _events.FeedAll("606#2300140185010000", "586#6000140100000000", "607#2300140185010000", "587#6000140100000000", "185#01");

        Assert.Contains("input 5.1 on first", _events.Lines);
        Assert.Contains("commanded 6.1 on first", _events.Lines);
        Assert.Contains("commanded 7.1 on first", _events.Lines);
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed("206#00"));

        _events.FeedAll("606#2300140106020000", "586#6000140100000000");
        _events.TakeMeanings();
        _events.FeedAll("185#00", "206#00");
        Assert.Equal(["input 5.1 off", "commanded 7.1 off", "commanded 6.1 off"], _events.Meanings);
    }

    [Theory]
    [InlineData("00000000")]
    [InlineData("80000080")]
    [InlineData("85050000")]
    [InlineData("05070000")]
    [InlineData("85010020")]
    public void IdentifierThatIsNoPdosIsNotFollowed(string cobId)
    {
        _events.FeedAll($"605#23001801{cobId}", "585#6000180100000000", "185#01");

        Assert.Contains("input 5.1 on first", _events.Lines);
    }

    [Fact]
    public void RpdoThatIsSwitchedOffReceivesNothingUntilItIsOnAgain()
    {
        // Bit 31 of a COB-ID = the PDO isn't used: CiA 301, from memory.
        _events.FeedAll("605#2300140105020080", "585#6000140100000000", "605#2300140105020080", "585#6000140100000000");
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed("205#01"));

        _events.FeedAll("605#2300140105020000", "585#6000140100000000", "205#01");
        Assert.Contains("commanded 5.1 on first", _events.Lines);
    }

    [Fact]
    public void TpdoThatIsSwitchedOffAndHeardIsReadAllTheSame()
    {
        _events.FeedAll("605#2300180185010080", "585#6000180100000000", "185#01");

        Assert.Contains("input 5.1 on first", _events.Lines);
    }

    [Fact]
    public void MovedEmergencyIsFollowed()
    {
        _events.FeedAll("605#2314100001030000", "585#6014100000000000", "301#1081110000000000");

        Assert.Contains("emergency 5 8110 11 0000000000", _events.Lines);
        Assert.Equal(DecodeOutcome.NotCanOpen, _events.Feed("085#1081110000000000"));
    }

    [Fact]
    public void EverySequenceOfMovesEndsAndKeepsEveryReceiver()
    {
        // Many boards moved over few identifiers and back again: no receiver may be lost or told twice.
        for (int round = 0; round < 3; round++)
        {
            for (int node = 1; node <= 127; node++)
            {
                _events.FeedAll($"{0x600 + node:X3}#230014018{(node + round) % 3 + 1:X1}010000", $"{0x580 + node:X3}#6000140100000000");
            }
        }

        _events.Lines.Clear();
        _events.FeedAll("181#00", "182#00", "183#00");
        IEnumerable<string> received = _events.Lines.Where(line => line.StartsWith("pdo R1", StringComparison.Ordinal));
        Assert.Equal(127, received.Count());
        Assert.Equal(127, received.Distinct().Count());
    }

    private static AsBuiltRecord Built(Dictionary<string, IReadOnlyList<MappedObject>> mapping) =>
        new() { Nodes = [new() { Address = 5, PdoMapping = mapping }] };
}
