using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Records;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Commands;

/// <summary>A bundle, or the directory of a log whose service doesn't run, opened to be shown. What is unpacked for that is removed at the end.</summary>
internal sealed class ShownLog : IDisposable
{
    private readonly string? _unpacked;

    private readonly StoredHistory _log;
    private readonly OpenedLog _reader;

    private ShownLog(string directory, string? unpacked, StoredHistory log, AgentState state, BundleManifest? manifest)
    {
        Directory = directory;
        _unpacked = unpacked;
        _log = log;
        _reader = new(log);
        State = state;
        Manifest = manifest;
    }

    /// <summary>Asks it what happened and when.</summary>
    public IChronicleReader Reader => _reader;

    /// <summary>Where its files lie.</summary>
    public string Directory { get; }

    public AgentState State { get; }

    /// <summary>The as-built record that held, and its versions.</summary>
    public RecordBook Records(TimeProvider clock)
    {
        string versions = Path.Combine(Directory, RecordBook.Folder);
        (AsBuiltRecord? held, byte[]? text) = KeptLog.SiteOf(Directory);
        return new(
            held, text, _ => System.IO.Directory.Exists(versions) ? new ReadOnlyStoreFiles(new DiskStoreFiles(versions)) : null, clock, isClosed: true);
    }

    /// <summary>Of the bundle; null for a log.</summary>
    public BundleManifest? Manifest { get; }

    /// <exception cref="SettingException">It isn't whole, or nothing of a log, or can't be shown.</exception>
    public static ShownLog Open(string path, TimeProvider clock)
    {
        path = Path.GetFullPath(path);
        if (System.IO.Directory.Exists(path))
        {
            return Of(path, path, unpacked: null, BundleReader.ReportIn(path, path), manifest: null, clock);
        }

        string unpacked = System.IO.Directory.CreateTempSubdirectory("diagnostics-open-").FullName;
        try
        {
            ExtractedBundle bundle = BundleReader.Extract(path, unpacked);
            return Of(path, bundle.Directory, unpacked, bundle.Report, bundle.Manifest, clock);
        }
        catch
        {
            System.IO.Directory.Delete(unpacked, recursive: true);
            throw;
        }
    }

    public void Dispose()
    {
        _reader.Dispose();
        _log.Dispose();
        if (_unpacked is not null)
        {
            System.IO.Directory.Delete(_unpacked, recursive: true);
        }
    }

    private static ShownLog Of(string path, string directory, string? unpacked, Report? report, BundleManifest? manifest, TimeProvider clock)
    {
        StoredHistory? log = null;
        try
        {
            log = KeptLog.Open(directory, manifest, clock);
            return new(directory, unpacked, log, StateOf(log, path, directory, report, manifest, clock), manifest);
        }
        catch (Exception problem)
        {
            log?.Dispose();
            if (problem is not HistoryException)
            {
                throw;
            }

            throw new SettingException($"'{path}'", problem.Message.TrimEnd('.'), "name a bundle, or the directory of a log that this user may read");
        }
    }

    private static AgentState StateOf(StoredHistory log, string path, string directory, Report? report, BundleManifest? manifest, TimeProvider clock)
    {
        AgentState state = KeptLog.StateOf(log, directory, report, manifest, clock);
        if (report is null && state.Earlier is { Findings: [], Remarks: [] } && state.Rows.IsEmpty && state.Captures.IsEmpty)
        {
            throw new SettingException(
                $"'{path}'",
                File.Exists(Path.Combine(directory, BundleLayout.Manifest)) ? "it is an unpacked bundle" : "there is nothing of a log in it",
                "name the file of a bundle, or the directory of a log");
        }

        // A document that is whole and still can't be drawn would otherwise show as a page that fails.
        try
        {
            PageModel model = PageModel.Of(state, clock);
            PageRenderer.Served(model);
            RecordPage.Served(model);
            ReportJson.ToUtf8(state.Report!);
            foreach (SoakRecord soak in state.Soaks)
            {
                SoakPages.Served(SoakSheet.Of(soak, state.ReadFrom!.Zone, site: null), Languages.Language.English);
            }
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
            throw new SettingException($"'{path}'", "what it holds can't be shown, because it isn't what this program writes", "have the bundle made and copied anew");
        }

        return state;
    }
}
