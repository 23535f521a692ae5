using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Chronicles;

/// <summary>What a chronicle is read from: a log that is written, one that is only read, or what a service without a log has in memory. One thread.</summary>
internal interface IChronicleSource
{
    /// <summary>Rows of a tier that begin within the span, in order of time.</summary>
    IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to);

    /// <summary>All runs in their order, each with what became of its findings and nodes.</summary>
    IReadOnlyList<LogRun> ReadRuns();

    /// <summary>Marks, and frames that were kept, in order of time.</summary>
    IReadOnlyList<Capture> ReadCaptures();

    /// <summary>What happened to the board itself, in order.</summary>
    IReadOnlyList<BoardEvent> ReadBoardEvents();

    /// <summary>Soak tests as they stood last, oldest first.</summary>
    IReadOnlyList<SoakRecord> ReadSoaks();

    /// <summary>What sensors measured in minutes that begin within the span, in order of time; the quantities of one minute may stand in several rows.</summary>
    IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to);

    /// <summary>The first and the last moment that anything is known of; null where there is nothing.</summary>
    (Instant? First, Instant? Last) ReadReach();
}
