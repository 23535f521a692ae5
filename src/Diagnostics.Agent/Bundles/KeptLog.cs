using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Bundles;

/// <summary>A log without its service: what its page shows, and what a bundle of it holds. Nothing in its directory is changed.</summary>
internal static class KeptLog
{
    /// <summary>Opens what the page is read from, for as long as it is shown.</summary>
    /// <param name="directory">The log's directory, or that of an unpacked bundle.</param>
    /// <param name="manifest">Of the bundle; null for a log.</param>
    /// <param name="clock">For the time between flushes, of which there are none.</param>
    /// <exception cref="HistoryException">The log can't be read.</exception>
    public static StoredHistory Open(string directory, BundleManifest? manifest, TimeProvider clock) =>
        StoredHistory.OpenReadOnly(directory, clock, manifest is { FromRunningService: true });

    /// <summary>What the page shows of a log.</summary>
    /// <param name="log">Opened by <see cref="Open"/>.</param>
    /// <param name="directory">The log's directory, or that of an unpacked bundle.</param>
    /// <param name="report">The last report document; null where there is none.</param>
    /// <param name="manifest">Of the bundle; null for a log.</param>
    /// <param name="clock">For the zone of this machine.</param>
    /// <exception cref="HistoryException">The log can't be read.</exception>
    public static AgentState StateOf(StoredHistory log, string directory, Report? report, BundleManifest? manifest, TimeProvider clock)
    {
        TimeZoneInfo? zone = manifest is null ? clock.LocalTimeZone : ZoneOf(manifest.Zone);
        AgentState state = new()
        {
            Report = report ?? new Report(Report.CurrentSchema, new("live", manifest?.Source ?? "a log", null, null, new(0, 0, 0, [])), [], [], []),
            ReadFrom = new(manifest is null ? Say($"the log in '{directory}'") : Say($"a bundle"), zone ?? clock.LocalTimeZone)
            {
                Made = manifest?.Made,
                Program = manifest?.Program,
                Remarks = manifest?.LeftOut ?? [],
                IsReadersZone = zone is null,
                HasNoReport = report is null,
                IsWithoutInputs = manifest is { WithoutInputs: true },
            },

            Built = SiteOf(directory).Record,

            // The report has those of its own run, each with its latest episode.
            Earlier = new(
                report?.Source.Start ?? default,
                [.. log.ReadFindings().Where(finding => finding.Severity != "note" && report?.Findings.Any(shown => shown.Key == finding.Key && shown.Start == finding.Start) != true)
                    .OrderByDescending(finding => finding.Start).Take(Limits.EarlierFindings)],
                log.Remarks),
        };
        state.SetCaptures(log.ReadCaptures());
        state.SetEarlierSoaks(log.ReadSoaks());
        state.AddAcknowledgements(log.ReadAcknowledgements());
        state.SetBoardEvents(log.ReadBoardEvents());
        if (log.Snapshot().To is { } end)
        {
            // A row of the log may begin after the last event of it.
            state.AddNodeEvents(log.ReadNodeEvents(StoredHistory.Earliest, StoredHistory.Latest).TakeLast(Limits.NodeEventsInMemory));
            state.Activity.AddEarlier(log.ReadInputEvents(end - Limits.OpenedSpan, end + TimeSpan.FromDays(1)));
            state.AddRows(log.ReadRows(StoreSeries.Minutes, end - Limits.OpenedSpan, end + TimeSpan.FromDays(1)));
        }

        return state;
    }

    /// <summary>A bundle made from the files of a log.</summary>
    /// <param name="directory">The log's directory.</param>
    /// <param name="withoutInputs">Leave out what shows when people were present.</param>
    /// <param name="clock">For its date.</param>
    /// <exception cref="HistoryException">There is no log, or it can't be read.</exception>
    public static BundleContent ContentOf(string directory, bool withoutInputs, TimeProvider clock)
    {
        using StoredHistory log = StoredHistory.OpenReadOnly(directory, clock);
        StoreSnapshot store = log.Snapshot();
        if (store.Files.Count == 0)
        {
            throw new HistoryException(Say($"There is no log in '{directory}'."));
        }

        Dictionary<string, byte[]> documents = new(StringComparer.Ordinal);
        foreach (string name in BundleLayout.Documents)
        {
            try
            {
                byte[] content = BoundedFile.Read(Path.Combine(directory, name), (int)BundleLayout.MostBytes(name));
                if (content.Length <= BundleLayout.MostBytes(name))
                {
                    documents[name] = content;
                }
            }
            catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
            {
                // Not there, or the card is dying: the rest is worth the more.
            }
        }

        return new()
        {
            Directory = directory,
            Store = store,
            Documents = documents,
            Made = Instant.FromDateTime(clock.GetUtcNow()),
            Zone = clock.LocalTimeZone,
            WithoutInputs = withoutInputs,
        };
    }

    /// <summary>The as-built record beside a log, and as it stands in its file; nulls where there is none.</summary>
    public static (AsBuiltRecord? Record, byte[]? Text) SiteOf(string directory)
    {
        try
        {
            (AsBuiltRecord record, _, byte[] text) = AsBuiltFile.Read(Path.Combine(directory, KeptDocuments.Site), KeptDocuments.Site);
            return (record, text);
        }
        catch (SettingException)
        {
            return default;
        }
    }

    /// <summary>A manifest may come from anybody, and the name of a zone is looked up as a file.</summary>
    private static TimeZoneInfo? ZoneOf(string? name) =>
        name is { Length: > 0 and < 64 } && char.IsAsciiLetter(name[0]) && name.All(letter => char.IsAsciiLetterOrDigit(letter) || letter is '_' or '-' or '+' or '/')
        && TimeZoneInfo.TryFindSystemTimeZoneById(name, out TimeZoneInfo? zone)
            ? zone
            : null;
}
