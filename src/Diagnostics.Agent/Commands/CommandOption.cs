namespace Diagnostics.Agent.Commands;

/// <summary>One option that a command takes.</summary>
/// <param name="Name">With its leading dashes.</param>
/// <param name="Value">What stands for its value in the help; null = it takes none.</param>
/// <param name="Help">One sentence.</param>
/// <param name="IsList">It may be given several times; its value then has them all, separated by commas.</param>
internal sealed record CommandOption(string Name, string? Value, string Help, bool IsList = false);
