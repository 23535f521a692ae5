using System.Net;
using System.Net.Sockets;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.Http;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Access;

/// <summary>
/// Who may ask for what. On loopback reading is free; from other devices everything but the page to sign in needs a session. Everywhere the Host header must be a
/// name of this board (else a name that somebody points here could read the page from a browser, DNS rebinding), and whatever changes something must come from
/// our own page. That is judged by the browser's Origin header, which no script can set and which is required, and by Sec-Fetch-Site where it comes (browsers
/// send it over TLS and on loopback only); the cookie is sent to nobody else's requests (SameSite=Strict). A token in each form would be a third answer to the
/// same question, and each new form could forget it; this stands in one place before all of them.
/// </summary>
internal sealed class Gate
{
    private readonly AccessSettings _settings;
    private readonly PasscodeFile _file;
    private PasscodeState? _last;
    private volatile string? _announcedName;

    public Gate(AccessSettings settings, TimeProvider clock)
    {
        _settings = settings;
        _file = new(settings.PasscodeFile);
        Sessions = new(clock);
        Throttle = new(clock);
    }

    public Sessions Sessions { get; }

    public GuessThrottle Throttle { get; }

    /// <summary>The name by which the board is announced, which may be another than was asked for; null = none is.</summary>
    public string? AnnouncedName
    {
        get => _announcedName;
        set => _announcedName = value;
    }

    public AccessSettings Settings => _settings;

    /// <summary>Other devices may be served at all.</summary>
    public bool IsWanted => _settings.ListenOn.Count > 0;

    public string CookieName => _settings.Certificate is null ? "diagnostics" : "__Host-diagnostics";

    /// <summary>The passcode that holds now. Whenever it is another one, or none, all sessions end.</summary>
    public PasscodeState Passcode()
    {
        PasscodeState now = _file.Read();
        if (Interlocked.Exchange(ref _last, now) is { } before && !ReferenceEquals(before, now))
        {
            Sessions.EndAll();
        }

        return now;
    }

    /// <summary>What can be served at this moment: nothing without a passcode, and only addresses that the board has.</summary>
    public AccessPlan Plan()
    {
        if (!IsWanted)
        {
            return AccessPlan.LoopbackOnly;
        }

        if (Passcode().Trouble is { } trouble)
        {
            return new([], Why(trouble));
        }

        IPAddress[] there = [.. _settings.ListenOn.Where(IsThere)];
        string[] missing = [.. _settings.ListenOn.Except(there).Select(address => address.ToString())];
        return new(there, missing.Length == 0 ? null : Say($"This page can’t be reached at {string.Join(", ", missing)}: the board has no such address now. It is tried again; otherwise correct the setting listenOn."));
    }

