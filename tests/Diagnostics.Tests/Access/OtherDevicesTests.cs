using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Access;
using Diagnostics.Agent.Pages;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Access;

/// <summary>The real server, asked by the address 127.0.0.2, which is set up here as one of the network's.</summary>
public sealed class OtherDevicesTests : IAsyncLifetime
{
    private const string Right = "bench lights at noon";

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("devices");
    private readonly AgentState _state = new() { KeepsLog = true };
    private readonly PasscodeFile _file;
    private readonly PageSource _source;
    private readonly List<PageService> _services = [];
    private readonly List<HttpClient> _clients = [];

    public OtherDevicesTests()
    {
        _file = new(Path.Combine(_directory.FullName, "passcode"));
        _source = new(_state, TimeProvider.System) { Captures = new(_directory.FullName, 1 << 20) };
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public ValueTask InitializeAsync() => ValueTask.CompletedTask;

    public async ValueTask DisposeAsync()
    {
        foreach (HttpClient client in _clients)
        {
            client.Dispose();
        }

        foreach (PageService service in _services)
        {
            await service.StopAsync(CancellationToken.None);
            service.Dispose();
        }

        _directory.Delete(recursive: true);
    }

    private async Task SetAsync(string passcode) => _file.Write(await PasscodeHash.OfAsync(passcode, memoryKibibytes: 64, passes: 1));

    /// <summary>Starts it and gives the addresses that it announced: loopback, then the other.</summary>
    private async Task<(Uri Near, Uri Distant)> ServeAsync(TlsCertificate? certificate = null)
    {
        _state.Report = SampleReports.Rich();
        TaskCompletionSource<string> near = new(TaskCreationOptions.RunContinuationsAsynchronously);
        TaskCompletionSource<string> distant = new(TaskCreationOptions.RunContinuationsAsynchronously);
        PageService service = new(
            0,
            _source,
            address => (address.Contains("127.0.0.1", StringComparison.Ordinal) ? near : distant).TrySetResult(address),
            NullLogger<PageService>.Instance,
            new() { ListenOn = [IPAddress.Parse("127.0.0.2")], PasscodeFile = _file.Path, Certificate = certificate, Name = "plant-room" });
        _services.Add(service);
        await service.StartAsync(Cancellation);
        Uri loopback = new(await near.Task.WaitAsync(Cancellation));
        return (loopback, new(await distant.Task.WaitAsync(Cancellation)));
    }

    private HttpClient Client(Uri address)
    {
        HttpClient client = new(new SocketsHttpHandler
        {
            AllowAutoRedirect = false,
            UseProxy = false,
            UseCookies = false,
            SslOptions = new SslClientAuthenticationOptions { RemoteCertificateValidationCallback = (_, _, _, _) => true },
        })
        { BaseAddress = address };
        _clients.Add(client);
        return client;
    }

    private static async Task<HttpResponseMessage> AskAsync(HttpClient client, HttpMethod method, string path, params (string Name, string Value)[] headers)
    {
        using HttpRequestMessage request = new(method, path);
        if (method == HttpMethod.Post)
        {
            request.Content = new StringContent(headers.FirstOrDefault(header => header.Name == "form").Value ?? string.Empty, Encoding.ASCII, "application/x-www-form-urlencoded");
        }

        foreach ((string name, string value) in headers.Where(header => header.Name != "form"))
        {
            request.Headers.TryAddWithoutValidation(name, value);
        }

        return await client.SendAsync(request, Cancellation);
    }

    private static string Own(HttpClient client) => client.BaseAddress!.GetLeftPart(UriPartial.Authority);

    private static async Task<HttpResponseMessage> SignInAsync(HttpClient client, string passcode) =>
        await AskAsync(client, HttpMethod.Post, SignInPart.Path, ("Origin", Own(client)), ("form", "passcode=" + Uri.EscapeDataString(passcode)));

    /// <summary>The cookie that a right passcode gives, as a browser sends it back.</summary>
    private static async Task<string> CookieAsync(HttpClient client, string passcode = Right)
    {
        using HttpResponseMessage answer = await SignInAsync(client, passcode);
        Assert.Equal(HttpStatusCode.SeeOther, answer.StatusCode);
        return Assert.Single(answer.Headers.GetValues("Set-Cookie")).Split(';')[0];
    }

    private static async Task<HttpStatusCode> StatusAsync(HttpClient client, HttpMethod method, string path, params (string Name, string Value)[] headers)
    {
        using HttpResponseMessage answer = await AskAsync(client, method, path, headers);
        return answer.StatusCode;
    }

    [Fact]
    public async Task NothingIsToldBeforeSigningInAndLoopbackStaysFree()
    {
        await SetAsync(Right);
        (Uri near, Uri distant) = await ServeAsync();
        string secret = _state.Report!.Source.Name;
        Assert.Contains(secret, await Client(near).GetStringAsync(new Uri("/report.json", UriKind.Relative), Cancellation), StringComparison.Ordinal);
        HttpClient client = Client(distant);
        foreach (string path in new[] { "/", "/report.json", "/soak.json", "/captures/x", "/nowhere", "/sign-in/../report.json", "/assets/../report.json", "/SIGN-IN/x" })
        {
            using HttpResponseMessage answer = await AskAsync(client, HttpMethod.Get, path);
            Assert.Equal(HttpStatusCode.Unauthorized, answer.StatusCode);
            Assert.DoesNotContain(secret, await answer.Content.ReadAsStringAsync(Cancellation), StringComparison.Ordinal);
        }

        Assert.Equal(HttpStatusCode.Unauthorized, await StatusAsync(client, HttpMethod.Post, "/mark", ("Origin", Own(client)), ("form", "note=x")));
        Assert.False(_state.TryTakeMark(out _, out _));
        using HttpResponseMessage led = await AskAsync(client, HttpMethod.Get, "/", ("Accept", "text/html"));
        Assert.Equal((HttpStatusCode.SeeOther, "/sign-in"), (led.StatusCode, led.Headers.Location!.OriginalString));
        using HttpResponseMessage page = await AskAsync(client, HttpMethod.Get, "/sign-in", ("Accept", "text/html"));
        string text = await page.Content.ReadAsStringAsync(Cancellation);
        Assert.Contains("autocomplete=\"current-password\"", text, StringComparison.Ordinal);
        Assert.Contains("not encrypted", text, StringComparison.Ordinal);
        Assert.DoesNotContain(secret, text, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", text, StringComparison.Ordinal);
        Assert.StartsWith("default-src 'none'", Assert.Single(page.Headers.GetValues("Content-Security-Policy")), StringComparison.Ordinal);
        Assert.Contains("camera=()", Assert.Single(page.Headers.GetValues("Permissions-Policy")), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(client, HttpMethod.Get, PageAssets.Style.Path));
    }

    [Fact]
    public async Task WhoSignsInReadsActsAndSignsOut()
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        using HttpResponseMessage answer = await SignInAsync(client, Right);
        string whole = Assert.Single(answer.Headers.GetValues("Set-Cookie"));
        Assert.Contains("httponly", whole, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("samesite=strict", whole, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("expires", whole, StringComparison.OrdinalIgnoreCase);
        string cookie = whole.Split(';')[0];
        using HttpResponseMessage page = await AskAsync(client, HttpMethod.Get, "/", ("Cookie", cookie), ("Accept", "text/html"));
        Assert.Contains("Sign out", await page.Content.ReadAsStringAsync(Cancellation), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.SeeOther, await StatusAsync(client, HttpMethod.Post, "/mark", ("Cookie", cookie), ("Origin", Own(client)), ("form", "note=lights")));
        Assert.True(_state.TryTakeMark(out _, out _));
        Assert.Equal(HttpStatusCode.SeeOther, await StatusAsync(client, HttpMethod.Post, "/sign-out", ("Cookie", cookie), ("Origin", Own(client))));
        Assert.Equal(HttpStatusCode.Unauthorized, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie)));
    }

    [Theory]
    [InlineData(null, null)]
    [InlineData("null", null)]
    [InlineData("http://library.example", null)]
    [InlineData("http://127.0.0.2", null)]
    [InlineData("own", "cross-site")]
    [InlineData("own", "same-site")]
    public async Task AForgedRequestIsRefusedWithTheCookieToo(string? origin, string? site)
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        string cookie = await CookieAsync(client);
        foreach (string path in new[] { "/mark", "/soak", "/soak/stop", "/sign-out", "/sign-in", "/whatever" })
        {
            List<(string, string)> headers = [("Cookie", cookie), ("form", "note=forged&for=62h")];
            headers.AddRange(origin is null ? [] : [("Origin", origin == "own" ? Own(client) : origin)]);
            headers.AddRange(site is null ? [] : [("Sec-Fetch-Site", site)]);
            Assert.Equal(HttpStatusCode.Forbidden, await StatusAsync(client, HttpMethod.Post, path, [.. headers]));
        }

        Assert.False(_state.TryTakeMark(out _, out _));
        Assert.False(_state.TryTakeSoakWish(out _));
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie)));
        Assert.Equal(HttpStatusCode.Forbidden, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie), ("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "no-cors")));
    }

    [Theory]
    [InlineData("library.example", HttpStatusCode.MisdirectedRequest)]
    [InlineData("localhost", HttpStatusCode.MisdirectedRequest)]
    [InlineData("192.0.2.99", HttpStatusCode.MisdirectedRequest)]
    [InlineData("plant-room.local.library.example", HttpStatusCode.MisdirectedRequest)]
    [InlineData("Plant-Room.local", HttpStatusCode.OK)]
    [InlineData("plant-room:8480", HttpStatusCode.OK)]
    [InlineData("127.0.0.2", HttpStatusCode.OK)]
    public async Task OnlyNamesOfTheBoardAreAnswered(string host, HttpStatusCode expected)
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        Assert.Equal(expected, await StatusAsync(Client(distant), HttpMethod.Get, "/sign-in", ("Host", host)));
    }

    [Fact]
    public async Task GuessingIsHeldUpAndTheRightOneWaitsToo()
    {
        await SetAsync(Right);
        (Uri near, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        string cookie = await CookieAsync(client);
        HttpStatusCode[] answers = await Task.WhenAll(Enumerable.Range(0, 24).Select(async number =>
        {
            using HttpResponseMessage answer = await SignInAsync(client, "guess number " + number);
            Assert.False(answer.Headers.Contains("Set-Cookie"));
            return answer.StatusCode;
        }));
        Assert.All(answers, status => Assert.Contains(status, new[] { HttpStatusCode.Forbidden, HttpStatusCode.TooManyRequests, HttpStatusCode.ServiceUnavailable }));
        Assert.InRange(answers.Count(status => status == HttpStatusCode.Forbidden), 1, GuessThrottle.FreeTries);
        await Patience.UntilAsync(async () => (await SignInAsync(client, "guess again and again")).StatusCode == HttpStatusCode.TooManyRequests);

        using HttpResponseMessage right = await SignInAsync(client, Right);
        Assert.Equal(HttpStatusCode.TooManyRequests, right.StatusCode);
        Assert.True(right.Headers.RetryAfter!.Delta >= TimeSpan.FromSeconds(1));

        // Who is in stays in, and the board itself notices nothing.
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie)));
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(Client(near), HttpMethod.Get, "/report.json"));
    }

    [Fact]
    public async Task AnotherPasscodeEndsAllSessionsAndNoneClosesThePage()
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        string cookie = await CookieAsync(client);
        await SetAsync("another four words here");
        Assert.Equal(HttpStatusCode.Unauthorized, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie)));
        Assert.Equal(HttpStatusCode.Forbidden, (await SignInAsync(client, Right)).StatusCode);
        cookie = await CookieAsync(client, "another four words here");
        File.WriteAllText(_file.Path, "damaged");
        try
        {
            Assert.Equal(HttpStatusCode.ServiceUnavailable, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie)));
        }
        catch (HttpRequestException)
        {
            // It was closed between the two lines.
        }

        await Patience.UntilAsync(() => _state.Troubles.Any(trouble => trouble.Part == "access" && trouble.Text.English.Contains("damaged", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task WithoutAPasscodeOnlyTheBoardIsServedUntilOneIsSet()
    {
        Task<(Uri Near, Uri Distant)> serving = ServeAsync();
        await Patience.UntilAsync(() => _state.Troubles.Any(trouble => trouble.Part == "access" && trouble.Text.English.Contains("passcode set", StringComparison.Ordinal)));

        Assert.False(serving.IsCompleted);
        await SetAsync(Right);
        (_, Uri distant) = await serving;
        await CookieAsync(Client(distant));
        Assert.Empty(_state.Troubles);
    }

    [Fact]
    public async Task WithACertificateItIsTlsAndTheCookieSaysSo()
    {
        (string certificate, string key) = Certificates.Make(_directory.FullName, "board.example");
        await SetAsync(Right);
        (Uri near, Uri distant) = await ServeAsync(TlsCertificate.Read(certificate, "certificate", key, "certificateKey"));
        Assert.Equal(("http", "https"), (near.Scheme, distant.Scheme));
        HttpClient client = Client(distant);
        using HttpResponseMessage answer = await SignInAsync(client, Right);
        string cookie = Assert.Single(answer.Headers.GetValues("Set-Cookie"));
        Assert.StartsWith("__Host-diagnostics=", cookie, StringComparison.Ordinal);
        Assert.Contains("secure", cookie, StringComparison.OrdinalIgnoreCase);
        Assert.Contains("path=/", cookie, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(client, HttpMethod.Get, "/report.json", ("Cookie", cookie.Split(';')[0]), ("Host", "board.example")));
        Assert.Equal(HttpStatusCode.MisdirectedRequest, await StatusAsync(client, HttpMethod.Get, "/sign-in", ("Host", "library.example")));

        using TcpClient plain = new();
        await plain.ConnectAsync(IPAddress.Parse("127.0.0.2"), distant.Port, Cancellation);
        await plain.GetStream().WriteAsync("GET /report.json HTTP/1.1\r\nHost: 127.0.0.2\r\n\r\n"u8.ToArray(), Cancellation);
        Assert.DoesNotContain("schema", await RestAsync(plain.GetStream()), StringComparison.Ordinal);
    }

    [Fact]
    public async Task ADeviceThatHoldsItsConnectionsLeavesRoomForOthers()
    {
        await SetAsync(Right);
        (Uri near, Uri distant) = await ServeAsync();
        List<TcpClient> held = [];
        for (int device = 3; device < 13; device++)
        {
            for (int count = 0; count < 40; count++)
            {
                TcpClient client = new(new IPEndPoint(new IPAddress([127, 0, 0, (byte)device]), 0));
                held.Add(client);
                try
                {
                    await client.ConnectAsync(IPAddress.Parse("127.0.0.2"), distant.Port, Cancellation);
                    await client.GetStream().WriteAsync("GET / HTTP/1.1\r\nHost: "u8.ToArray(), Cancellation);
                }
                catch (Exception cut) when (cut is IOException or SocketException)
                {
                    // It had its share.
                }
            }
        }

        string cookie = await CookieAsync(Client(distant));
        Assert.NotEmpty(cookie);
        Assert.Equal(HttpStatusCode.OK, await StatusAsync(Client(near), HttpMethod.Get, "/report.json"));
        foreach (TcpClient client in held)
        {
            client.Dispose();
        }
    }

    /// <summary>The stream that keeps a page current: places are bounded, and it ends with the session.</summary>
    [Fact]
    public async Task LiveStreamsHavePlacesAndEndWithTheSession()
    {
        await SetAsync(Right);
        (Uri near, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        string cookie = await CookieAsync(client);
        string page = await Client(near).GetStringAsync(near, Cancellation);
        string live = "/live?of=/&have=" + new string(',', page.Split("class=\"piece\"").Length - 2);
        List<HttpResponseMessage> streams = [];
        for (int count = 0; count <= Limits.StreamsPerAddress; count++)
        {
            using HttpRequestMessage request = new(HttpMethod.Get, live);
            request.Headers.Add("Cookie", cookie);
            streams.Add(await client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, Cancellation));
        }

        Assert.All(streams.SkipLast(1), stream => Assert.Equal(HttpStatusCode.OK, stream.StatusCode));
        Assert.Equal(HttpStatusCode.ServiceUnavailable, streams[^1].StatusCode);
        Assert.Equal(Limits.StreamRetry, streams[^1].Headers.RetryAfter!.Delta);
        using HttpRequestMessage board = new(HttpMethod.Get, new Uri(near, live));
        using HttpResponseMessage own = await Client(near).SendAsync(board, HttpCompletionOption.ResponseHeadersRead, Cancellation);
        Assert.Equal(HttpStatusCode.OK, own.StatusCode);
        Assert.Equal(HttpStatusCode.SeeOther, await StatusAsync(client, HttpMethod.Post, "/sign-out", ("Cookie", cookie), ("Origin", Own(client))));
        foreach (HttpResponseMessage stream in streams)
        {
            // Its end is the point: one that went on would hold the test up.
            await stream.Content.ReadAsByteArrayAsync(Cancellation);
            stream.Dispose();
        }
    }

    [Theory]
    [InlineData("GET /../../etc/passwd HTTP/1.1\r\nHost: 127.0.0.2\r\n\r\n")]
    [InlineData("GET /captures/..%2f..%2fetc%2fpasswd HTTP/1.1\r\nHost: 127.0.0.2\r\n\r\n")]
    [InlineData("GET / HTTP/1.1\r\nHost: 127.0.0.2\r\nHost: localhost\r\n\r\n")]
    [InlineData("GET / HTTP/1.1\r\n\r\n")]
    [InlineData("GET http://localhost/report.json HTTP/1.1\r\nHost: 127.0.0.2\r\n\r\n")]
    [InlineData("GET / HTTP/1.0\r\n\r\n")]
    [InlineData("POST /mark HTTP/1.1\r\nHost: 127.0.0.2\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n")]
    [InlineData("\0\0\0\0\r\n\r\n")]
    public async Task OddRequestsTellNothing(string request)
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        using TcpClient client = new();
        await client.ConnectAsync(IPAddress.Parse("127.0.0.2"), distant.Port, Cancellation);
        NetworkStream stream = client.GetStream();
        await stream.WriteAsync(Encoding.ASCII.GetBytes(request), Cancellation);
        client.Client.Shutdown(SocketShutdown.Send);
        string answer = await RestAsync(stream);
        Assert.DoesNotContain(" 200 ", answer, StringComparison.Ordinal);
        Assert.DoesNotContain(_state.Report!.Source.Name, answer, StringComparison.Ordinal);
        Assert.DoesNotContain("root:", answer, StringComparison.Ordinal);
    }

    [Fact]
    public async Task HugeRequestsAreRefused()
    {
        await SetAsync(Right);
        (_, Uri distant) = await ServeAsync();
        HttpClient client = Client(distant);
        Assert.Contains(await StatusAsync(client, HttpMethod.Get, "/" + new string('a', 10_000)), new[] { HttpStatusCode.RequestUriTooLong, HttpStatusCode.BadRequest });
        Assert.Equal(HttpStatusCode.RequestHeaderFieldsTooLarge, await StatusAsync(client, HttpMethod.Get, "/sign-in", ("X-Long", new string('a', 30_000))));
        Assert.Contains((await SignInAsync(client, new string('a', 4000))).StatusCode, new[] { HttpStatusCode.Forbidden });
        Assert.Contains(await StatusAsync(client, HttpMethod.Post, "/sign-in", ("Origin", Own(client)), ("form", "passcode=" + new string('a', 100_000))), new[] { HttpStatusCode.BadRequest, HttpStatusCode.RequestEntityTooLarge });
    }

    /// <summary>What the other end still says; a connection that is cut says nothing more.</summary>
    private static async Task<string> RestAsync(NetworkStream stream)
    {
        try
        {
            using StreamReader reader = new(stream);
            return await reader.ReadToEndAsync(Cancellation);
        }
        catch (IOException)
        {
            return string.Empty;
        }
    }
}
