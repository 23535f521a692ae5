namespace Diagnostics.Agent.Commands;

/// <summary>The service on a simulated site: no hardware. Its log goes with it unless a directory is named.</summary>
internal sealed class DemoCommand : ICommand
{
    public string Name => "demo";

    public string Words => string.Empty;

    public string Summary => "Runs the service on a simulated site, without hardware, and prints the address of its report page.";

    public IReadOnlyList<CommandOption> Options { get; } = [SharedOptions.Port, SharedOptions.ListenOn, SharedOptions.Certificate, SharedOptions.CertificateKey, SharedOptions.Log, SharedOptions.Language];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 0)
        {
            throw new SettingException(arguments.Words[0], "'demo' takes options only", "see 'diagnostics demo --help'");
        }

        AgentSettings settings = AgentSettingsReader.WithPortOnly(arguments, context.Environment);

        // The service goes on without its page and tries again; a demo without its page shows nothing.
        PagePort.RefuseTaken(settings.Port);
        PagePort.RefuseAbsent(settings.Access.ListenOn);
        string? passing = settings.LogDirectory is null ? Directory.CreateTempSubdirectory("diagnostics-demo-").FullName : null;
        try
        {
            return await ServiceHost.RunAsync(
                settings with { LogDirectory = settings.LogDirectory ?? passing }, _ => context.Sources.Simulated(context.Clock), context, cancellation).ConfigureAwait(false);
        }
        finally
        {
            if (passing is not null)
            {
                Directory.Delete(passing, recursive: true);
            }
        }
    }
}
