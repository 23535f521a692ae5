using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.KernelGuest;

/// <summary>A log that says when it has written: the played source doesn't go on before that.</summary>
internal sealed class PlayedLog(StoredHistory log, Action<HistoryBatch> onWritten) : IHistory
{
    public IReadOnlyList<Diagnostics.Core.Wording.Sentence> Remarks => log.Remarks;

    public void Write(HistoryBatch batch)
    {
        try
        {
            log.Write(batch);
        }
        finally
        {
            onWritten(batch);
        }
    }

    public void OnIdle() => log.OnIdle();

    public void Keep(string document, byte[]? content) => log.Keep(document, content);

    public StoreSnapshot Snapshot() => log.Snapshot();

    public IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to) => log.ReadRows(tier, from, to);

    public IReadOnlyList<FindingReport> ReadFindings() => log.ReadFindings();

    public IReadOnlyList<LogRun> ReadRuns() => log.ReadRuns();

    public (Instant? First, Instant? Last) ReadReach() => log.ReadReach();

    public IReadOnlyList<Capture> ReadCaptures() => log.ReadCaptures();

    public IReadOnlyList<Diagnostics.Agent.Boards.BoardEvent> ReadBoardEvents() => log.ReadBoardEvents();

    public IReadOnlyList<InputEvent> ReadInputEvents(Instant from, Instant to) => log.ReadInputEvents(from, to);

    public IReadOnlyList<SoakRecord> ReadSoaks() => log.ReadSoaks();
    public IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to) => log.ReadMeasured(from, to);


    public IReadOnlyList<Acknowledgement> ReadAcknowledgements() => log.ReadAcknowledgements();

    public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) => log.ReadNodeEvents(from, to);

    public void Dispose() => log.Dispose();
}
