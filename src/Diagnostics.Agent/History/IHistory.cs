using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.History;

/// <summary>
/// The long-term memory: batches go in, rows come out. Nothing else knows how it is kept.
/// One thread writes and reads.
/// </summary>
internal interface IHistory : IChronicleSource, IDisposable
{
    /// <summary>What a person should know about how the log was found, as whole sentences.</summary>
    IReadOnlyList<Sentence> Remarks { get; }

    /// <summary>Keeps a batch. Writing the same finding's episode again replaces it.</summary>
    /// <exception cref="HistoryException">It isn't safe yet: it is held, and written when that works again.</exception>
    void Write(HistoryBatch batch);

    /// <summary>Called about once a second where nothing is written: what waits goes to the disk in time.</summary>
    /// <exception cref="HistoryException">As with <see cref="Write"/>.</exception>
    void OnIdle();

    /// <summary>Puts everything on the disk, as far as the disk takes it, and says where it lies, for a copy that another thread makes.</summary>
    StoreSnapshot Snapshot();

    /// <summary>Keeps a document beside the log, in place of the one before; null removes it.</summary>
    /// <exception cref="HistoryException">It can't be written, and the one before is still there.</exception>
    void Keep(string document, byte[]? content);

    /// <summary>Every finding that is kept, the last version of each episode, in order of its start.</summary>
    IReadOnlyList<FindingReport> ReadFindings();

    /// <summary>Changes of inputs within the span, in order of time, as far back as they are kept.</summary>
    IReadOnlyList<InputEvent> ReadInputEvents(Instant from, Instant to);

    /// <summary>What people took note of, in order.</summary>
    IReadOnlyList<Acknowledgement> ReadAcknowledgements();

    /// <summary>Events of all nodes within the span, in order of time.</summary>
    IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to);
}
