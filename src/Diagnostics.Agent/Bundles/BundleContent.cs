using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.Agent.Bundles;

/// <summary>What a bundle is made from: the files of a log's directory, as far as they are safe on the disk, and the documents beside them.</summary>
internal sealed record BundleContent
{
    /// <summary>The log's directory.</summary>
    public required string Directory { get; init; }

    /// <summary>What of the store is on the disk.</summary>
    public required StoreSnapshot Store { get; init; }

    /// <summary>Report, settings, as-built record by their names in <see cref="KeptDocuments"/>; what isn't known is missing.</summary>
    public required IReadOnlyDictionary<string, byte[]> Documents { get; init; }

    /// <summary>By the clock of this board.</summary>
    public required Instant Made { get; init; }

    /// <summary>Time zone of this board.</summary>
    public required TimeZoneInfo Zone { get; init; }

    /// <summary>The log is being written.</summary>
    public bool FromRunningService { get; init; }

    /// <summary>Leave out what shows when people were present.</summary>
    public bool WithoutInputs { get; init; }
}