    /// <summary>Lets a request through, or answers it.</summary>
    /// <returns>True where it goes on.</returns>
    public async Task<bool> AdmitAsync(HttpContext context)
    {
        HttpRequest request = context.Request;
        bool isDistant = context.Features.Get<Arrival>() is { IsDistant: true };
        if (!IsOurName(request.Host.Host, isDistant, context.Connection.LocalIpAddress))
        {
            Sentence why = isDistant
                ? Say($"This page answers to the addresses and the name of its board only.")
                : Say($"This page answers to localhost, 127.0.0.1 and [::1] only. From elsewhere, forward a port, for example over SSH.");
            await PageAnswers.RefuseAsync(context, StatusCodes.Status421MisdirectedRequest, why).ConfigureAwait(false);
            return false;
        }

        if (!IsOurPage(request))
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status403Forbidden, Say($"This is done from this tool's own page, or by its command on this machine.")).ConfigureAwait(false);
            return false;
        }

        return !isDistant || await IsSignedInAsync(context).ConfigureAwait(false);
    }

    private async Task<bool> IsSignedInAsync(HttpContext context)
    {
        if (Passcode().Trouble is { } trouble)
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status503ServiceUnavailable, Why(trouble)).ConfigureAwait(false);
            return false;
        }

        if (Sessions.Find(context.Request.Cookies[CookieName]) is { } session)
        {
            context.Features.Set(session);
            context.Features.Get<Arrival>()!.IsSignedIn = true;
            return true;
        }

        string path = context.Request.Path.Value ?? string.Empty;
        if (path == SignInPart.Path || PageAssets.Find(path) is not null)
        {
            return true;
        }

        bool isForPerson = HttpMethods.IsGet(context.Request.Method) && context.Request.Headers.Accept.ToString().Contains("text/html", StringComparison.Ordinal);
        if (isForPerson)
        {
            PageAnswers.SeeOther(context.Response, SignInPart.Path);
            await context.Response.CompleteAsync().ConfigureAwait(false);
        }
        else
        {
            await PageAnswers.RefuseAsync(context, StatusCodes.Status401Unauthorized, Say($"From another device, sign in first, at {SignInPart.Path}.")).ConfigureAwait(false);
        }

        return false;
    }

    private bool IsOurName(string host, bool isDistant, IPAddress? local)
    {
        // Names of hosts know no case (RFC 9110, 4.2.3).
        string name = host.ToLowerInvariant();
        if (!isDistant)
        {
            return name is "localhost" or "127.0.0.1" or "[::1]";
        }

        if (name == _settings.Name || name == _settings.Name + ".local" || name == MachineName || name == MachineName + ".local" || name == AnnouncedName)
        {
            return true;
        }

        // By an address, no name was asked for, so none can have been turned; it is the one that the connection came to.
        return IPAddress.TryParse(name.Trim('[', ']'), out IPAddress? address)
            ? local is not null && Bare(address).Equals(Bare(local))
            : name.Length > 0 && _settings.Certificate is { } certificate && certificate.IsFor(name);
    }

    private static string MachineName { get; } = Environment.MachineName.ToLowerInvariant();

    /// <summary>Without what tells interfaces apart, which a browser doesn't send.</summary>
    private static IPAddress Bare(IPAddress address) => address.IsIPv4MappedToIPv6 ? address.MapToIPv4() : new(address.GetAddressBytes());

    /// <summary>
    /// Reading by a link from anywhere is what links are for. What another site's page loads by itself (an image, a stream) takes places from people and is refused
    /// where the browser tells; what changes something must say that it comes from here.
    /// </summary>
    private static bool IsOurPage(HttpRequest request)
    {
        string site = request.Headers["Sec-Fetch-Site"].ToString();
        if (HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method))
        {
            return site is "" or "same-origin" or "none" || request.Headers["Sec-Fetch-Mode"].ToString() == "navigate";
        }

        return site is "" or "same-origin" && request.Headers.Origin.ToString() == $"{request.Scheme}://{request.Host.Value}";
    }

    private static bool IsThere(IPAddress address)
    {
        if (address.Equals(IPAddress.IPv6Any))
        {
            return true;
        }

        try
        {
            using Socket probe = new(address.AddressFamily, SocketType.Stream, ProtocolType.Tcp);
            probe.Bind(new IPEndPoint(address, 0));
            return true;
        }
        catch (SocketException)
        {
            return false;
        }
    }

    private Sentence Why(PasscodeTrouble trouble) => trouble switch
    {
        PasscodeTrouble.Missing => Say($"This page isn’t open to other devices: no passcode is set. Set one on the board with 'sudo /opt/diagnostics/diagnostics passcode set'; it then opens within seconds."),
        PasscodeTrouble.Damaged => Say($"This page isn’t open to other devices: the file of the passcode, {_settings.PasscodeFile}, is damaged. Set a new one on the board with 'sudo /opt/diagnostics/diagnostics passcode set'."),
        PasscodeTrouble.Unreadable => Say($"This page isn’t open to other devices: the file of the passcode, {_settings.PasscodeFile}, can’t be read. Let the service's group read it: chgrp diagnostics, chmod 0640."),
        _ => Say($"This page isn’t open to other devices: anybody on the board can read or change the file of the passcode, {_settings.PasscodeFile}. Close it (chmod 0640) and set a new passcode."),
    };
}
