using System.Globalization;
using System.IO.Compression;
using System.Net;
using System.Net.Sockets;
using Diagnostics.Agent.Access;
using Diagnostics.Agent.Announcing;
using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Agent.Pages.Sites;
using Diagnostics.Agent.Pages.Walks;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting.Server;
using Microsoft.AspNetCore.Hosting.Server.Features;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.ResponseCompression;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Serves the report: always on the loopback addresses, and where the settings say so and there is a passcode, to other devices too. A port that is taken, or any
/// other failure here, is told in the journal and tried again; the analysis doesn't notice. Who may ask for what is for the <see cref="Gate"/> to say.
/// </summary>
internal sealed partial class PageService : BackgroundService
{
    private const string Part = "page";
    private const string AccessPart = "access";
    private const string NamePart = "name";
    private const string CertificatePart = "certificate";

    private const string Policy =
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

    /// <summary>What a browser could do for a page, and this one never asks for.</summary>
    private const string Permissions =
        "camera=(), display-capture=(), geolocation=(), gyroscope=(), microphone=(), midi=(), payment=(), usb=()";

    private readonly int _port;
    private readonly PageSource _source;
    private readonly Action<string> _announce;
    private readonly ILogger<PageService> _logger;
    private readonly Gate _gate;
    private readonly SignInPart _signIn;
    private readonly IReadOnlyList<IPagePart> _parts;
    private readonly ConnectionPlaces _near = new(isDistant: false, Limits.LoopbackConnections, Limits.LoopbackConnections);
    private readonly ConnectionPlaces _distant = new(isDistant: true, Limits.DistantConnections, Limits.ConnectionsPerAddress);
    private AccessPlan _told = AccessPlan.LoopbackOnly;

    /// <param name="port">TCP port; 0 = any free one, on 127.0.0.1 only.</param>
    /// <param name="source">What to show.</param>
    /// <param name="announce">Called with each address, once it is served.</param>
    /// <param name="logger">The journal.</param>
    /// <param name="access">Where else it answers; null = nowhere.</param>
    public PageService(int port, PageSource source, Action<string> announce, ILogger<PageService> logger, AccessSettings? access = null)
    {
        _port = port;
        _source = source;
        _announce = announce;
        _logger = logger;
        _gate = new(access ?? new(), source.Clock);
        _signIn = new(_gate, logger);
        SitePart site = new(source);
        _parts =
        [
            new ReportPart(source),
            new RecordPart(source),
            new SoakTestPart(source),
            new NodePart(source),
            new WalkPart(source),
            site,
            new TimePart(source),
            new FramesPart(source),
            new LivePart(source, [PageRenderer.At, NodePages.At, WalkPages.At, site.At]),
            .. source.Board is { } board ? (IPagePart[])[new BoardDocumentPart(source.State, board)] : [],
            .. source.Bundles is { } bundles ? (IPagePart[])[new BundlePart(bundles)] : [],
            .. _gate.IsWanted ? (IPagePart[])[_signIn] : [],
        ];
    }

