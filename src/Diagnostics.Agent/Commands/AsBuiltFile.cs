using System.Globalization;
using System.Text.Json;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads the as-built record (schema 1). Every member but <c>schema</c> may be missing; members that aren't known are left alone,
/// so that later records can say more. A known member of the wrong kind is refused with its path.
/// </summary>
internal static class AsBuiltFile
{
    /// <summary>Most nodes that one record may name: every address of the protocols in question fits in a byte.</summary>
    private const int MostNodes = 256;

    /// <param name="path">The file.</param>
    /// <param name="which">How messages name it.</param>
    /// <exception cref="SettingException">The file can't be used.</exception>
    public static AsBuiltRecord Read(string path, string which)
    {
        using JsonDocument document = ConfigurationFile.ReadObject(path, which);
        Member root = new(document.RootElement, string.Empty, which);
        if (root.Integer("schema", 0, int.MaxValue) is not 1)
        {
            throw new SettingException(which, $"'{path}' has no \"schema\": 1", "this program reads as-built records of schema 1");
        }

        BuiltNode[] nodes = root.Items("nodes").Select(Node).ToArray();
        if (nodes.Length > MostNodes)
        {
            throw new SettingException(which, $"it names {nodes.Length} nodes, and {MostNodes} is the limit", "split the record by bus");
        }

        foreach (IGrouping<int, BuiltNode> twice in nodes.GroupBy(node => node.Address).Where(group => group.Count() > 1))
        {
            throw new SettingException(which, $"node {twice.Key} is listed {twice.Count()} times", "give each node its own address");
        }

        return new()
        {
            Site = root.Text("site"),
            BitRate = root.Integer("bitRate", 1, 10_000_000),
            Protocol = root.Text("protocol"),
            Trunk = root.Items("trunk").Select(Trunk).ToArray(),
            Nodes = nodes,
        };
    }

    private static TrunkEntry Trunk(Member entry)
    {
        int? node = entry.Integer("node", 0, 255);
        double? ohms = entry.Number("terminatorOhms", 1, 1e6);
        bool clip = entry.Flag("clip");
        if ((node is null ? 0 : 1) + (ohms is null ? 0 : 1) + (clip ? 1 : 0) != 1)
        {
            throw entry.Wrong("it is neither one node nor one terminator nor the clip", "give exactly one of node, terminatorOhms and clip");
        }

        return new(node, ohms, clip, entry.Number("metres", 0, 1e5));
    }

    private static BuiltNode Node(Member node) => new()
    {
        Address = node.Integer("address", 0, 255) ?? throw node.Wrong("it has no address", "give \"address\": 0 to 255"),
        Name = node.Text("name"),
        Type = node.Text("type"),
        Serial = node.Text("serial"),
        Firmware = node.Text("firmware"),
        Inputs = node.Items("inputs").Select(Input).ToArray(),
        Outputs = node.Items("outputs").Select(Output).ToArray(),
        PdoMapping = node.Members("pdoMapping").ToDictionary(
            pdo => pdo.Name,
            pdo => (IReadOnlyList<MappedObject>)pdo.Value.Texts().Select(text => Mapped(text, pdo.Value)).ToArray(),
            StringComparer.Ordinal),
    };

    private static BuiltInput Input(Member input) => new(
        input.Integer("input", 1, 2040) ?? throw input.Wrong("it has no number", "give \"input\": 1 or more"),
        input.Text("name"),
        input.Text("kind") switch
        {
            null => InputKind.Unknown,
            "push-button" => InputKind.PushButton,
            "switch" => InputKind.Switch,
            "contact" => InputKind.Contact,
            "motion" => InputKind.Motion,
            string kind => throw input.Wrong($"'{kind}' is no kind of input", "choose push-button, switch, contact or motion"),
        });

    private static BuiltOutput Output(Member output) => new(
        output.Integer("output", 1, 2040) ?? throw output.Wrong("it has no number", "give \"output\": 1 or more"),
        output.Text("name"),
        output.Text("kind"),
        output.Items("switchedBy").Select(by => new SwitchedBy(
            by.Integer("node", 0, 255) ?? throw by.Wrong("it has no node", "give the address of the node with the input"),
            by.Integer("input", 1, 2040) ?? throw by.Wrong("it has no input", "give the number of the input"),
            by.Text("press"))).ToArray());

