using Diagnostics.Core.Wording;
using System.Diagnostics;
using System.Globalization;
using System.Text;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Tests.Protocols.CanOpen;

/// <summary>What a data sheet may look like is CiA 306-1's, from memory: forms of numbers, $NODEID, ParameterValue of a DCF, compact storage.</summary>
public class DataSheetReaderTests
{
    private static readonly MappedObject Inputs = new(0x6000, 1);

    [Fact]
    public void DataSheetOfAPanelIsRead()
    {
        DataSheet sheet = Read(WrenfieldSheets.Panel, out IReadOnlyList<Sentence> remarks);

        Assert.Empty(remarks);
        Assert.Equal(("panel.eds", "Wrenfield Works", "Push-button panel 8", "WR-P8"), (sheet.Name, sheet.VendorName, sheet.ProductName, sheet.OrderCode));
        Assert.Equal((0xFA0u, 0x101u, 0x20004u, 0x30191u), (sheet.Vendor, sheet.Product, sheet.Revision, sheet.DeviceType));
        Assert.Equal((null, null, null), (sheet.Node, sheet.NodeName, sheet.BitRate));
        Assert.Equal([[], [Inputs], [], []], sheet.Transmit.Select(pdo => pdo.Objects!));
        Assert.Equal([[new(0x6200, 1), new(5, 0)], [], [], []], sheet.Receive.Select(pdo => pdo.Objects!));
        Assert.Equal([new SheetCobId(0x80000180, true), new SheetCobId(0x280, true), null, null], sheet.Transmit.Select(pdo => pdo.CobId));
        Assert.Equal(0x205u, sheet.Receive[0].CobId!.Value.Of(5));
    }

    [Fact]
    public void ConfigurationFileSaysWhatItsNodeWasSetTo()
    {
        DataSheet sheet = Read(WrenfieldSheets.WorkshopPanel, out IReadOnlyList<Sentence> remarks);

        Assert.Empty(remarks);
        Assert.Equal(((byte?)5, "workshop buttons", 125_000), (sheet.Node, sheet.NodeName, sheet.BitRate));
        Assert.Equal([[new MappedObject(0x6000, 2)], [], [], []], sheet.Transmit.Select(pdo => pdo.Objects!));
        Assert.Equal([0x1C5u, 0x80000285u], sheet.Transmit.Take(2).Select(pdo => pdo.CobId!.Value.Of(5)));
    }

    [Fact]
    public void BothSpellingsOfCommissioningAreOneSection()
    {
        string right = WrenfieldSheets.WorkshopPanel.Replace("DeviceComissioning", "DeviceCommissioning", StringComparison.Ordinal);
        Assert.Equal((byte?)5, Read(right, out _).Node);
        string both = right + "\n[DeviceComissioning]\nBaudrate=125\n[devicecommissioning]\nnodename=another";
        Assert.Equal(((byte?)5, (int?)125_000), (Read(both, out _).Node, Read(both, out _).BitRate));
    }

    [Theory]
    [InlineData("385")]
    [InlineData("0x181")]
    [InlineData("0X181")]
    [InlineData("0601")]
    [InlineData("0x00000181")]
    [InlineData("\t0x181\t; moved")]
    public void NumbersHaveThreeForms(string number) =>
        Assert.Equal(new SheetCobId(0x181, false), Read(WrenfieldSheets.Panel.Replace("0x280+$NODEID", number, StringComparison.Ordinal), out _).Transmit[1].CobId);

    [Theory]
    [InlineData("$NODEID+0x180", 0x180u)]
    [InlineData("$nodeid + 384", 0x180u)]
    [InlineData("0x180 + $NODEID", 0x180u)]
    [InlineData("$NODEID+0x40000180", 0x40000180u)]
    [InlineData("$NODEID", 0u)]
    public void AddressMayHaveToBeAdded(string formula, uint value) =>
        Assert.Equal(new SheetCobId(value, true), Read(WrenfieldSheets.Panel.Replace("0x280+$NODEID", formula, StringComparison.Ordinal), out _).Transmit[1].CobId);

