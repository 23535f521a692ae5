using System.Net;
using System.Net.Sockets;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Soaks;
using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Agent.Pages.Walks;
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
    private readonly PageSource _source;
    private readonly Action<string> _announce;
    private readonly ILogger<PageService> _logger;
    private readonly IReadOnlyList<IPagePart> _parts;

    /// <param name="port">TCP port; 0 = any free one, on 127.0.0.1 only.</param>
    /// <param name="source">What to show.</param>
    /// <param name="announce">Called with the address, once it is served.</param>
    /// <param name="logger">The journal.</param>
    public PageService(int port, PageSource source, Action<string> announce, ILogger<PageService> logger)
    {
        _port = port;
        _source = source;
        _announce = announce;
        _logger = logger;
        _parts = [new ReportPart(source), new RecordPart(source), new SoakTestPart(source), new NodePart(source), new WalkPart(source), new LivePart(source, [PageRenderer.At, NodePages.At, WalkPages.At]), .. source.Bundles is { } bundles ? (IPagePart[])[new BundlePart(bundles)] : []];
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
                _source.State.SetTrouble(Part, Instant.FromDateTime(_source.Clock.GetUtcNow()), "The report page could not be served for a while.");
                await Task.Delay(Limits.RetryPart, _source.Clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task ServeAsync(CancellationToken stopping)
    {
        WebApplicationBuilder builder = WebApplication.CreateEmptyBuilder(new() { ApplicationName = "diagnostics" });
        builder.WebHost.UseKestrelCore().ConfigureKestrel(Limit);
        builder.Services.AddRoutingCore();
        await using WebApplication application = builder.Build();
        application.Use(AroundAsync);
        application.UseRouting();
        foreach (IPagePart part in _parts)
        {
            part.Map(application);
        }

        await application.StartAsync(stopping).ConfigureAwait(false);
        string bound = application.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses.First();
        int port = new Uri(bound.Replace("localhost", "127.0.0.1", StringComparison.Ordinal)).Port;
        string address = $"http://{(_port == 0 ? "127.0.0.1" : "localhost")}:{port}/";
        _source.State.SetTrouble(Part, Instant.FromDateTime(_source.Clock.GetUtcNow()), null);
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

    /// <summary>What all parts share: headers, who may ask, and words for what isn't there.</summary>
    private static async Task AroundAsync(HttpContext context, RequestDelegate next)
    {
        IHeaderDictionary headers = context.Response.Headers;
        headers.ContentSecurityPolicy = Policy;
        headers.XContentTypeOptions = "nosniff";
        headers["Referrer-Policy"] = "same-origin";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers.CacheControl = "no-store";

        // Names of hosts know no case (RFC 9110, 4.2.3).
        if (context.Request.Host.Host.ToLowerInvariant() is not ("localhost" or "127.0.0.1" or "[::1]"))
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status421MisdirectedRequest, "This page answers to localhost, 127.0.0.1 and [::1] only. From elsewhere, forward a port, for example over SSH.").ConfigureAwait(false);
            return;
        }

        await next(context).ConfigureAwait(false);
        if (context.Response.HasStarted || context.Response.ContentType is not null)
        {
            return;
        }

        // To read what can only be written to is to read nothing; to write where nothing takes it is what is told to who writes.
        bool isReading = HttpMethods.IsGet(context.Request.Method) || HttpMethods.IsHead(context.Request.Method);
        if (context.Response.StatusCode is StatusCodes.Status404NotFound or StatusCodes.Status405MethodNotAllowed && isReading)
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status404NotFound, "There is nothing here. The report is at /, and as data at /report.json.").ConfigureAwait(false);
        }
        else if (context.Response.StatusCode is StatusCodes.Status404NotFound or StatusCodes.Status405MethodNotAllowed)
        {
            headers.Allow = "GET, HEAD";
            await PageAnswers.RefuseAsync(context, StatusCodes.Status405MethodNotAllowed, "This page can only be read.").ConfigureAwait(false);
        }
    }

    [LoggerMessage(31, LogLevel.Error, "page: {Message} Port {Port} can't be used; end the other program, or choose another port with --port. The analysis goes on; trying again every minute.")]
    private partial void Failed(string message, int port);
}
