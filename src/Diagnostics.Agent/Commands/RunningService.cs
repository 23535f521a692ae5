using System.Globalization;
using System.Net;

namespace Diagnostics.Agent.Commands;

/// <summary>The service on this machine, as commands talk to it: by the forms of its own page.</summary>
internal sealed class RunningService : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    private readonly HttpClient _client;
    private readonly int _port;

    public RunningService(int port)
    {
        _port = port;
        _client = new() { BaseAddress = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}")), Timeout = Patience };
    }

    /// <summary>Sends a form of the page.</summary>
    /// <param name="path">Of the form.</param>
    /// <param name="fields">What it holds.</param>
    /// <param name="what">What is asked for, for the error.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <exception cref="SettingException">No service answers, or it refuses.</exception>
    public async Task PostAsync(string path, IReadOnlyDictionary<string, string> fields, string what, CancellationToken cancellation)
    {
        using HttpRequestMessage request = new(HttpMethod.Post, path) { Content = new FormUrlEncodedContent(fields) };
        request.Headers.Add("Origin", _client.BaseAddress!.GetLeftPart(UriPartial.Authority));
        using HttpResponseMessage answer = await SendAsync(request, cancellation).ConfigureAwait(false)
            ?? throw new SettingException(
                string.Create(CultureInfo.InvariantCulture, $"port {_port}"), "no service answers there", "start 'diagnostics listen', or name its port with --port");
        if (answer.StatusCode is HttpStatusCode.SeeOther or HttpStatusCode.OK)
        {
            return;
        }

        string why = SettingException.OneLine(await answer.Content.ReadAsStringAsync(cancellation).ConfigureAwait(false)).Trim().TrimEnd('.');
        throw new SettingException(what, why.Length > 0 ? why : $"the service answered {(int)answer.StatusCode}", "nothing was changed");
    }

    /// <summary>What stands at a path; null where nothing answers, empty where it has nothing there.</summary>
    public async Task<byte[]?> GetAsync(string path, CancellationToken cancellation)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, path);
        using HttpResponseMessage? answer = await SendAsync(request, cancellation).ConfigureAwait(false);
        return answer is null ? null : answer.IsSuccessStatusCode ? await answer.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false) : [];
    }

    public void Dispose() => _client.Dispose();

    private async Task<HttpResponseMessage?> SendAsync(HttpRequestMessage request, CancellationToken cancellation)
    {
        try
        {
            // The form's answer leads back to the page, which nobody reads here: headers are enough until something is asked for.
            return await _client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, cancellation).ConfigureAwait(false);
        }
        catch (Exception problem) when (problem is HttpRequestException or TaskCanceledException && !cancellation.IsCancellationRequested)
        {
            return null;
        }
    }
}
