namespace Diagnostics.Agent.Commands;

/// <summary>The arguments of a command: its words in order, and its options; an option without a value has an empty one.</summary>
internal sealed record ParsedArguments(IReadOnlyList<string> Words, IReadOnlyDictionary<string, string> Options)
{
    public bool Has(string option) => Options.ContainsKey(option);
}