    [Theory]
    [InlineData("\n", "")]
    [InlineData("\r\n", "")]
    [InlineData("\r", "")]
    [InlineData("\r\n", "\uFEFF")]
    public void EveryEndOfLineAndAMarkAtTheBeginningAreRead(string end, string mark)
    {
        DataSheet sheet = Read(mark + WrenfieldSheets.Panel.ReplaceLineEndings(end), out _);
        Assert.Equal([Inputs], sheet.Transmit[1].Objects!);
    }

    [Fact]
    public void TextInLatin1AndInUtf8IsTheSame()
    {
        string text = WrenfieldSheets.Panel.Replace("Wrenfield Works", "Wrenfield Café", StringComparison.Ordinal);
        Assert.True(DataSheetReader.TryRead(Encoding.Latin1.GetBytes(text), "x", out DataSheet? latin, out _, out _));
        Assert.Equal("Wrenfield Café", latin!.VendorName);
        Assert.Equal("Wrenfield Café", Read(text, out _).VendorName);
    }

    [Fact]
    public void LinesAreCountedAlikeWhateverBytesTheyHold()
    {
        // 85h is an ellipsis in the code page of Windows, but a line end in Unicode.
        byte[] text = [.. Encoding.Latin1.GetBytes("; one\u0085two\n" + WrenfieldSheets.Panel.Replace("0x60000108", "0x60x", StringComparison.Ordinal))];
        Assert.False(DataSheetReader.TryRead(text, "x", out _, out DataSheetError? error, out _));
        Assert.Equal(1 + LineOf("DefaultValue=0x60000108"), error!.Line);
    }

    [Fact]
    public void ControlCharactersOfNamesDoNotComeThrough() =>
        Assert.Equal("pan?[31mel", Read(WrenfieldSheets.Panel.Replace("Push-button panel 8", "pan\u001b[31mel", StringComparison.Ordinal), out _).ProductName);

    [Fact]
    public void MappingsInCompactStorageAreRead()
    {
        string text = WrenfieldSheets.Panel.Replace(
            "[1A01]\nSubNumber=2\n\n[1A01sub0]\nDefaultValue=1\n\n[1A01sub1]",
            "[1A01]\nCompactSubObj=2\nDefaultValue=0x60000108\n\n[1A01Value]\nNrOfEntries=1\n2=0x60000208\n\n[other]",
            StringComparison.Ordinal);
        Assert.Equal([Inputs, new(0x6000, 2)], Read(text, out _).Transmit[1].Objects!);
    }

    [Fact]
    public void ADeviceWithoutPdosIsNotOneWhosePdosAreNotSaid()
    {
        string none = WrenfieldSheets.Text(0x101, null);
        Assert.All(Read(none, out _).Transmit, pdo => Assert.Equal([], pdo.Objects!));
        Assert.All(Read(none.Replace("NrOfTXPDO=0", "NrOfTXPDO=2", StringComparison.Ordinal), out _).Transmit, pdo => Assert.Null(pdo.Objects));
        Assert.All(Read(none.Replace("NrOfTXPDO=0", "", StringComparison.Ordinal), out _).Transmit, pdo => Assert.Null(pdo.Objects));
        string compact = WrenfieldSheets.Text(0x101, null, ("TPDO1", ["60000108"], null)).Replace("NrOfTXPDO=0", "CompactPDO=3", StringComparison.Ordinal);
        Assert.Equal([Inputs], Read(compact, out _).Transmit[0].Objects!);
        Assert.Null(Read(compact, out _).Transmit[1].Objects);
    }

    [Fact]
    public void AMultiplexedPdoHasEightBytesOfUnknownMeaning()
    {
        SheetPdo pdo = Read(WrenfieldSheets.Panel.Replace("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=0xFE", StringComparison.Ordinal), out _).Transmit[1];
        Assert.Equal(8, pdo.Bytes);
    }

    [Theory]
    [InlineData("VendorNumber=0x00000FA0", "VendorNumber=", 0xFA0)]
    [InlineData("DefaultValue=0xFA0", "DefaultValue=", 0xFA0)]
    [InlineData("DefaultValue=0xFA0", "DefaultValue=0", 0xFA0)]
    public void IdentityStandsInTwoPlacesAndOneIsEnough(string from, string to, uint vendor) =>
        Assert.Equal(vendor, Read(WrenfieldSheets.Panel.Replace(from, to, StringComparison.Ordinal), out _).Vendor);

