using Diagnostics.Core.Wording;
using System.Globalization;
using Diagnostics.Core.AsBuilt;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// Goes through the sections of one data sheet. Keys and rules of CiA 306-1, from memory: an object is a section named by its index, a sub-object
/// <c>1A00sub1</c>; <c>ParameterValue</c> is what a DCF sets, <c>DefaultValue</c> what the device comes with; objects of equal parts may be written
/// in short with <c>CompactSubObj</c>, their values then in a section <c>1A00Value</c>. Numbers are decimal, 0x hexadecimal, or octal with a leading 0;
/// identifiers may be given as <c>$NODEID+0x180</c>. Only the first error is kept, and with one the sheet made is worthless.
/// </summary>
internal sealed class DataSheetWalk(DataSheetText text)
{
    public const string NameASheet = "name an EDS or DCF of CiA 306, as the maker of the module or the configuration tool gives it";

    private const string General = "DeviceInfo";
    private const string Commissioning = "DeviceComissioning";
    private const string NumberForms = "write a number such as 385 or 0x181, or leave the value empty";

    /// <summary>Entries of a mapping may name a data type instead of an object, to skip bits: 0001h–0007h in CiA 301; 001Fh bounds them all (from memory).</summary>
    private const int HighestDummy = 0x1F;
    private const int FirstObject = 0x1000;
    private const int PdoBits = 64;
    private const uint Invalid = 1u << 31;
    private const uint NoRemoteRequest = 1u << 30;

    private readonly List<Sentence> _remarks = [];

    public DataSheetError? Error { get; private set; }

    public IReadOnlyList<Sentence> Remarks => _remarks;

    public DataSheet Sheet(string name)
    {
        CheckComplete();
        byte? node = Node();
        uint? rate = Number(Commissioning, "Baudrate");
        return new()
        {
            Name = name,
            Node = node,
            NodeName = Words(Commissioning, "NodeName"),
            BitRate = BitRate(rate),
            VendorName = Words(General, "VendorName"),
            ProductName = Words(General, "ProductName"),
            OrderCode = Words(General, "OrderCode"),
            Vendor = Identity("VendorNumber", 1),
            Product = Identity("ProductNumber", 2),
            Revision = Identity("RevisionNumber", 3),
            DeviceType = ObjectNumber(0x1000, 0)?.Value,
            Transmit = Pdos(0x1800, "NrOfTXPDO", "TPDO"),
            Receive = Pdos(0x1400, "NrOfRXPDO", "RPDO"),
        };
    }

    private static string Key(ushort index) => index.ToString("X4", CultureInfo.InvariantCulture);

    private static string Key(ushort index, int subIndex) =>
        subIndex == 0 ? Key(index) + "sub0" : string.Create(CultureInfo.InvariantCulture, $"{index:X4}sub{subIndex:X}");

    /// <summary>A file that breaks off reads like one of a simpler device; but it lists its objects before it describes them.</summary>
    private void CheckComplete()
    {
        if (text.LineOf(General) == 0)
        {
            Fail(1, $"this is no data sheet: it has no section [DeviceInfo]", NameASheet);
        }
        else if (text.LineOf("1000") == 0)
        {
            Fail(text.Lines, $"the section [1000] is missing, which every device has", "fetch the file again: it may have broken off");
        }

        foreach (string list in (string[])["MandatoryObjects", "OptionalObjects", "ManufacturerObjects"])
        {
            foreach (SheetValue value in text.Values(list).OrderBy(value => value.Line))
            {
                if (TryNumber(value.Text, out uint index) && IsUsed(index) && text.LineOf(Key((ushort)index)) == 0)
                {
                    Fail(value.Line, $"object {Key((ushort)index)}h is listed, but its section is missing", "fetch the file again: it may have broken off");
                }
            }
        }
    }

    private static bool IsUsed(uint index) =>
        index is 0x1018 || (index is >= 0x1400 and < 0x1C00 && (index & 0x1FF) < CanOpenLimits.PdosPerDirection);

    private byte? Node()
    {
        if (Number(Commissioning, "NodeID") is not uint node)
        {
            return null;
        }

        if (node is 0 or > CanOpenLimits.HighestNode)
        {
            Fail(text.Value(Commissioning, "NodeID")!.Value.Line, $"NodeID {node} is no address", "give the node's address, 1 to 127, or leave it empty if the file holds for every such module");
        }

        return (byte)node;
    }

    /// <summary>kbit/s there, bit/s here.</summary>
    private int? BitRate(uint? rate)
    {
        if (rate is null or 0)
        {
            return null;
        }

        if (rate * 1000L is >= AsBuiltLimits.LowestBitRate and <= AsBuiltLimits.HighestBitRate and long bits)
        {
            return (int)bits;
        }

        Remark(text.Value(Commissioning, "Baudrate")!.Value.Line, Say($"Baudrate {rate.Value} kbit/s is no bit rate of CANopen and isn't used"));
        return null;
    }

