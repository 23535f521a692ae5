using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Makes bundles of the running service. The log's thread is asked only where the log ends; the copying is done by who asked, from files whose bytes no longer change, so that neither the
/// log nor the bus waits. One at a time: compressing takes a processor.
/// </summary>
internal sealed class LiveBundles(string directory, HistoryWriter log, AgentState state, TimeProvider clock)
{
    private int _isBusy;

    /// <summary>Where the log is.</summary>
    public string Directory { get; } = Path.GetFullPath(directory);

    /// <summary>Waits for the log and says what a bundle would hold; null while another one is being made.</summary>
    /// <param name="withoutInputs">Leave out what shows when people were present.</param>
    /// <param name="cancellation">Gives it up.</param>
    /// <exception cref="HistoryException">The log isn't open or doesn't answer.</exception>
    public async Task<LiveBundle?> TryBeginAsync(bool withoutInputs, CancellationToken cancellation)
    {
        if (Interlocked.Exchange(ref _isBusy, 1) != 0)
        {
            return null;
        }

        try
        {
            StoreSnapshot store = await log.SnapshotAsync(cancellation).ConfigureAwait(false);
            Dictionary<string, byte[]> documents = log.Documents.Where(document => document.Value is not null).ToDictionary(document => document.Key, document => document.Value!, StringComparer.Ordinal);
            if (state.Report is { } report)
            {
                documents[KeptDocuments.Report] = ReportJson.ToUtf8(report);
            }

            BundleContent content = new()
            {
                Directory = Directory,
                Store = store,
                Documents = documents,
                Made = Instant.FromDateTime(clock.GetUtcNow()),
                Zone = clock.LocalTimeZone,
                FromRunningService = true,
                WithoutInputs = withoutInputs,
            };
            return new(content, Free);
        }
        catch
        {
            Free();
            throw;
        }
    }

    private void Free() => Volatile.Write(ref _isBusy, 0);
}
