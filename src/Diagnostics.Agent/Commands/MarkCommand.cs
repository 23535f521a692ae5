using System.Globalization;
using System.Net;
using Diagnostics.Agent.Pages;

namespace Diagnostics.Agent.Commands;

/// <summary>Sets a mark in the log of the service that runs on this machine.</summary>
internal sealed class MarkCommand : ICommand
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    public string Name => "mark";

    public string Words => "[NOTE]";

    public string Summary => "Says \"it just happened\" to the service on this machine: the frames around this moment are kept, with the note.";

    public IReadOnlyList<CommandOption> Options { get; } = [SharedOptions.Port];

    public async Task<int> RunAsync(ParsedArguments arguments, CommandContext context, CancellationToken cancellation)
    {
        if (arguments.Words.Count > 1)
        {
            throw new SettingException("note", "there are several", "put it in quotes: diagnostics mark \"hall lights went off\"");
        }

        int port = AgentSettingsReader.WithPortOnly(arguments, context.Environment).Port;
        Uri page = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}"));
        using HttpClient client = new() { BaseAddress = page, Timeout = Patience };
        using HttpRequestMessage request = new(HttpMethod.Post, Marks.Path)
        {
            Content = new FormUrlEncodedContent([new(Marks.NoteField, arguments.Words.Count > 0 ? arguments.Words[0] : string.Empty)]),
        };
        request.Headers.Add("Origin", page.GetLeftPart(UriPartial.Authority));
        try
        {
            using HttpResponseMessage answer = await client.SendAsync(request, cancellation).ConfigureAwait(false);
            if (answer.StatusCode is HttpStatusCode.SeeOther or HttpStatusCode.OK)
            {
                context.Print("Marked. The frames around this moment are in the log in a few seconds; the page lists them.");
                return CommandLine.Done;
            }

            string why = SettingException.OneLine(await answer.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false)).Trim().TrimEnd('.');
            throw new SettingException("mark", why.Length > 0 ? why : $"the service answered {(int)answer.StatusCode}", "nothing was marked");
        }
        catch (Exception problem) when (problem is HttpRequestException or TaskCanceledException && !cancellation.IsCancellationRequested)
        {
            throw new SettingException(
                string.Create(CultureInfo.InvariantCulture, $"port {port}"),
                "no service answers there",
                "start 'diagnostics listen', or name its port with --port");
        }
    }
}