    /// <summary>[DeviceInfo] repeats what the object 1018h holds; where the two differ, the object is what the device answers. 0 says nothing.</summary>
    private uint? Identity(string key, int subIndex)
    {
        uint? general = Number(General, key);
        (uint Value, bool AddsNode, int Line)? held = ObjectNumber(0x1018, subIndex);
        if (held is { Value: not 0 } told && general is uint other and not 0 && told.Value != other)
        {
            Remark(told.Line, Say($"1018h sub {subIndex} is 0x{told.Value:X}, but {key} is 0x{other:X}; the first is used"));
        }

        return held is { Value: not 0 } identity ? identity.Value : general is 0 ? null : general;
    }

    private List<SheetPdo> Pdos(ushort settings, string countKey, string name)
    {
        ushort mapping = (ushort)(settings + 0x200);
        bool isAnyThere = Enumerable.Range(0, CanOpenLimits.PdosPerDirection).Any(pdo => IsThere((ushort)(mapping + pdo)));

        // Where PDOs are written in short (CompactPDO), what isn't there is only not said.
        bool isNoneSure = Number(General, "CompactPDO") is null or 0 && (isAnyThere || Number(General, countKey) == 0);
        List<SheetPdo> pdos = [];
        for (int pdo = 0; pdo < CanOpenLimits.PdosPerDirection; pdo++)
        {
            ushort index = (ushort)(mapping + pdo);
            pdos.Add(new(
                CobId((ushort)(settings + pdo)),
                IsThere(index) ? Mapping(index, string.Create(CultureInfo.InvariantCulture, $"{name}{pdo + 1}")) : isNoneSure ? [] : null));
        }

        return pdos;
    }

    private bool IsThere(ushort index) => text.LineOf(Key(index)) != 0 || text.LineOf(Key(index, 0)) != 0;

    /// <summary>Null, with a remark, for an identifier that no PDO may have: then the predefined one is assumed.</summary>
    private SheetCobId? CobId(ushort index)
    {
        if (ObjectNumber(index, 1, mayAddNode: true) is not { } held)
        {
            return null;
        }

        // A sum may run over; so bounds are looked at where the address is known, and here only whether a base identifier is there at all.
        uint flags = held.Value & (Invalid | NoRemoteRequest);
        uint id = held.Value & ~flags;
        if (id > 0x7FF && (held.Value & (1u << 29)) == 0)
        {
            Remark(held.Line, Say($"{Key(index)}h sub 1: 0x{held.Value:X} is no identifier and isn't used"));
            return null;
        }

        return new(held.Value, held.AddsNode);
    }

    private List<MappedObject>? Mapping(ushort index, string pdo)
    {
        int line = Math.Max(text.LineOf(Key(index)), text.LineOf(Key(index, 0)));
        if (ObjectNumber(index, 0) is not { } count)
        {
            Remark(line, Say($"how many objects {pdo} carries isn't said ({Key(index)}h sub 0), so nothing of it is used"));
            return null;
        }

        // 254 and 255 stand for multiplexed PDOs, which have eight bytes whose meaning each frame tells itself (CiA 301, from memory).
        if (count.Value is 254 or 255)
        {
            return [new(0, 0, PdoBits)];
        }

        if (count.Value > CanOpenLimits.MappedObjects)
        {
            Fail(count.Line, $"{pdo} can't carry {count.Value} objects", "give 0 to 64");
            return null;
        }

        List<MappedObject> objects = [];
        int bits = 0;
        for (int subIndex = 1; subIndex <= count.Value; subIndex++)
        {
            if (ObjectNumber(index, subIndex) is not { Value: not 0 } entry)
            {
                Remark(line, Say($"what {pdo} carries isn't said in whole ({Key(index)}h sub {subIndex} is missing), so nothing of it is used"));
                return null;
            }

            MappedObject mapped = new((ushort)(entry.Value >> 16), (byte)(entry.Value >> 8), (byte)entry.Value);
            bits += mapped.Bits;
            if (mapped.Bits is 0 or > PdoBits || mapped.Index is < FirstObject and (0 or > HighestDummy) || bits > PdoBits)
            {
                Fail(
                    entry.Line,
                    bits > PdoBits ? $"{pdo} carries more than 64 bits with 0x{entry.Value:X}" : (FormattableString)$"0x{entry.Value:X} is no entry of a mapping",
                    "an entry is index, sub-index and length in bits, for example 0x60000108");
                return null;
            }

            objects.Add(mapped);
        }

        return objects;
    }

