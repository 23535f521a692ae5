using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.History;

/// <summary>
/// The long-term memory: batches go in, rows come out. Nothing else knows how it is kept, so that another store can take the place of this one.
/// One thread writes.
/// </summary>
internal interface IHistory : IDisposable
{
    /// <summary>Keeps a batch as a whole or not at all. Writing the same finding's episode again replaces it.</summary>
    /// <exception cref="HistoryException">It could not be kept.</exception>
    void Write(HistoryBatch batch);

    /// <summary>Rows that begin within the span, in order of time, then interface.</summary>
    IReadOnlyList<TrafficRow> ReadMinutes(Instant from, Instant to);

    /// <summary>Every finding that is kept, the last version of each episode, in order of its start.</summary>
    IReadOnlyList<FindingReport> ReadFindings();

    /// <summary>Events of all nodes within the span, in order of time.</summary>
    IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to);
}
