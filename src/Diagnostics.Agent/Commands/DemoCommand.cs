using System.Net;
using System.Net.Sockets;

namespace Diagnostics.Agent.Commands;

/// <summary>The service on a simulated site: no hardware, nothing kept unless a directory is named.</summary>
internal sealed class DemoCommand : ICommand
{
    public string Name => "demo";

    public string Words => string.Empty;

    public string Summary => "Runs the service on a simulated site, without hardware, and prints the address of its report page.";

    public IReadOnlyList<CommandOption> Options { get; } = [SharedOptions.Port, SharedOptions.Log];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 0)
        {
            throw new SettingException(arguments.Words[0], "'demo' takes options only", "see 'diagnostics demo --help'");
        }

        AgentSettings settings = AgentSettingsReader.FromOptions(arguments, context.Environment);
        RefuseTakenPort(settings.Port);
        using IBusSource source = context.Sources.Simulated(context.Clock);
        return await ServiceHost.RunAsync(settings, source, context, cancellation).ConfigureAwait(false);
    }

    /// <summary>The service goes on without its page and tries again; a demo without its page shows nothing.</summary>
    private static void RefuseTakenPort(int port)
    {
        try
        {
            using TcpListener probe = new(IPAddress.Loopback, port);
            probe.Start();
        }
        catch (SocketException problem)
        {
            throw new SettingException("port", $"port {port} can't be used ({problem.Message.TrimEnd('.')})", "end the program that uses it, or choose another with --port");
        }
    }
}
