namespace Diagnostics.Agent.Commands;

/// <summary>The service: reads interfaces, analyses, keeps the log, serves the page.</summary>
internal sealed class ListenCommand : ICommand
{
    public string Name => "listen";

    public string Words => "[INTERFACE…]";

    public string Summary => "Listens to SocketCAN interfaces (all that there are, unless named), keeps the log and serves the report page.";

    public IReadOnlyList<CommandOption> Options { get; } =
        [SharedOptions.BitRate, SharedOptions.Protocol, SharedOptions.Site, SharedOptions.Port, SharedOptions.ListenOn, SharedOptions.Certificate, SharedOptions.CertificateKey, SharedOptions.Log, SharedOptions.Language];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        AgentSettings settings = AgentSettingsReader.ForService(arguments, context.Environment);
        PagePort.RefuseForbidden(settings.Port);
        context.PrintRemarks(settings);
        return await ServiceHost.RunAsync(settings, logger => context.Sources.Live(settings, logger), context, cancellation).ConfigureAwait(false);
    }
}
