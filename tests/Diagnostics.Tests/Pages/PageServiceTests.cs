using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Pages;

public sealed class PageServiceTests : IAsyncLifetime
{
    private readonly AgentState _state = new();
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly HttpClient _client = new();
    private readonly PageService _service;

    public PageServiceTests() => _service = new(0, _state, TimeProvider.System, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);

    public async ValueTask InitializeAsync()
    {
        await _service.StartAsync(TestContext.Current.CancellationToken);
        _client.BaseAddress = new(await _address.Task);
    }

    public async ValueTask DisposeAsync()
    {
        _client.Dispose();
        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
    }

    [Fact]
    public async Task ThePageAndTheDocumentAreServedUnderAStrictPolicy()
    {
        _state.Report = SampleReports.Rich();
        using HttpResponseMessage page = await GetAsync("/");
        Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        string policy = Assert.Single(page.Headers.GetValues("Content-Security-Policy"));
        Assert.StartsWith("default-src 'none'; style-src 'self'; script-src 'self';", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.Equal("nosniff", Assert.Single(page.Headers.GetValues("X-Content-Type-Options")));
        Assert.True(page.Headers.CacheControl!.NoStore);
        Assert.Empty(page.Headers.Server);

        using HttpResponseMessage document = await GetAsync("/report.json");
        Assert.Equal("application/json", document.Content.Headers.ContentType!.MediaType);
        Assert.Equal(Core.Reporting.ReportJson.ToUtf8(_state.Report), await document.Content.ReadAsByteArrayAsync(TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task BeforeTheFirstSnapshotThereIsAPageThatClaimsNothing()
    {
        using HttpResponseMessage page = await GetAsync("/");
        Assert.Contains("nothing can be said about the bus", await page.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AssetsAreNamedByTheirContentAndMayBeKeptForGood()
    {
        Assert.Matches("^/assets/page\\.[0-9a-f]{16}\\.css$", PageAssets.Style.Path);
        foreach (PageAsset asset in new[] { PageAssets.Style, PageAssets.Script })
        {
            using HttpResponseMessage answer = await GetAsync(asset.Path);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            Assert.Contains("immutable", answer.Headers.CacheControl!.ToString(), StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData("library.example")]
    [InlineData("127.0.0.1.example")]
    [InlineData("192.0.2.1:8480")]
    public async Task ANameThatPointsHereFromElsewhereIsRefused(string host)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, "/report.json");
        request.Headers.Host = host;
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.MisdirectedRequest, answer.StatusCode);
        Assert.DoesNotContain("schema", await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("localhost:1234")]
    [InlineData("LocalHost")]
    [InlineData("127.0.0.1")]
    [InlineData("[::1]:8480")]
    public async Task TheNamesOfThisBoardAreServed(string host)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, "/");
        request.Headers.Host = host;
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    [Theory]
    [InlineData("POST", "/", HttpStatusCode.MethodNotAllowed)]
    [InlineData("DELETE", "/report.json", HttpStatusCode.MethodNotAllowed)]
    [InlineData("HEAD", "/", HttpStatusCode.OK)]
    [InlineData("GET", "/assets/page.css", HttpStatusCode.NotFound)]
    [InlineData("GET", "/../etc/passwd", HttpStatusCode.NotFound)]
    public async Task NothingElseIsAnswered(string method, string path, HttpStatusCode expected)
    {
        using HttpRequestMessage request = new(new(method), path);
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(expected, answer.StatusCode);
    }

    [Fact]
    public async Task APortThatIsTakenIsToldAndNothingElseFails()
    {
        AgentState state = new();
        using PageService second = new(_client.BaseAddress!.Port, state, TimeProvider.System, _ => { }, NullLogger<PageService>.Instance);
        await second.StartAsync(TestContext.Current.CancellationToken);
        while (state.Troubles.IsEmpty)
        {
            TestContext.Current.CancellationToken.ThrowIfCancellationRequested();
            await Task.Yield();
        }

        Assert.Equal("page", Assert.Single(state.Troubles).Part);
        await second.StopAsync(TestContext.Current.CancellationToken);
    }

    private Task<HttpResponseMessage> GetAsync(string path) => _client.GetAsync(new Uri(path, UriKind.Relative), TestContext.Current.CancellationToken);
}