    [Fact]
    public void ANumberOfZeroSaysNothing()
    {
        string text = WrenfieldSheets.Panel.Replace("VendorNumber=0x00000FA0", "VendorNumber=0", StringComparison.Ordinal).Replace("DefaultValue=0xFA0", "DefaultValue=0", StringComparison.Ordinal);
        Assert.Null(Read(text, out _).Vendor);
    }

    [Theory]
    [InlineData("VendorNumber=0x00000FA0", "VendorNumber=0xFA1", "1018h sub 1 is 0xFA0, but VendorNumber is 0xFA1")]
    [InlineData("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=2", "TPDO2 carries isn't said in whole (1A01h sub 2 is missing)")]
    [InlineData("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=", "how many objects TPDO2 carries isn't said (1A01h sub 0)")]
    [InlineData("0x280+$NODEID", "0x12345", "1801h sub 1: 0x12345 is no identifier")]
    public void WhatSaysLessThanItShouldIsTold(string from, string to, string remark)
    {
        DataSheet sheet = Read(WrenfieldSheets.Panel.Replace(from, to, StringComparison.Ordinal), out IReadOnlyList<Sentence> remarks);
        Assert.Contains(remark, Assert.Single(remarks).English, StringComparison.Ordinal);
        Assert.Matches("^line [0-9]+[:]? ", remarks[0].English);
        Assert.True(sheet.Transmit[1].Objects is null || sheet.Transmit[1].Objects!.Single() == Inputs);
    }

