using System.Net;
using System.Net.Sockets;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Serves the report on the loopback addresses only. A port that is taken, or any other failure here, is told in the journal and tried again; the analysis
/// doesn't notice. Names in the Host header are checked, so that a web page elsewhere can't read this one by a name that it points here.
/// </summary>
internal sealed partial class PageService : BackgroundService
{
    private const string Part = "page";

    private const string Policy =
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

    private readonly int _port;
    private readonly AgentState _state;
    private readonly TimeProvider _clock;
    private readonly Action<string> _announce;
    private readonly ILogger<PageService> _logger;
    private readonly IReadOnlyList<string> _remarks;
    private readonly CaptureFiles? _captures;
    private readonly LiveBundles? _bundles;
    private readonly string? _site;

    /// <param name="port">TCP port; 0 = any free one, on 127.0.0.1 only.</param>
    /// <param name="state">What to show.</param>
    /// <param name="clock">To tell an analysis that stands still, and where the board is.</param>
    /// <param name="announce">Called with the address, once it is served.</param>
    /// <param name="logger">The journal.</param>
    /// <param name="remarks">What was odd in what the service was given, for the page.</param>
    /// <param name="captures">Frames that were kept; null where there is no log.</param>
    /// <param name="site">Name of the site, where the as-built record tells.</param>
    /// <param name="bundles">Makes bundles; null where there is no log, or nothing to make one of.</param>
    public PageService(
        int port, AgentState state, TimeProvider clock, Action<string> announce, ILogger<PageService> logger, IReadOnlyList<string>? remarks = null, CaptureFiles? captures = null, string? site = null,
        LiveBundles? bundles = null)
    {
        _bundles = bundles;
        _site = site;
        _remarks = remarks ?? [];
        _captures = captures;
        _port = port;
        _state = state;
        _clock = clock;
        _announce = announce;
        _logger = logger;
    }

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await ServeAsync(stoppingToken).ConfigureAwait(false);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (Exception problem) when (problem is IOException or SocketException or InvalidOperationException or UnauthorizedAccessException)
            {
                Failed(SettingException.OneLine(problem.Message), _port);
                _state.SetTrouble(Part, Instant.FromDateTime(_clock.GetUtcNow()), "The report page could not be served for a while.");
                await Task.Delay(Limits.RetryPart, _clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task ServeAsync(CancellationToken stopping)
    {
        WebApplicationBuilder builder = WebApplication.CreateEmptyBuilder(new() { ApplicationName = "diagnostics" });
        builder.WebHost.UseKestrelCore().ConfigureKestrel(Limit);
        await using WebApplication application = builder.Build();
        application.Run(AnswerAsync);
        await application.StartAsync(stopping).ConfigureAwait(false);
        string bound = application.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.First();
        int port = new Uri(bound.Replace("localhost", "127.0.0.1", StringComparison.Ordinal)).Port;
        string address = $"http://{(_port == 0 ? "127.0.0.1" : "localhost")}:{port}/";
        _state.SetTrouble(Part, Instant.FromDateTime(_clock.GetUtcNow()), null);
        _announce(address);
        await Task.Delay(Timeout.InfiniteTimeSpan, stopping).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        await application.StopAsync(CancellationToken.None).ConfigureAwait(false);
    }

    /// <summary>One reader on a small board: little is enough.</summary>
    private void Limit(KestrelServerOptions kestrel)
    {
        kestrel.AddServerHeader = false;
        kestrel.Limits.MaxConcurrentConnections = 32;
        kestrel.Limits.MaxRequestBodySize = Limits.RequestBody;
        kestrel.Limits.MaxRequestHeadersTotalSize = 16 * 1024;
        kestrel.Limits.KeepAliveTimeout = TimeSpan.FromSeconds(60);
        kestrel.Limits.RequestHeadersTimeout = TimeSpan.FromSeconds(10);
        if (_port == 0)
        {
            kestrel.Listen(IPAddress.Loopback, 0, listen => listen.Protocols = HttpProtocols.Http1);
        }
        else
        {
            kestrel.ListenLocalhost(_port, listen => listen.Protocols = HttpProtocols.Http1);
        }
    }

    private async Task AnswerAsync(HttpContext context)
    {
        HttpRequest request = context.Request;
        HttpResponse response = context.Response;
        IHeaderDictionary headers = response.Headers;
        headers.ContentSecurityPolicy = Policy;
        headers.XContentTypeOptions = "nosniff";
        headers["Referrer-Policy"] = "same-origin";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers.CacheControl = "no-store";

        // Names of hosts know no case (RFC 9110, 4.2.3).
        if (request.Host.Host.ToLowerInvariant() is not ("localhost" or "127.0.0.1" or "[::1]"))
        {
            await RefuseAsync(response, StatusCodes.Status421MisdirectedRequest, "This page answers to localhost, 127.0.0.1 and [::1] only. From elsewhere, forward a port, for example over SSH.").ConfigureAwait(false);
            return;
        }

        if (HttpMethods.IsPost(request.Method) && _state.ReadFrom is null && Actions.TryGetValue(request.Path.Value ?? string.Empty, out Func<AgentState, IFormCollection, string?>? action))
        {
            await ActAsync(request, response, action).ConfigureAwait(false);
            return;
        }

        if (HttpMethods.IsPost(request.Method) && request.Path == HandOn.Path && _bundles is not null)
        {
            await BundleAsync(request, response, _bundles).ConfigureAwait(false);
            return;
        }

        if (!HttpMethods.IsGet(request.Method) && !HttpMethods.IsHead(request.Method))
        {
            headers.Allow = "GET, HEAD";
            await RefuseAsync(response, StatusCodes.Status405MethodNotAllowed, "This page can only be read.").ConfigureAwait(false);
            return;
        }

        switch (request.Path.Value)
        {
            case "/":
                await SendAsync(request, response, "text/html; charset=utf-8", System.Text.Encoding.UTF8.GetBytes(PageRenderer.Served(Model()))).ConfigureAwait(false);
                break;
            case "/report.json":
                await SendAsync(request, response, "application/json; charset=utf-8", ReportJson.ToUtf8(Model().Report)).ConfigureAwait(false);
                break;
            case SoakPages.DocumentPath when _state.Soaks is [.., { } latest]:
                await SendAsync(request, response, "application/json; charset=utf-8", System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new(latest, SoakVerdict.Of(latest)), SoakJson.Default.SoakDocument)).ConfigureAwait(false);
                break;
            case { } path when path.StartsWith(SoakPages.RecordFolder, StringComparison.Ordinal) && _state.Soaks.FirstOrDefault(known => known.Id == path[SoakPages.RecordFolder.Length..]) is { } soak:
                await SendAsync(request, response, "text/html; charset=utf-8", System.Text.Encoding.UTF8.GetBytes(SoakPages.Served(SoakSheet.Of(soak, _state.ReadFrom?.Zone ?? _clock.LocalTimeZone, _site)))).ConfigureAwait(false);
                break;
            case { } path when path.StartsWith(Marks.CaptureFolder, StringComparison.Ordinal) && _captures?.PathOf(path[Marks.CaptureFolder.Length..]) is { } file:
                headers.ContentDisposition = "attachment";
                response.ContentType = "application/octet-stream";
                await response.SendFileAsync(file, request.HttpContext.RequestAborted).ConfigureAwait(false);
                break;
            case { } path when PageAssets.Find(path) is { } asset:
                headers.CacheControl = "public, max-age=31536000, immutable";
                await SendAsync(request, response, asset.Type, asset.Content).ConfigureAwait(false);
                break;
            default:
                await RefuseAsync(response, StatusCodes.Status404NotFound, "There is nothing here. The report is at /, and as data at /report.json.").ConfigureAwait(false);
                break;
        }
    }

    /// <summary>What this page takes, by path: each does it, or says why not.</summary>
    private static readonly Dictionary<string, Func<AgentState, IFormCollection, string?>> Actions = new(StringComparer.Ordinal)
    {
        [Marks.Path] = SetMark,
        [SoakPages.StartPath] = StartSoak,
        [SoakPages.StopPath] = (state, _) => state.TryStopSoak(out string? why) ? null : why,
    };

    private async Task ActAsync(HttpRequest request, HttpResponse response, Func<AgentState, IFormCollection, string?> action)
    {
        if (await FormAsync(request, response).ConfigureAwait(false) is not { } form)
        {
            return;
        }

        string? why;
        try
        {
            why = action(_state, form);
        }
        catch (SettingException wrong)
        {
            await AnswerFormAsync(request, response, StatusCodes.Status400BadRequest, wrong.Message).ConfigureAwait(false);
            return;
        }

        if (why is not null)
        {
            await AnswerFormAsync(request, response, StatusCodes.Status503ServiceUnavailable, why).ConfigureAwait(false);
            return;
        }

        response.StatusCode = StatusCodes.Status303SeeOther;
        response.Headers.Location = request.Path == Marks.Path ? "/#marks" : "/#soak";
    }

    /// <summary>A person who filled in a form gets a page with a way back; a command, which asks for no page, gets the sentence alone.</summary>
    private static async Task AnswerFormAsync(HttpRequest request, HttpResponse response, int status, string why)
    {
        if (!request.Headers.Accept.ToString().Contains("text/html", StringComparison.Ordinal))
        {
            await RefuseAsync(response, status, why).ConfigureAwait(false);
            return;
        }

        response.StatusCode = status;
        await SendAsync(request, response, "text/html; charset=utf-8", System.Text.Encoding.UTF8.GetBytes(PageRenderer.Refusal(why))).ConfigureAwait(false);
    }

    private static string? SetMark(AgentState state, IFormCollection form)
    {
        string text = form[Marks.NoteField].ToString().Trim();

        // Cut before it is cleaned: the cut may go through a character.
        string note = HtmlWriter.Clean(text.Length > Limits.NoteLength ? text[..Limits.NoteLength] : text);
        return state.TryMark(note, out string? why) ? null : why;
    }

    private static string? StartSoak(AgentState state, IFormCollection form)
    {
        SoakRequest wish = SoakRequest.Read(
            form[SoakPages.NameField].ToString(),
            form[SoakPages.SpanField].ToString(),
            form[SoakPages.FailsField].ToString(),
            form[SoakPages.ErrorRatioField].ToString(),
            form[SoakPages.RestartsField].ToString());
        return state.TryStartSoak(wish, out string? why) ? null : why;
    }

    /// <summary>Gives a bundle, as it is made.</summary>
    private async Task BundleAsync(HttpRequest request, HttpResponse response, LiveBundles bundles)
    {
        if (await FormAsync(request, response).ConfigureAwait(false) is not { } form)
        {
            return;
        }

        if (form[HandOn.LogField].ToString() is { Length: > 0 } meant && meant != bundles.Directory)
        {
            await RefuseAsync(response, StatusCodes.Status409Conflict, "The service here keeps its log in another directory.").ConfigureAwait(false);
            return;
        }

        // A value that is misspelt must not hand out what was to be left out.
        if (form[HandOn.InputsField].ToString() is { Length: > 0 } inputs && inputs is not (HandOn.Leave or HandOn.Keep))
        {
            await RefuseAsync(response, StatusCodes.Status400BadRequest, $"The field '{HandOn.InputsField}' is '{HandOn.Leave}' or '{HandOn.Keep}'.").ConfigureAwait(false);
            return;
        }

        CancellationToken aborted = request.HttpContext.RequestAborted;
        LiveBundle? bundle;
        try
        {
            bundle = await bundles.TryBeginAsync(form[HandOn.InputsField] == HandOn.Leave, aborted).ConfigureAwait(false);
        }
        catch (HistoryException problem)
        {
            await RefuseAsync(response, StatusCodes.Status503ServiceUnavailable, problem.Message).ConfigureAwait(false);
            return;
        }

        if (bundle is null)
        {
            await RefuseAsync(response, StatusCodes.Status503ServiceUnavailable, "Another bundle is being made; try again when it is done.").ConfigureAwait(false);
            return;
        }

        using (bundle)
        {
            response.ContentType = "application/zip";
            response.Headers.ContentDisposition = $"attachment; filename=\"{bundle.FileName}\"";
            try
            {
                await bundle.WriteAsync(response.Body, aborted).ConfigureAwait(false);
            }
            catch (Exception problem) when (problem is IOException or OperationCanceledException)
            {
                // A half bundle must not look like a whole one.
                request.HttpContext.Abort();
            }
        }
    }

    /// <summary>
    /// What this page takes comes as a form. A browser says where a form came from: from another site's page it is refused.
    /// </summary>
    /// <returns>Null where it was refused.</returns>
    private static async Task<IFormCollection?> FormAsync(HttpRequest request, HttpResponse response)
    {
        if (request.Headers.Origin.ToString() != $"http://{request.Host.Value}")
        {
            await RefuseAsync(response, StatusCodes.Status403Forbidden, "This is done from this tool's own page, or by its command on this machine.").ConfigureAwait(false);
            return null;
        }

        if (!request.HasFormContentType)
        {
            await RefuseAsync(response, StatusCodes.Status415UnsupportedMediaType, "Send a form, as this tool's own page does.").ConfigureAwait(false);
            return null;
        }

        try
        {
            return await request.ReadFormAsync(new FormOptions { ValueCountLimit = Limits.FormFields, KeyLengthLimit = 64 }, request.HttpContext.RequestAborted).ConfigureAwait(false);
        }
        catch (Exception problem) when (problem is InvalidDataException or NotSupportedException or Microsoft.AspNetCore.Http.BadHttpRequestException)
        {
            // The second of these is an encoding that is no longer read, UTF-7.
            await RefuseAsync(response, StatusCodes.Status400BadRequest, "That is no form as this tool's own page sends it.").ConfigureAwait(false);
            return null;
        }
    }

    private PageModel Model() => PageModel.Of(_state, _clock) with { CanBundle = _bundles is not null, Remarks = _remarks };

    private static async Task SendAsync(HttpRequest request, HttpResponse response, string type, byte[] content)
    {
        response.ContentType = type;
        response.ContentLength = content.Length;
        if (!HttpMethods.IsHead(request.Method))
        {
            await response.Body.WriteAsync(content, response.HttpContext.RequestAborted).ConfigureAwait(false);
        }
    }

    private static async Task RefuseAsync(HttpResponse response, int status, string text)
    {
        response.StatusCode = status;
        response.ContentType = "text/plain; charset=utf-8";
        await response.WriteAsync(text + "\n", response.HttpContext.RequestAborted).ConfigureAwait(false);
    }

    [LoggerMessage(31, LogLevel.Error, "page: {Message} Port {Port} can't be used; end the other program, or choose another port with --port. The analysis goes on; trying again every minute.")]
    private partial void Failed(string message, int port);
}