    /// <summary>Null where the sheet gives the object no value.</summary>
    private (uint Value, bool AddsNode, int Line)? ObjectNumber(ushort index, int subIndex, bool mayAddNode = false)
    {
        string whole = Key(index);
        string part = Key(index, subIndex);
        uint? compact = Number(whole, "CompactSubObj");
        bool isInWhole = subIndex == 0 ? index == 0x1000 : subIndex <= compact;

        // An empty value is none, so the next place is asked.
        foreach ((string section, string key) in (ReadOnlySpan<(string, string)>)
            [
                (part, "ParameterValue"),
                (whole + "Value", subIndex.ToString(CultureInfo.InvariantCulture)),
                (whole, "ParameterValue"),
                (part, "DefaultValue"),
                (whole, "DefaultValue"),
            ])
        {
            bool isOfAll = section == whole;
            if ((!isOfAll || isInWhole) && Formula(section, key, mayAddNode) is { } value)
            {
                return value;
            }
        }

        return subIndex == 0 && compact is uint parts ? (parts, false, text.LineOf(whole)) : null;
    }

    private uint? Number(string section, string key) => Formula(section, key, mayAddNode: false)?.Value;

    private (uint Value, bool AddsNode, int Line)? Formula(string section, string key, bool mayAddNode)
    {
        if (text.Value(section, key) is not { } given)
        {
            return null;
        }

        if (given.OtherLine != 0)
        {
            Fail(given.OtherLine, $"{key} of [{section}] is given again with another value (first in line {given.Line})", "keep the one that is true");
            return null;
        }

        ReadOnlySpan<char> said = WithoutComment(given.Text);
        if (said.IsEmpty)
        {
            return null;
        }

        bool addsNode = mayAddNode && TryCutNode(ref said);
        if (said.IsEmpty && addsNode)
        {
            return (0, true, given.Line);
        }

        if (TryNumber(said, out uint number))
        {
            return (number, addsNode, given.Line);
        }

        Fail(given.Line, $"'{Shown(given.Text)}' is no number ({key} of [{section}])", mayAddNode ? "write it as 0x181 or $NODEID+0x180" : NumberForms);
        return null;
    }

    /// <summary>Takes $NODEID and its plus sign from either end.</summary>
    private static bool TryCutNode(ref ReadOnlySpan<char> said)
    {
        const string Node = "$NODEID";
        if (said.StartsWith(Node, StringComparison.OrdinalIgnoreCase))
        {
            ReadOnlySpan<char> rest = said[Node.Length..].TrimStart();
            said = rest.StartsWith("+") && rest.Length > 1 ? rest[1..].TrimStart() : rest;
            return true;
        }

        if (said.EndsWith(Node, StringComparison.OrdinalIgnoreCase) && said[..^Node.Length].TrimEnd() is [.., '+'] sum)
        {
            said = sum[..^1].TrimEnd();
            return true;
        }

        return false;
    }

    private static bool TryNumber(ReadOnlySpan<char> given, out uint number)
    {
        ReadOnlySpan<char> said = WithoutComment(given);
        if (said.StartsWith("0x", StringComparison.OrdinalIgnoreCase))
        {
            return uint.TryParse(said[2..], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out number);
        }

        if (said is not ['0', _, ..])
        {
            return uint.TryParse(said, NumberStyles.None, CultureInfo.InvariantCulture, out number);
        }

        ulong octal = 0;
        foreach (char digit in said)
        {
            octal = (octal << 3) + (uint)(digit - '0');
            if (digit is < '0' or > '7' || octal > uint.MaxValue)
            {
                number = 0;
                return false;
            }
        }

        number = (uint)octal;
        return true;
    }

    private static ReadOnlySpan<char> WithoutComment(ReadOnlySpan<char> value)
    {
        int comment = value.IndexOf(';');
        return (comment < 0 ? value : value[..comment]).Trim();
    }

    private string? Words(string section, string key)
    {
        string words = Shown(text.Value(section, key)?.Text ?? "").Trim();
        return words.Length == 0 ? null : words;
    }

    /// <summary>Text of the file goes into lines of the report: cut, and without control characters.</summary>
    private static string Shown(string words)
    {
        string cut = words.Length > CanOpenLimits.TextCharacters ? words[..CanOpenLimits.TextCharacters] : words;
        return string.Concat(cut.Select(character => char.IsControl(character) || char.IsSurrogate(character) ? '?' : character));
    }

    private void Remark(int line, Sentence words)
    {
        if (_remarks.Count < CanOpenLimits.DataSheetRemarks)
        {
            _remarks.Add(Say($"line {line}: {words}"));
        }
    }

    private void Fail(int line, FormattableString problem, string remedy) => Error ??= new(line, problem.ToString(CultureInfo.InvariantCulture), remedy);
}