    [Fact]
    public void ABitRateThatCanOpenDoesNotHaveIsTold()
    {
        DataSheet sheet = Read(WrenfieldSheets.WorkshopPanel.Replace("Baudrate=125", "Baudrate=125000", StringComparison.Ordinal), out IReadOnlyList<Sentence> remarks);
        Assert.Null(sheet.BitRate);
        Assert.Contains("Baudrate 125000 kbit/s", Assert.Single(remarks).English, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=0x6000010G", "'0x6000010G' is no number (DefaultValue of [1A01sub1])")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=0x160000108", "is no number")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=-1", "is no number")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=$NODEID+0x60000108", "is no number")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=0x60000100", "0x60000100 is no entry of a mapping")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=0x60000141", "more than 64 bits")]
    [InlineData("DefaultValue=0x60000108", "DefaultValue=0x06000010", "is no entry of a mapping")]
    [InlineData("DefaultValue=0x280+$NODEID", "DefaultValue=$NODEID+", "is no number")]
    [InlineData("DefaultValue=0x280+$NODEID", "DefaultValue=$NODEID-0x280", "is no number")]
    [InlineData("DefaultValue=0x280+$NODEID", "DefaultValue=089", "'089' is no number")]
    [InlineData("VendorNumber=0x00000FA0", "VendorNumber=Wrenfield", "'Wrenfield' is no number (VendorNumber of [DeviceInfo])")]
    [InlineData("VendorNumber=0x00000FA0", "VendorNumber=4000\nVendorNumber=4001", "VendorNumber of [DeviceInfo] is given again with another value")]
    [InlineData("[1000]", "[1000x]", "the section [1000] is missing")]
    [InlineData("[DeviceInfo]", "[Device]", "it has no section [DeviceInfo]")]
    [InlineData("2=0x1400", "2=0x1402", "object 1402h is listed, but its section is missing")]
    public void WhatIsWrongIsToldWithItsLine(string from, string to, string problem)
    {
        DataSheetError error = Refused(WrenfieldSheets.Panel.Replace(from, to, StringComparison.Ordinal));
        Assert.Contains(problem, error.Problem, StringComparison.Ordinal);
        Assert.False(string.IsNullOrWhiteSpace(error.Remedy));
        Assert.InRange(error.Line, 1, 200);
        if (from.StartsWith("DefaultValue", StringComparison.Ordinal))
        {
            Assert.Equal(LineOf(from), error.Line);
        }
    }

    [Theory]
    [InlineData("NodeID=0")]
    [InlineData("NodeID=128")]
    [InlineData("NodeID=0xFFFFFFFF")]
    public void AnAddressThatCanOpenDoesNotHaveIsRefused(string node) =>
        Assert.Contains("is no address", Refused(WrenfieldSheets.WorkshopPanel.Replace("NodeID=5", node, StringComparison.Ordinal)).Problem, StringComparison.Ordinal);

    [Fact]
    public void AConfigurationFileWithoutAnAddressHoldsForEveryModule() =>
        Assert.Null(Read(WrenfieldSheets.WorkshopPanel.Replace("NodeID=5", "NodeID=", StringComparison.Ordinal), out _).Node);

    [Theory]
    [InlineData("")]
    [InlineData("{ \"schema\": 1 }")]
    [InlineData("[Section]\nKey=1\n")]
    [InlineData("(0.0) can0 185#00\n")]
    public void WhatIsNoDataSheetIsToldAsSuch(string text)
    {
        DataSheetError error = Refused(text);
        Assert.Contains("this is no data sheet", error.Problem, StringComparison.Ordinal);
        Assert.Equal(1, error.Line);
    }

    [Fact]
    public void OtherFormsOfDataSheetsAreToldApart()
    {
        Assert.Contains("XML", Refused("\uFEFF<?xml version=\"1.0\"?>").Problem, StringComparison.Ordinal);
        Assert.False(DataSheetReader.TryRead(Encoding.Unicode.GetPreamble().Concat(Encoding.Unicode.GetBytes(WrenfieldSheets.Panel)).ToArray(), "x", out _, out DataSheetError? wide, out _));
        Assert.Contains("UTF-16", wide!.Problem, StringComparison.Ordinal);
        Assert.False(DataSheetReader.TryRead(new byte[CanOpenLimits.DataSheetBytes + 1], "x", out _, out DataSheetError? error, out _));
        Assert.Contains("longer than 4 MB", error!.Problem, StringComparison.Ordinal);
    }

    [Fact]
    public void ASectionThatComesTwiceIsOne()
    {
        string twice = WrenfieldSheets.Panel + "\n[deviceinfo]\nVendorNumber=0x00000FA0\n[1A01SUB1]\nPDOMapping=0\n";
        Assert.Equal([Inputs], Read(twice, out _).Transmit[1].Objects!);
        Assert.Contains("given again", Refused(WrenfieldSheets.Panel + "\n[1a01SUB1]\nDefaultValue=0x60000208\n").Problem, StringComparison.Ordinal);
    }

    [Fact]
    public void HugeCountsTakeNoTime()
    {
        Stopwatch watch = Stopwatch.StartNew();
        Refused(WrenfieldSheets.Panel.Replace("[1A01sub0]\nDefaultValue=1", "[1A01sub0]\nDefaultValue=4294967295", StringComparison.Ordinal));
        Read(WrenfieldSheets.Panel.Replace("SupportedObjects=7", "SupportedObjects=4294967295", StringComparison.Ordinal), out _);
        Refused(WrenfieldSheets.Panel + "\n[1A02]\nCompactSubObj=4294967295\nDefaultValue=0x60000108\n[1A00Value]\nNrOfEntries=4294967295");
        Read(WrenfieldSheets.Panel + string.Concat(Enumerable.Repeat("\n[1A00sub1]\nx=1;" + new string('x', 2000), 1000)), out IReadOnlyList<Sentence> remarks);
        Assert.InRange(remarks.Count, 0, CanOpenLimits.DataSheetRemarks);
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(10));
    }

    /// <summary>A file that was cut may be refused or say less; it must never say something else.</summary>
    [Fact]
    public void NoLengthOfACutFileMapsAnythingElse()
    {
        int read = 0;
        foreach (string text in (string[])[WrenfieldSheets.Panel, WrenfieldSheets.WorkshopPanel])
        {
            byte[] bytes = Encoding.UTF8.GetBytes(text);
            DataSheet whole = Read(text, out _);
            for (int length = 0; length < bytes.Length; length++)
            {
                if (!DataSheetReader.TryRead(bytes.AsSpan(0, length), "x", out DataSheet? cut, out DataSheetError? error, out _))
                {
                    Assert.InRange(error!.Line, 1, 400);
                    continue;
                }

                read++;
                Assert.Equal(whole.Node, cut!.Node);
                for (int number = 1; number <= 4; number++)
                {
                    IsPartOf(whole.Pdo(true, number), cut.Pdo(true, number));
                    IsPartOf(whole.Pdo(false, number), cut.Pdo(false, number));
                }
            }
        }

        Assert.NotEqual(0, read);

        static void IsPartOf(SheetPdo whole, SheetPdo cut)
        {
            Assert.True(cut.Objects is null || cut.Objects.SequenceEqual(whole.Objects!));
            Assert.True(cut.CobId is null || cut.CobId == whole.CobId || cut.CobId.Value.Of(5) < 0x181);
        }
    }

    /// <summary>Bytes changed, doubled and taken out at random from a seed: no exception, no endless loop, and within all bounds.</summary>
    [Fact]
    public void DamagedFilesNeverThrow()
    {
        int rounds = int.TryParse(Environment.GetEnvironmentVariable("DIAGNOSTICS_FUZZ_ROUNDS"), NumberStyles.None, CultureInfo.InvariantCulture, out int asked) ? asked : 5_000;
        byte[] seed = Encoding.UTF8.GetBytes(WrenfieldSheets.WorkshopPanel);
        byte[] likely = "[]=;$+0x\r\n\0\u00FF9"u8.ToArray();
        int usable = 0;
        for (int round = 0; round < rounds; round++)
        {
            Random random = new(round);
            List<byte> bytes = [.. seed];
            for (int i = random.Next(1, 6); i > 0; i--)
            {
                int place = random.Next(bytes.Count);
                switch (random.Next(4))
                {
                    case 0:
                        bytes[place] = likely[random.Next(likely.Length)];
                        break;
                    case 1:
                        bytes[place] = (byte)random.Next(256);
                        break;
                    case 2:
                        bytes.RemoveRange(place, Math.Min(random.Next(1, 40), bytes.Count - place));
                        break;
                    default:
                        bytes.InsertRange(place, bytes.GetRange(place, Math.Min(random.Next(1, 40), bytes.Count - place)));
                        break;
                }
            }

            bool isRead = DataSheetReader.TryRead(bytes.ToArray(), "x", out DataSheet? sheet, out DataSheetError? error, out IReadOnlyList<Sentence> remarks);
            Assert.True(isRead == sheet is not null && isRead == error is null, "round " + round.ToString(CultureInfo.InvariantCulture));
            Assert.InRange(remarks.Count, 0, CanOpenLimits.DataSheetRemarks);
            if (sheet is not null)
            {
                usable++;
                Assert.True(sheet.Node is null or (>= 1 and <= 127));
                Assert.All(sheet.Transmit.Concat(sheet.Receive), pdo => Assert.InRange(pdo.Bytes ?? 0, 0, 8));

                // Whatever it says, the decoder can live with it.
                _ = new WrittenEvents(null, sheet).Feed("185#00");
            }
        }

        Assert.InRange(usable, rounds / 10, rounds);
    }

    private static int LineOf(string line) => WrenfieldSheets.Panel[..WrenfieldSheets.Panel.IndexOf(line, StringComparison.Ordinal)].Count(character => character == '\n') + 1;

    private static DataSheet Read(string text, out IReadOnlyList<Sentence> remarks)
    {
        Assert.True(DataSheetReader.TryRead(Encoding.UTF8.GetBytes(text), "panel.eds", out DataSheet? sheet, out DataSheetError? error, out remarks), error?.ToString());
        return sheet!;
    }

    private static DataSheetError Refused(string text)
    {
        Assert.False(DataSheetReader.TryRead(Encoding.UTF8.GetBytes(text), "panel.eds", out DataSheet? sheet, out DataSheetError? error, out _));
        Assert.Null(sheet);
        return error!;
    }
}
