using System.Globalization;
using System.Text.Json;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.AsBuilt;

/// <summary>One pass over a text whose syntax is known to be good. The first error ends every loop.</summary>
internal ref struct AsBuiltWalk(ReadOnlySpan<byte> text)
{
    private readonly ReadOnlySpan<byte> _text = text;
    private readonly List<(long Offset, string Path, int Node)> _references = [];
    private Utf8JsonReader _json = new(text);

    public AsBuiltError? Error { get; private set; }

    public List<AsBuiltRemark> Remarks { get; } = [];

    public AsBuiltRecord Record()
    {
        string? site = null;
        string? protocol = null;
        int? bitRate = null;
        List<TrunkEntry> trunk = [];
        List<BuiltNode> nodes = [];
        HashSet<int> addresses = [];
        HashSet<string> seen = [];
        _json.Read();
        while (NextMember(AsBuiltText.Root, seen, out string name))
        {
            string path = AsBuiltText.Root + "." + name;
            switch (name)
            {
                case "schema":
                    break;
                case "site":
                    site = Text(path);
                    break;
                case "bitRate":
                    bitRate = Whole(path, AsBuiltLimits.LowestBitRate, AsBuiltLimits.HighestBitRate, Say($"give the bit rate in bit/s"));
                    break;
                case "protocol":
                    protocol = Text(path);
                    break;
                case "trunk":
                    trunk = Trunk(path);
                    break;
                case "nodes":
                    for (int i = 0; NextItem(path, ref i, AsBuiltLimits.HighestAddress, out string item);)
                    {
                        nodes.Add(Node(item, addresses));
                    }

                    break;
                default:
                    Ignore(path);
                    break;
            }
        }

        foreach ((long offset, string path, int node) in _references)
        {
            if (!addresses.Contains(node))
            {
                Remark(offset, path, Say($"node {node} is not among the nodes of this record"));
            }
        }

        return new() { Site = site, BitRate = bitRate, Protocol = protocol, Trunk = trunk, Nodes = nodes };
    }

    private List<TrunkEntry> Trunk(string path)
    {
        List<TrunkEntry> trunk = [];
        HashSet<int> placed = [];
        for (int i = 0; NextItem(path, ref i, AsBuiltLimits.TrunkEntries, out string item);)
        {
            trunk.Add(TrunkEntry(item, placed));
        }

        return trunk;
    }

    private TrunkEntry TrunkEntry(string path, HashSet<int> placed)
    {
        int? node = null;
        double? ohms = null;
        double? metres = null;
        bool clip = false;
        long start = _json.TokenStartIndex;
        HashSet<string> seen = [];
        while (NextMember(path, seen, out string name))
        {
            string member = path + "." + name;
            switch (name)
            {
                case "node":
                    node = Address(member);
                    if (Error is null && !placed.Add(node.Value))
                    {
                        Fail(_json.TokenStartIndex, member, Say($"node {node.Value} stands on the trunk twice"), Say($"name every node once, in cable order"));
                    }

                    break;
                case "terminatorOhms":
                    ohms = Number(member, AsBuiltLimits.Ohms, Say($"give the resistance in ohms, usually 120"));
                    if (Error is null && ohms <= 0)
                    {
                        Fail(_json.TokenStartIndex, member, Say($"a terminator of no resistance is a short circuit"), Say($"give the resistance in ohms, usually 120"));
                    }

                    break;
                case "clip":
                    if (_json.TokenType is JsonTokenType.True or JsonTokenType.False)
                    {
                        clip = _json.GetBoolean();
                    }
                    else
                    {
                        Fail(_json.TokenStartIndex, member, Say($"a clip is told by true"), Say($"write \"clip\": true"));
                    }

                    break;
                case "metres":
                    metres = Number(member, AsBuiltLimits.Metres, Say($"give the cable from the entry before, in metres, 0 or more"));
                    break;
                default:
                    Ignore(member);
                    break;
            }
        }

        int kinds = (node is null ? 0 : 1) + (ohms is null ? 0 : 1) + (clip ? 1 : 0);
        if (kinds != 1)
        {
            Sentence problem = kinds == 0 ? Say($"this entry says neither node, terminatorOhms nor clip") : Say($"this entry is several things at once");
            Fail(start, path, problem, Say($"give each entry exactly one of \"node\", \"terminatorOhms\" and \"clip\": true"));
        }

        return new(node, ohms, clip, metres);
    }

    private BuiltNode Node(string path, HashSet<int> addresses)
    {
        int? address = null;
        string? name = null;
        string? type = null;
        string? serial = null;
        string? firmware = null;
        List<BuiltInput> inputs = [];
        List<BuiltOutput> outputs = [];
        Dictionary<string, IReadOnlyList<MappedObject>> mapping = [];
        long start = _json.TokenStartIndex;
        HashSet<string> seen = [];
        while (NextMember(path, seen, out string memberName))
        {
            string member = path + "." + memberName;
            switch (memberName)
            {
                case "address":
                    address = Address(member);
                    if (Error is null && !addresses.Add(address.Value))
                    {
                        Fail(_json.TokenStartIndex, member, Say($"address {address.Value} is given twice"), Say($"give every node an address of its own"));
                    }

                    break;
                case "name":
                    name = Text(member);
                    break;
                case "type":
                    type = Text(member);
                    break;
                case "serial":
                    serial = Text(member);
                    break;
                case "firmware":
                    firmware = Text(member);
                    break;
                case "inputs":
                    inputs = Inputs(member);
                    break;
                case "outputs":
                    outputs = Outputs(member);
                    break;
                case "pdoMapping":
                    mapping = PdoMapping(member);
                    break;
                default:
                    Ignore(member);
                    break;
            }
        }

        Require(address is not null, start, path, "address", Say($"give the node's address, 1 to 127"));
        return new()
        {
            Address = address ?? 0,
            Name = name,
            Type = type,
            Serial = serial,
            Firmware = firmware,
            Inputs = inputs,
            Outputs = outputs,
            PdoMapping = mapping,
        };
    }

    private List<BuiltInput> Inputs(string path)
    {
        List<BuiltInput> inputs = [];
        HashSet<int> numbers = [];
        for (int i = 0; NextItem(path, ref i, AsBuiltLimits.HighestInput, out string item);)
        {
            int? input = null;
            string? name = null;
            InputKind kind = InputKind.Unknown;
            long start = _json.TokenStartIndex;
            HashSet<string> seen = [];
            while (NextMember(item, seen, out string memberName))
            {
                string member = item + "." + memberName;
                switch (memberName)
                {
                    case "input":
                        input = Terminal(member, isInput: true, numbers);
                        break;
                    case "name":
                        name = Text(member);
                        break;
                    case "kind":
                        kind = AsBuiltWords.InputKindOf(Word(member, AsBuiltWords.InputKinds));
                        break;
                    default:
                        Ignore(member);
                        break;
                }
            }

            Require(input is not null, start, item, "input", Say($"give the number of the input, 1 or more"));
            inputs.Add(new(input ?? 0, name, kind));
        }

        return inputs;
    }

    private List<BuiltOutput> Outputs(string path)
    {
        List<BuiltOutput> outputs = [];
        HashSet<int> numbers = [];
        for (int i = 0; NextItem(path, ref i, AsBuiltLimits.HighestInput, out string item);)
        {
            int? output = null;
            string? name = null;
            string? kind = null;
            List<SwitchedBy> switchedBy = [];
            long start = _json.TokenStartIndex;
            HashSet<string> seen = [];
            while (NextMember(item, seen, out string memberName))
            {
                string member = item + "." + memberName;
                switch (memberName)
                {
                    case "output":
                        output = Terminal(member, isInput: false, numbers);
                        break;
                    case "name":
                        name = Text(member);
                        break;
                    case "kind":
                        kind = Word(member, AsBuiltWords.OutputKinds);
                        break;
                    case "switchedBy":
                        for (int j = 0; NextItem(member, ref j, AsBuiltLimits.SwitchedBy, out string source);)
                        {
                            switchedBy.Add(SwitchedBy(source));
                        }

                        break;
                    default:
                        Ignore(member);
                        break;
                }
            }

            Require(output is not null, start, item, "output", Say($"give the number of the output, 1 or more"));
            outputs.Add(new(output ?? 0, name, kind, switchedBy));
        }

        return outputs;
    }

    private SwitchedBy SwitchedBy(string path)
    {
        int? node = null;
        int? input = null;
        string? press = null;
        long start = _json.TokenStartIndex;
        HashSet<string> seen = [];
        while (NextMember(path, seen, out string name))
        {
            string member = path + "." + name;
            switch (name)
            {
                case "node":
                    node = Address(member);
                    _references.Add((_json.TokenStartIndex, member, node.Value));
                    break;
                case "input":
                    input = Terminal(member, isInput: true, null);
                    break;
                case "press":
                    press = Word(member, AsBuiltWords.Presses);
                    break;
                default:
                    Ignore(member);
                    break;
            }
        }

        Require(node is not null, start, path, "node", Say($"give the address of the node with the input"));
        Require(input is not null, start, path, "input", Say($"give the number of the input, 1 or more"));
        return new(node ?? 0, input ?? 0, press);
    }

    private Dictionary<string, IReadOnlyList<MappedObject>> PdoMapping(string path)
    {
        Dictionary<string, IReadOnlyList<MappedObject>> mapping = [];
        HashSet<string> seen = [];
        while (NextMember(path, seen, out string name))
        {
            string member = path + "." + name;
            if (name is not ("TPDO1" or "TPDO2" or "TPDO3" or "TPDO4" or "RPDO1" or "RPDO2" or "RPDO3" or "RPDO4"))
            {
                Fail(_json.TokenStartIndex, member, Say($"there is no such PDO"), Say($"name it TPDO1 to TPDO4 or RPDO1 to RPDO4"));
                break;
            }

            List<MappedObject> objects = [];
            for (int i = 0; NextItem(member, ref i, AsBuiltLimits.MappedObjects, out string item);)
            {
                objects.Add(Mapped(item));
            }

            mapping[name] = objects;
        }

        return mapping;
    }

    private MappedObject Mapped(string path)
    {
        Sentence remedy = Say($"write index:sub-index in hexadecimal, four digits and two, such as \"6200:01\"");
        if (_json.TokenType != JsonTokenType.String)
        {
            Fail(_json.TokenStartIndex, path, Say($"a mapped object is a text"), remedy);
            return default;
        }

        string? written = Text(path);
        if (written is { Length: 7 } && written[4] == ':'
            && ushort.TryParse(written.AsSpan(0, 4), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ushort index)
            && byte.TryParse(written.AsSpan(5, 2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out byte subIndex)
            && index != 0 && subIndex != 0xFF)
        {
            return new(index, subIndex);
        }

        Fail(_json.TokenStartIndex, path, Say($"this names no object"), remedy);
        return default;
    }

    private int Address(string path) => Whole(path, 1, AsBuiltLimits.HighestAddress, Say($"give the address that is set on the node"));

    private int Terminal(string path, bool isInput, HashSet<int>? numbers)
    {
        int number = Whole(path, 1, AsBuiltLimits.HighestInput, Say($"inputs and outputs are counted from 1"));
        if (Error is null && numbers is not null && !numbers.Add(number))
        {
            Fail(_json.TokenStartIndex, path, isInput ? Say($"input {number} is given twice") : Say($"output {number} is given twice"), Say($"describe each of them once"));
        }

        return number;
    }

    private int Whole(string path, int lowest, int highest, Sentence remedy)
    {
        if (_json.TokenType != JsonTokenType.Number || !_json.TryGetInt32(out int number))
        {
            Fail(_json.TokenStartIndex, path, Say($"this is no whole number from {lowest} to {highest}"), remedy);
            return lowest;
        }

        if (number < lowest || number > highest)
        {
            Fail(_json.TokenStartIndex, path, Say($"{number} is outside {lowest} to {highest}"), remedy);
            return lowest;
        }

        return number;
    }

    private double Number(string path, double highest, Sentence remedy)
    {
        if (_json.TokenType != JsonTokenType.Number || !_json.TryGetDouble(out double number))
        {
            Fail(_json.TokenStartIndex, path, Say($"this is no number"), remedy);
            return 0;
        }

        if (!(number >= 0 && number <= highest))
        {
            Fail(_json.TokenStartIndex, path, Say($"{number} is outside 0 to {highest}"), remedy);
            return 0;
        }

        return number;
    }

    private string? Text(string path)
    {
        if (_json.TokenType != JsonTokenType.String)
        {
            Fail(_json.TokenStartIndex, path, Say($"this is no text"), Say($"put it in quotes"));
            return null;
        }

        string text;
        try
        {
            text = _json.GetString()!;
        }
        catch (InvalidOperationException)
        {
            Fail(_json.TokenStartIndex, path, Say($"half a character is escaped here"), Say($"write \\u escapes of one character as a whole pair"));
            return null;
        }

        if (text.Length > AsBuiltLimits.TextCharacters)
        {
            Fail(_json.TokenStartIndex, path, Say($"the text has {text.Length} characters"), Say($"shorten it to {AsBuiltLimits.TextCharacters}"));
            return null;
        }

        if (text.Any(char.IsControl))
        {
            Fail(_json.TokenStartIndex, path, Say($"the text has a control character"), Say($"keep it to one line without tabs"));
            return null;
        }

        return text;
    }

    private string? Word(string path, IReadOnlyList<string> allowed)
    {
        string? word = _json.TokenType == JsonTokenType.String ? Text(path) : null;
        if (Error is null && (word is null || !allowed.Contains(word)))
        {
            Fail(_json.TokenStartIndex, path, Say($"this word is not known"), Say($"use one of {string.Join(", ", allowed)}"));
        }

        return word;
    }

    /// <summary>
    /// Goes to the value of the next member of the object that the reader stands on; null counts as missing. False at its end, or on an error.
    /// </summary>
    private bool NextMember(string path, HashSet<string> seen, out string name)
    {
        name = "";
        if (Error is null && seen.Count == 0 && _json.TokenType != JsonTokenType.StartObject)
        {
            Fail(_json.TokenStartIndex, path, Say($"this is no object"), Say($"write it as {{ … }}"));
        }

        while (Error is null && _json.Read() && _json.TokenType == JsonTokenType.PropertyName)
        {
            long start = _json.TokenStartIndex;
            try
            {
                name = _json.GetString()!;
            }
            catch (InvalidOperationException)
            {
                Fail(start, path, Say($"half a character is escaped in this name"), Say($"write \\u escapes of one character as a whole pair"));
                return false;
            }

            _json.Read();
            if (!seen.Add(name))
            {
                Fail(start, path + "." + Shown(name), Say($"this member is given twice"), Say($"keep one of the two"));
                return false;
            }

            if (_json.TokenType != JsonTokenType.Null)
            {
                name = Shown(name);
                return true;
            }
        }

        return false;
    }

    /// <summary>Goes to the next item of the array that the reader stands on; <paramref name="count"/> is 0 before the first.</summary>
    private bool NextItem(string path, ref int count, int most, out string item)
    {
        item = Invariant($"{path}[{count}]");
        if (Error is null && count == 0 && _json.TokenType != JsonTokenType.StartArray)
        {
            Fail(_json.TokenStartIndex, path, Say($"this is no list"), Say($"write it as [ … ]"));
        }

        if (Error is not null || !_json.Read() || _json.TokenType == JsonTokenType.EndArray)
        {
            return false;
        }

        if (++count > most)
        {
            Fail(_json.TokenStartIndex, item, Say($"the list has more than {most} entries"), Say($"shorten it"));
            return false;
        }

        return true;
    }

    /// <summary>Names come from the file: cut, and without control characters, before they go into a line of text.</summary>
    private static string Shown(string name)
    {
        const int Most = 40;
        string cut = name.Length > Most ? name[..Most] + "…" : name;
        return cut.Any(char.IsControl) ? string.Concat(cut.Select(character => char.IsControl(character) ? '?' : character)) : cut;
    }

    private static string Invariant(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private void Ignore(string path)
    {
        Remark(_json.TokenStartIndex, path, Say($"this member is not known and was ignored"));
        _json.Skip();
    }

    private readonly void Remark(long offset, string path, Sentence text)
    {
        if (Remarks.Count < AsBuiltLimits.Remarks)
        {
            (int line, int column) = TextPlace.Of(_text, offset);
            Remarks.Add(new(line, column, path, text));
        }
    }

    private void Require(bool isGiven, long start, string path, string member, Sentence remedy)
    {
        if (!isGiven)
        {
            Fail(start, path + "." + member, Say($"{member} is missing"), remedy);
        }
    }

    private void Fail(long offset, string path, Sentence problem, Sentence remedy) => Error ??= AsBuiltText.At(_text, offset, path, problem, remedy);
}
