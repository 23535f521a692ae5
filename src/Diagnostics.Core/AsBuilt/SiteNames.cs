using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.AsBuilt;

/// <summary>What a person calls things: the as-built record's names, else those of <paramref name="others"/> by node, else plain numbers.</summary>
internal sealed class SiteNames(AsBuiltRecord? record, IReadOnlyDictionary<int, string>? others = null)
{
    private readonly Dictionary<int, BuiltNode> _nodes = record?.Nodes.GroupBy(node => node.Address).ToDictionary(group => group.Key, group => group.First()) ?? [];

    public BuiltNode? Built(int node) => _nodes.GetValueOrDefault(node);

    public string? NodeName(int node) => Built(node)?.Name ?? others?.GetValueOrDefault(node);

    public Sentence Node(int node) => NodeName(node) is string name ? Say($"{name} (node {node})") : Say($"node {node}");

    public Sentence Nodes(IEnumerable<int> nodes) => List([.. nodes.Select(Node)]);

    public BuiltInput? Input(int node, int input) => Built(node)?.Inputs.FirstOrDefault(entry => entry.Input == input);

    public Sentence OutputName(int node, int output) => Built(node)?.Outputs.FirstOrDefault(entry => entry.Output == output)?.Name is string name
        ? Say($"“{name}” (output {output} of {Node(node)})")
        : Say($"output {output} of {Node(node)}");

    public Sentence InputName(int node, int input) => Input(node, input)?.Name is string name
        ? Say($"“{name}” (input {input} of {Node(node)})")
        : Say($"input {input} of {Node(node)}");
}
