using System.Globalization;
using System.Net;
using System.Text;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;

namespace Diagnostics.Agent.Commands;

/// <summary>The service on this machine, as commands talk to it: by the forms of its own page.</summary>
internal sealed class RunningService : IDisposable
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(10);

    /// <summary>A refusal is a sentence.</summary>
    public const int MostRefusalBytes = 64 * 1024;

    /// <summary>The record of a soak test has some hundred kilobytes at most.</summary>
    private const int MostAnswerBytes = 4 << 20;

    private readonly HttpClient _client;
    private readonly int _port;

    /// <param name="port">Of its page.</param>
    /// <param name="patience">How long it may take to begin an answer; ten seconds unless told otherwise.</param>
    public RunningService(int port, TimeSpan? patience = null)
    {
        _port = port;

        // It is on this machine, whatever the environment says of proxies.
        _client = new(new SocketsHttpHandler { UseProxy = false, AllowAutoRedirect = false })
        {
            BaseAddress = new(string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}")),
            Timeout = patience ?? Patience,
            MaxResponseContentBufferSize = MostAnswerBytes,
        };
    }

    /// <summary>Sends a form of the page.</summary>
    /// <param name="path">Of the form.</param>
    /// <param name="fields">What it holds.</param>
    /// <param name="what">What is asked for, for the error.</param>
    /// <param name="cancellation">Gives up.</param>
    /// <exception cref="SettingException">No service answers, or it refuses.</exception>
    public async Task PostAsync(string path, IReadOnlyDictionary<string, string> fields, string what, CancellationToken cancellation)
    {
        using HttpResponseMessage answer = await AnswerToAsync(path, fields, cancellation).ConfigureAwait(false)
            ?? throw new SettingException(
                string.Create(CultureInfo.InvariantCulture, $"port {_port}"), "no service answers there", "start 'diagnostics listen', or name its port with --port");
        if (answer.StatusCode is HttpStatusCode.SeeOther or HttpStatusCode.OK)
        {
            return;
        }

        string why = await SentenceAsync(answer, cancellation).ConfigureAwait(false);
        throw new SettingException(what, why.Length > 0 ? why : $"the service answered {(int)answer.StatusCode}", "nothing was changed");
    }

    /// <summary>The answer to a form of the page, its body not read yet; null where nothing answers.</summary>
    public async Task<HttpResponseMessage?> AnswerToAsync(string path, IReadOnlyDictionary<string, string> fields, CancellationToken cancellation)
    {
        using HttpRequestMessage request = new(HttpMethod.Post, path) { Content = new FormUrlEncodedContent(fields) };
        request.Headers.Add("Origin", _client.BaseAddress!.GetLeftPart(UriPartial.Authority));
        return await SendAsync(request, cancellation).ConfigureAwait(false);
    }

    /// <summary>A refusal in one line, without its full stop.</summary>
    public static async Task<string> SentenceAsync(HttpResponseMessage answer, CancellationToken cancellation)
    {
        try
        {
            Stream body = await answer.Content.ReadAsStreamAsync(cancellation).ConfigureAwait(false);
            await using (body.ConfigureAwait(false))
            {
                byte[] text = new byte[MostRefusalBytes];
                int length = await body.ReadAtLeastAsync(text, text.Length, throwOnEndOfStream: false, cancellation).ConfigureAwait(false);
                return SettingException.OneLine(Encoding.UTF8.GetString(text, 0, length)).Trim().TrimEnd('.');
            }
        }
        catch (Exception problem) when (problem is HttpRequestException or IOException)
        {
            return string.Empty;
        }
    }

    /// <summary>What stands at a path; null where nothing answers or it breaks off, empty where it has nothing there.</summary>
    public Task<byte[]?> GetAsync(string path, CancellationToken cancellation) => GetAsync(path, null, cancellation);

    /// <param name="path">Of the page.</param>
    /// <param name="language">As a reader who chose it, whatever the service prefers; null = the service's own choice.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    public async Task<byte[]?> GetAsync(string path, Language? language, CancellationToken cancellation)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, path);
        if (language is not null)
        {
            request.Headers.Add("Cookie", $"{LanguageChoice.Field}={language.Code}");
        }

        using HttpResponseMessage? answer = await SendAsync(request, cancellation).ConfigureAwait(false);
        try
        {
            return answer is null ? null : answer.IsSuccessStatusCode ? await answer.Content.ReadAsByteArrayAsync(cancellation).ConfigureAwait(false) : [];
        }
        catch (Exception problem) when (problem is HttpRequestException or IOException)
        {
            return null;
        }
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