    /// <summary><c>6200:01</c> or <c>6200:01:08</c>: object, sub-index, bits; object and sub-index in hexadecimal.</summary>
    private static MappedObject Mapped(string text, Member where)
    {
        string[] parts = text.Split(':');
        byte bits = 8;
        return parts.Length is 2 or 3
            && ushort.TryParse(parts[0], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ushort index)
            && byte.TryParse(parts[1], NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out byte subIndex)
            && (parts.Length == 2 || byte.TryParse(parts[2], NumberStyles.None, CultureInfo.InvariantCulture, out bits))
            && bits is >= 1 and <= 64
                ? new(index, subIndex, bits)
                : throw where.Wrong($"'{text}' names no object", "write object:sub-index in hexadecimal, for example 6200:01");
    }

    /// <summary>A JSON value with the path to it, so that messages can say where.</summary>
    private readonly record struct Member(JsonElement Element, string Path, string Which)
    {
        public SettingException Wrong(string why, string remedy) =>
            new(Which, Path.Length == 0 ? why : $"at {Path}, {why}", remedy);

        public string? Text(string name) => Get(name) is not { } value ? null
            : value.ValueKind == JsonValueKind.String ? value.GetString()
            : throw At(name, value).Wrong("there is no text", "write it in quotation marks");

        public int? Integer(string name, int least, int most) => Get(name) is not { } value ? null
            : value.ValueKind == JsonValueKind.Number && value.TryGetInt32(out int number) && number >= least && number <= most ? number
            : throw At(name, value).Wrong($"there is no whole number from {least} to {most}", "correct it");

        public double? Number(string name, double least, double most) => Get(name) is not { } value ? null
            : value.ValueKind == JsonValueKind.Number && value.TryGetDouble(out double number) && number >= least && number <= most ? number
            : throw At(name, value).Wrong(string.Create(CultureInfo.InvariantCulture, $"there is no number from {least} to {most}"), "correct it");

        public bool Flag(string name) => Get(name) is { } value
            && (value.ValueKind is JsonValueKind.True or JsonValueKind.False
                ? value.ValueKind == JsonValueKind.True
                : throw At(name, value).Wrong("there is neither true nor false", "correct it"));

        public IEnumerable<Member> Items(string name)
        {
            if (Get(name) is not { } value)
            {
                return [];
            }

            Member list = At(name, value);
            return list.List().Select(item => item.Element.ValueKind == JsonValueKind.Object ? item : throw item.Wrong("there is no object", "write it in { }"));
        }

        public IEnumerable<string> Texts() => List().Select(item =>
            item.Element.ValueKind == JsonValueKind.String ? item.Element.GetString()! : throw item.Wrong("there is no text", "write it in quotation marks"));

        public IEnumerable<(string Name, Member Value)> Members(string name)
        {
            if (Get(name) is not { } value)
            {
                yield break;
            }

            Member outer = At(name, value);
            if (value.ValueKind != JsonValueKind.Object)
            {
                throw outer.Wrong("there is no object", "write it in { }");
            }

            foreach (JsonProperty property in value.EnumerateObject())
            {
                yield return (property.Name, outer.At(property.Name, property.Value));
            }
        }

        private IEnumerable<Member> List()
        {
            if (Element.ValueKind != JsonValueKind.Array)
            {
                throw Wrong("there is no list", "write it in [ ]");
            }

            int position = 0;
            foreach (JsonElement item in Element.EnumerateArray())
            {
                yield return new(item, string.Create(CultureInfo.InvariantCulture, $"{Path}[{position++}]"), Which);
            }
        }

        private Member At(string name, JsonElement value) => new(value, Path.Length == 0 ? name : $"{Path}.{name}", Which);

        private JsonElement? Get(string name) =>
            Element.TryGetProperty(name, out JsonElement value) && value.ValueKind != JsonValueKind.Null ? value : null;
    }
}
