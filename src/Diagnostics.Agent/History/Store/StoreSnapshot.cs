using Diagnostics.Can;

namespace Diagnostics.Agent.History.Store;

/// <summary>What of the store is on the disk at one moment. Segments are only appended to, so these bytes of these files can be read at leisure while the log goes on.</summary>
/// <param name="Files">Name of each segment file and how many of its first bytes count.</param>
/// <param name="From">Time of the oldest record; null for an empty store.</param>
/// <param name="To">Time of the latest record.</param>
internal sealed record StoreSnapshot(IReadOnlyList<(string Name, int Bytes)> Files, Instant? From, Instant? To);
