using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Commands;

/// <summary>A bundle, or the directory of a log whose service doesn't run, opened to be shown. What is unpacked for that is removed at the end.</summary>
internal sealed class OpenedLog : IDisposable
{
    private readonly string? _unpacked;

    private OpenedLog(string directory, string? unpacked, AgentState state, BundleManifest? manifest)
    {
        Directory = directory;
        _unpacked = unpacked;
        State = state;
        Manifest = manifest;
    }

    /// <summary>Where its files lie.</summary>
    public string Directory { get; }

    public AgentState State { get; }

    /// <summary>Of the bundle; null for a log.</summary>
    public BundleManifest? Manifest { get; }

    /// <exception cref="SettingException">It isn't whole, or nothing of a log, or can't be shown.</exception>
    public static OpenedLog Open(string path, TimeProvider clock)
    {
        path = Path.GetFullPath(path);
        if (System.IO.Directory.Exists(path))
        {
            return new(path, unpacked: null, StateOf(path, path, BundleReader.ReportIn(path, path), manifest: null, clock), manifest: null);
        }

        string unpacked = System.IO.Directory.CreateTempSubdirectory("diagnostics-open-").FullName;
        try
        {
            ExtractedBundle bundle = BundleReader.Extract(path, unpacked);
            return new(bundle.Directory, unpacked, StateOf(path, bundle.Directory, bundle.Report, bundle.Manifest, clock), bundle.Manifest);
        }
        catch
        {
            System.IO.Directory.Delete(unpacked, recursive: true);
            throw;
        }
    }

    public void Dispose()
    {
        if (_unpacked is not null)
        {
            System.IO.Directory.Delete(_unpacked, recursive: true);
        }
    }

    private static AgentState StateOf(string path, string directory, Report? report, BundleManifest? manifest, TimeProvider clock)
    {
        AgentState state;
        try
        {
            state = KeptLog.StateOf(directory, report, manifest, clock);
        }
        catch (HistoryException problem)
        {
            throw new SettingException($"'{path}'", problem.Message.TrimEnd('.'), "name a bundle, or the directory of a log that this user may read");
        }

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
                SoakPages.Served(SoakSheet.Of(soak, state.ReadFrom!.Zone, site: null));
            }
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
            throw new SettingException($"'{path}'", "what it holds can't be shown, because it isn't what this program writes", "have the bundle made and copied anew");
        }

        return state;
    }
}
