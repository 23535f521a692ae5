using System.Text.Json.Nodes;
using Diagnostics.Core.AsBuilt;
using Json.Schema;

namespace Diagnostics.Tests;

/// <summary>The JSON Schemas as they are shipped inside Core.</summary>
internal static class PublishedSchemas
{
    public static readonly JsonSchema AsBuilt = Read("as-built.schema.json");

    public static readonly JsonSchema Report = Read("report.schema.json");

    public static readonly JsonSchema Comparison = Read("comparison.schema.json");

    public static bool Accepts(this JsonSchema schema, JsonNode? document) =>
        schema.Evaluate(System.Text.Json.JsonSerializer.SerializeToElement(document)).IsValid;

    /// <summary>Where a member of a document stands; the steps of the path are names, or 0 for the first of a list.</summary>
    public static (JsonNode Parent, string Member) Find(JsonNode document, string path)
    {
        string[] steps = path.Split('.');
        JsonNode parent = document;
        foreach (string step in steps[..^1])
        {
            parent = step == "0" ? parent[0]! : parent[step]!;
        }

        return (parent, steps[^1]);
    }

    private static JsonSchema Read(string name)
    {
        using Stream stream = typeof(AsBuiltRecord).Assembly.GetManifestResourceStream(name)
            ?? throw new InvalidOperationException($"{name} is not embedded.");
        using StreamReader reader = new(stream);
        return JsonSchema.FromText(reader.ReadToEnd());
    }
}
