using Diagnostics.Agent.History;
using Diagnostics.Can;

namespace Diagnostics.Agent.Chronicles;

/// <summary>A log that can be asked what happened, from any thread.</summary>
internal interface IChronicleReader
{
    /// <summary>Rises with everything in the log that is more than traffic going on.</summary>
    long Version { get; }

    /// <inheritdoc cref="Chronicle.Of"/>
    /// <exception cref="HistoryException">It can't be read now.</exception>
    Task<Stretch> ReadAsync(Instant from, Instant to, int columns, CancellationToken cancellation);
}
