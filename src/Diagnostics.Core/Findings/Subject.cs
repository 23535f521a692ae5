using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Core.Findings;

/// <summary>What a finding is about. One finding exists per kind, interface and subject.</summary>
internal sealed record Subject
{
    public static readonly Subject WholeBus = new();

    public int? Node { get; init; }

    /// <summary>Several nodes hit at one moment, ascending; then <see cref="Node"/> is null.</summary>
    public IReadOnlyList<int>? Nodes { get; init; }

    public int? Input { get; init; }

    public CanId? Id { get; init; }

    public static Subject OfNode(int node) => new() { Node = node };

    public static Subject OfId(CanId id) => new() { Id = id };

    public static Subject OfInput(int node, int input) => new() { Node = node, Input = input };

    public static Subject OfNodes(IEnumerable<int> nodes)
    {
        int[] sorted = [.. nodes.Order()];
        return sorted.Length == 1 ? OfNode(sorted[0]) : new() { Nodes = sorted };
    }

    /// <summary>The part of the finding's key that names the subject; "bus" for the whole bus.</summary>
    public string Key
    {
        get
        {
            List<string> parts = [];
            if (Node is int node)
            {
                parts.Add(string.Create(CultureInfo.InvariantCulture, $"node-{node}"));
            }

            if (Nodes is not null)
            {
                parts.Add("nodes-" + string.Join('-', Nodes.Select(address => address.ToString(CultureInfo.InvariantCulture))));
            }

            if (Input is int input)
            {
                parts.Add(string.Create(CultureInfo.InvariantCulture, $"input-{input}"));
            }

            if (Id is CanId id)
            {
                parts.Add(id.ToString());
            }

            return parts.Count == 0 ? "bus" : string.Join('.', parts);
        }
    }
}
