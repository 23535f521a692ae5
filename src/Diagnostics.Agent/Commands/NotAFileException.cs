namespace Diagnostics.Agent.Commands;

/// <summary>What was named is a directory, a pipe or a device; the message says which.</summary>
internal sealed class NotAFileException(string oddity) : IOException($"it is {oddity}, not a file");