    public override void Dispose()
    {
        _signIn.Dispose();
        base.Dispose();
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
                SetTrouble(Part, Say($"The report page could not be served for a while."));
                await Task.Delay(Limits.RetryPart, _source.Clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    /// <summary>Serves until it is told to end, or until other devices can be served from elsewhere than before.</summary>
    private async Task ServeAsync(CancellationToken stopping)
    {
        AccessPlan plan = _gate.Plan();
        (IPAddress[] free, IPAddress[] taken) = PageListeners.Free(plan.ListenOn, _port);
        Tell(plan, taken);
        WebApplicationBuilder builder = WebApplication.CreateEmptyBuilder(new() { ApplicationName = "diagnostics" });
        PageListeners listeners = new(_port, free, _gate.Settings.Certificate, _near, _distant);
        listeners.Use(builder.WebHost);
        builder.Services.AddRoutingCore();
        Compress(builder.Services);
        await using WebApplication application = builder.Build();
        application.UseResponseCompression();
        application.Use(AroundAsync);
        application.UseRouting();
        foreach (IPagePart part in _parts)
        {
            part.Map(application);
        }

        await application.StartAsync(stopping).ConfigureAwait(false);
        SetTrouble(Part, null);
        string[] addresses = [.. listeners.Addresses(application.Services.GetRequiredService<IServer>().Features.Get<IServerAddressesFeature>()!.Addresses)];
        foreach (string address in addresses)
        {
            _announce(address);
        }

        using CancellationTokenSource served = CancellationTokenSource.CreateLinkedTokenSource(stopping);
        Task announcing = AnnounceAsync(free, addresses, served.Token);
        long began = _source.Clock.GetTimestamp();
        do
        {
            _gate.Sessions.EndOld();
            TellCertificate();
            await Task.Delay(_gate.IsWanted ? Limits.AccessLook : Timeout.InfiniteTimeSpan, _source.Clock, stopping).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
        while (!stopping.IsCancellationRequested && _gate.Plan() == plan && (taken.Length == 0 || _source.Clock.GetElapsedTime(began) < Limits.RetryPart));

        await served.CancelAsync().ConfigureAwait(false);
        await announcing.ConfigureAwait(false);
        using CancellationTokenSource patience = new(Limits.PageFarewell);
        await application.StopAsync(patience.Token).ConfigureAwait(false);
    }

    /// <summary>
    /// A page of sixty modules is a hundred kilobytes of words, a phone in a riser cupboard has a poor line, and a small board little time: so the quickest level.
    /// Under TLS as well: no page carries a secret whose length could tell it (forgery is told by headers, the session by a cookie). Streams aren't of the
    /// library's kinds, which go out as they come.
    /// </summary>
    private static void Compress(IServiceCollection services)
    {
        services.AddResponseCompression(options => options.EnableForHttps = true);
        services.Configure<BrotliCompressionProviderOptions>(options => options.Level = CompressionLevel.Fastest);
        services.Configure<GzipCompressionProviderOptions>(options => options.Level = CompressionLevel.Fastest);
    }

    /// <summary>As long as other devices are served, they are told by what name.</summary>
    private Task AnnounceAsync(IPAddress[] listenOn, string[] addresses, CancellationToken over)
    {
        if (!_gate.Settings.IsAnnounced || listenOn.Length == 0 || addresses.Length < 2)
        {
            SetTrouble(NamePart, null);
            return Task.CompletedTask;
        }

        // The first is loopback.
        Uri served = new(addresses[1]);
        return new NameAnnouncer(_gate.Settings, _source.Clock, trouble => SetTrouble(NamePart, trouble), Named, _logger).RunAsync(listenOn, served.Port, over);

        void Named(string? name)
        {
            _gate.AnnouncedName = name;
            if (name is not null)
            {
                _announce(string.Create(CultureInfo.InvariantCulture, $"{served.Scheme}://{name}:{served.Port}/"));
            }
        }
    }

    /// <summary>What is in the way of other devices, in the journal and on the page, once each time that it changes.</summary>
    private void Tell(AccessPlan plan, IPAddress[] taken)
    {
        Sentence? obstacle = plan.Obstacle;
        if (taken.Length > 0)
        {
            obstacle = Say($"This page can’t be reached at {string.Join(", ", taken.Select(address => address.ToString()))}: another program uses port {Named(_port.ToString(CultureInfo.InvariantCulture))} there. It is tried again every minute.");
        }

        AccessPlan told = plan with { Obstacle = obstacle };
        if (told != _told && obstacle is not null)
        {
            NotOpen(obstacle.English);
        }

        _told = told;
        SetTrouble(AccessPart, obstacle);
    }

    /// <summary>Browsers refuse a certificate that has ended, and then nobody can see why.</summary>
    private void TellCertificate()
    {
        DateTimeOffset now = _source.Clock.GetUtcNow();
        if (_gate.Settings.Certificate is not { } certificate || certificate.Ends - now > Limits.CertificateWarning)
        {
            SetTrouble(CertificatePart, null);
            return;
        }

        string day = certificate.Ends.ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);
        SetTrouble(CertificatePart, certificate.Ends > now
            ? Say($"The certificate of this page ends on {Named(day)} UTC. Renew it and restart the service: afterwards browsers on other devices refuse the page.")
            : Say($"The certificate of this page ended on {Named(day)} UTC, if this board’s clock is right: browsers on other devices refuse the page. Renew it and restart the service."));
    }

    private void SetTrouble(string part, Sentence? text) => _source.State.SetTrouble(part, Instant.FromDateTime(_source.Clock.GetUtcNow()), text);

    /// <summary>What all parts share: headers, who may ask, and words for what isn't there.</summary>
    private async Task AroundAsync(HttpContext context, RequestDelegate next)
    {
        IHeaderDictionary headers = context.Response.Headers;
        headers.ContentSecurityPolicy = Policy;
        headers.XContentTypeOptions = "nosniff";
        headers["Referrer-Policy"] = "same-origin";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers["Permissions-Policy"] = Permissions;
        headers.CacheControl = "no-store";
        LanguageChoice.Decide(context, _source.Language);
        if (!await _gate.AdmitAsync(context).ConfigureAwait(false) || LanguageChoice.LeadsBack(context))
        {
            return;
        }

        // An answer that goes on and on ends with the session that asked for it.
        using CancellationTokenSource? over = context.Features.Get<Session>() is { } session
            ? CancellationTokenSource.CreateLinkedTokenSource(context.RequestAborted, session.Ended)
            : null;
        context.RequestAborted = over?.Token ?? context.RequestAborted;
        await next(context).ConfigureAwait(false);
        if (context.Response.HasStarted || context.Response.ContentType is not null)
        {
            return;
        }

        if (context.Response.StatusCode is not (StatusCodes.Status404NotFound or StatusCodes.Status405MethodNotAllowed))
        {
            return;
        }

        // To read what can only be written to is to read nothing; to write where nothing takes it is what is told to who writes.
        if (HttpMethods.IsGet(context.Request.Method) || HttpMethods.IsHead(context.Request.Method))
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status404NotFound, Say($"There is nothing here. The report is at /, and as data at /report.json.")).ConfigureAwait(false);
            return;
        }

        headers.Allow = "GET, HEAD";
        await PageAnswers.RefuseAsync(context, StatusCodes.Status405MethodNotAllowed, Say($"This page can only be read.")).ConfigureAwait(false);
    }

    [LoggerMessage(31, LogLevel.Error, "page: {Message} Port {Port} can't be used; end the other program, or choose another port with --port. The analysis goes on; trying again every minute.")]
    private partial void Failed(string message, int port);

    [LoggerMessage(35, LogLevel.Warning, "access: {Obstacle}")]
    private partial void NotOpen(string obstacle);
}
