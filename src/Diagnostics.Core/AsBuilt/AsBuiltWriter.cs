using System.Buffers;
using System.Globalization;
using System.Text.Encodings.Web;
using System.Text.Json;

namespace Diagnostics.Core.AsBuilt;

/// <summary>
/// Writes the as-built record as JSON (UTF-8, schema 1) that <see cref="AsBuiltReader"/> reads back to the same record. The order of members is fixed, so that two
/// records can be compared as texts; members without a value are left out.
/// </summary>
public static class AsBuiltWriter
{
    /// <summary>A person may open the file: indented, and letters of other languages stand as they are.</summary>
    private static readonly JsonWriterOptions Style = new() { Indented = true, NewLine = "\n", Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    public static byte[] ToUtf8(AsBuiltRecord record)
    {
        ArrayBufferWriter<byte> bytes = new();
        using (Utf8JsonWriter json = new(bytes, Style))
        {
            json.WriteStartObject();
            json.WriteNumber("schema"u8, 1);
            Text(json, "site", record.Site);
            if (record.BitRate is int bitRate)
            {
                json.WriteNumber("bitRate"u8, bitRate);
            }

            Text(json, "protocol", record.Protocol);
            List(json, "trunk", record.Trunk, Entry);
            List(json, "nodes", record.Nodes, Node);
            json.WriteEndObject();
        }

        return [.. bytes.WrittenSpan, (byte)'\n'];
    }

    private static void Entry(Utf8JsonWriter json, TrunkEntry entry)
    {
        json.WriteStartObject();
        if (entry.Node is int node)
        {
            json.WriteNumber("node"u8, node);
        }

        Number(json, "terminatorOhms", entry.TerminatorOhms);
        if (entry.Clip)
        {
            json.WriteBoolean("clip"u8, true);
        }

        Number(json, "metres", entry.Metres);
        json.WriteEndObject();
    }

    private static void Node(Utf8JsonWriter json, BuiltNode node)
    {
        json.WriteStartObject();
        json.WriteNumber("address"u8, node.Address);
        Text(json, "name", node.Name);
        Text(json, "type", node.Type);
        Text(json, "serial", node.Serial);
        Text(json, "firmware", node.Firmware);
        List(json, "inputs", node.Inputs, Input);
        List(json, "outputs", node.Outputs, Output);
        if (node.PdoMapping.Count > 0)
        {
            json.WriteStartObject("pdoMapping"u8);
            foreach ((string pdo, IReadOnlyList<MappedObject> objects) in node.PdoMapping.OrderBy(entry => entry.Key, StringComparer.Ordinal))
            {
                json.WriteStartArray(pdo);
                foreach (MappedObject mapped in objects)
                {
                    json.WriteStringValue(string.Create(CultureInfo.InvariantCulture, $"{mapped.Index:X4}:{mapped.SubIndex:X2}"));
                }

                json.WriteEndArray();
            }

            json.WriteEndObject();
        }

        json.WriteEndObject();
    }

    private static void Input(Utf8JsonWriter json, BuiltInput input)
    {
        json.WriteStartObject();
        json.WriteNumber("input"u8, input.Input);
        Text(json, "name", input.Name);
        Text(json, "kind", AsBuiltWords.Of(input.Kind));
        json.WriteEndObject();
    }

    private static void Output(Utf8JsonWriter json, BuiltOutput output)
    {
        json.WriteStartObject();
        json.WriteNumber("output"u8, output.Output);
        Text(json, "name", output.Name);
        Text(json, "kind", output.Kind);
        List(json, "switchedBy", output.SwitchedBy, Switcher);
        json.WriteEndObject();
    }

    private static void Switcher(Utf8JsonWriter json, SwitchedBy by)
    {
        json.WriteStartObject();
        json.WriteNumber("node"u8, by.Node);
        json.WriteNumber("input"u8, by.Input);
        Text(json, "press", by.Press);
        json.WriteEndObject();
    }

    private static void List<T>(Utf8JsonWriter json, string name, IReadOnlyList<T> items, Action<Utf8JsonWriter, T> write)
    {
        if (items.Count == 0)
        {
            return;
        }

        json.WriteStartArray(name);
        foreach (T item in items)
        {
            write(json, item);
        }

        json.WriteEndArray();
    }

    private static void Text(Utf8JsonWriter json, string name, string? text)
    {
        if (text is not null)
        {
            json.WriteString(name, text);
        }
    }

    private static void Number(Utf8JsonWriter json, string name, double? number)
    {
        if (number is double value)
        {
            json.WriteNumber(name, value);
        }
    }
}
