using System.Globalization;

namespace Diagnostics.Core.AsBuilt;

/// <summary>What a person calls things: the as-built record's names, else those of <paramref name="others"/> by node, else plain numbers.</summary>
internal sealed class SiteNames(AsBuiltRecord? record, IReadOnlyDictionary<int, string>? others = null)
{
    private readonly Dictionary<int, BuiltNode> _nodes = record?.Nodes.GroupBy(node => node.Address).ToDictionary(group => group.Key, group => group.First()) ?? [];

    public BuiltNode? Built(int node) => _nodes.GetValueOrDefault(node);

    public string? NodeName(int node) => Built(node)?.Name ?? others?.GetValueOrDefault(node);

    public string Node(int node) => NodeName(node) is string name
        ? string.Create(CultureInfo.InvariantCulture, $"{name} (node {node})")
        : string.Create(CultureInfo.InvariantCulture, $"node {node}");

    public string Nodes(IEnumerable<int> nodes)
    {
        string[] names = [.. nodes.Select(Node)];
        return names.Length < 2 ? string.Concat(names) : string.Join(", ", names[..^1]) + " and " + names[^1];
    }

    public BuiltInput? Input(int node, int input) => Built(node)?.Inputs.FirstOrDefault(entry => entry.Input == input);

    public string OutputName(int node, int output)
    {
        string number = string.Create(CultureInfo.InvariantCulture, $"output {output}");
        return Built(node)?.Outputs.FirstOrDefault(entry => entry.Output == output)?.Name is string name
            ? $"“{name}” ({number} of {Node(node)})"
            : $"{number} of {Node(node)}";
    }

    public string InputName(int node, int input)
    {
        string number = string.Create(CultureInfo.InvariantCulture, $"input {input}");
        return Input(node, input)?.Name is string name ? $"“{name}” ({number} of {Node(node)})" : $"{number} of {Node(node)}";
    }
}
