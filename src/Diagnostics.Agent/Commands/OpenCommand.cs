using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Commands;

/// <summary>Shows the report page of a bundle, or of a log whose service doesn't run, to be read only.</summary>
internal sealed class OpenCommand : ICommand
{
    private static readonly CommandOption Port = new("--port", "N", "TCP port of the page, on this machine only; any free one unless told otherwise.");

    public string Name => "open";

    public string Words => "FILE|DIR";

    public string Summary => "Shows the report page of a bundle, or of a log in a directory, read-only and on this machine only; Ctrl-C ends it.";

    public IReadOnlyList<CommandOption> Options { get; } = [Port];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count != 1)
        {
            throw new SettingException("FILE", arguments.Words.Count == 0 ? "nothing was named" : "there are several", "name one bundle, or the directory of one log");
        }

        // Checked first: unpacking may take seconds.
        int port = arguments.Has(Port.Name) ? AgentSettingsReader.FromOptions(arguments, context.Environment).Port : 0;
        PagePort.RefuseTaken(port);
        string path = Path.GetFullPath(arguments.Words[0]);
        using Interruption interruption = new(cancellation);
        if (Directory.Exists(path))
        {
            return await ShowAsync(path, path, BundleReader.ReportIn(path, path), manifest: null, port, context, interruption.Token).ConfigureAwait(false);
        }

        string unpacked = Directory.CreateTempSubdirectory("diagnostics-open-").FullName;
        try
        {
            ExtractedBundle bundle = BundleReader.Extract(path, unpacked);
            return await ShowAsync(path, bundle.Directory, bundle.Report, bundle.Manifest, port, context, interruption.Token).ConfigureAwait(false);
        }
        finally
        {
            Directory.Delete(unpacked, recursive: true);
        }
    }

    private static async Task<int> ShowAsync(
        string path, string directory, Report? report, BundleManifest? manifest, int port, CommandContext context, CancellationToken cancellation)
    {
        StoredHistory? log = null;
        AgentState state;
        try
        {
            log = KeptLog.Open(directory, manifest, context.Clock);
            state = KeptLog.StateOf(log, directory, report, manifest, context.Clock);
        }
        catch (HistoryException problem)
        {
            log?.Dispose();
            throw new SettingException($"'{path}'", problem.Message.TrimEnd('.'), "name a bundle, or the directory of a log that this user may read");
        }

        using StoredHistory opened = log;
        using OpenedLog chronicle = new(opened);
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
            PageRenderer.Served(PageModel.Of(state, context.Clock));
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

        if (manifest is not null)
        {
            context.Print($"The bundle is whole: {BundleWords.Of(manifest)}");
            foreach (string sentence in manifest.LeftOut)
            {
                context.Print(SettingException.OneLine(sentence));
            }
        }

        return await ServiceHost.ServeAsync(
            port,
            new(state, context.Clock) { Captures = StoredHistory.CapturesOf(directory, long.MaxValue), Log = chronicle },
            context,
            cancellation).ConfigureAwait(false);
    }
}
