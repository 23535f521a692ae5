using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;

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
        using Interruption interruption = new(cancellation);
        using ShownLog log = ShownLog.Open(arguments.Words[0], context.Clock);
        if (log.Manifest is { } manifest)
        {
            context.Print($"The bundle is whole: {BundleWords.Of(manifest)}");
            foreach (string sentence in manifest.LeftOut)
            {
                context.Print(SettingException.OneLine(sentence));
            }
        }

        return await ServiceHost.ServeAsync(
            port,
            new(log.State, context.Clock) { Captures = StoredHistory.CapturesOf(log.Directory, long.MaxValue), Log = log.Reader, Records = log.Records(context.Clock) },
            context,
            interruption.Token).ConfigureAwait(false);
    }
}
