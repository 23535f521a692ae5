using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>The page in a real browser, at the width of a small phone.</summary>
public sealed class BrowserTests : IAsyncLifetime, IClassFixture<Chromium>
{
    /// <summary>The smallest width that phones in use have, CSS pixels: common practice, no source.</summary>
    private const int PhoneWidth = 360;

    /// <summary>WCAG 2.2, success criterion 2.5.8, asks for 24; 2.5.5 (enhanced) for 44.</summary>
    private const int SmallestTarget = 44;

    private readonly AgentState _state = new();
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly PageService _service;
    private readonly List<string> _requests = [];
    private readonly List<string> _complaints = [];
    private readonly Chromium _chromium;
    private IBrowserContext? _context;

    public BrowserTests(Chromium chromium)
    {
        _chromium = chromium;
        _service = new(0, new(_state, TimeProvider.System), address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    public async ValueTask InitializeAsync()
    {
        _state.AddRows(SampleReports.Rows());
        await _service.StartAsync(TestContext.Current.CancellationToken);
    }

    public async ValueTask DisposeAsync()
    {
        if (_context is not null)
        {
            await _context.CloseAsync();
        }

        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
    }

    public static TheoryData<string> Samples() => ["rich", "quiet", "nothing", "crowded", "unknown"];

    [Theory]
    [MemberData(nameof(Samples))]
    public async Task OnAPhoneNothingIsWiderThanTheScreen(string sample)
    {
        IPage page = await OpenAsync(sample);
        foreach (IElementHandle closed in await page.QuerySelectorAllAsync("details:not([open]) > summary"))
        {
            await closed.ClickAsync();
        }

        Assert.Equal(PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Equal(0, await page.EvaluateAsync<int>($"[...document.querySelectorAll('main *')].filter(e => e.closest('thead') === null && e.getBoundingClientRect().right > {PhoneWidth} + 0.5).length"));
        Assert.Empty(_complaints);
    }

    [Theory]
    [MemberData(nameof(Samples))]
    public async Task OnAPhoneTheRecordFitsAndItsWaysAreLargeEnough(string sample)
    {
        IPage page = await OpenAsync(sample);
        await page.GotoAsync(new Uri(new(await _address.Task), "record").AbsoluteUri);
        Assert.Equal(PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Equal(0, await page.EvaluateAsync<int>($"[...document.querySelectorAll('main *')].filter(e => e.closest('thead') === null && e.getBoundingClientRect().right > {PhoneWidth} + 0.5).length"));
        foreach (ILocator way in await page.Locator(".about a").AllAsync())
        {
            Assert.InRange((await way.BoundingBoxAsync())!.Height, SmallestTarget, 400);
        }

        Assert.Empty(_complaints);
    }

    [Fact]
    public async Task NothingIsAskedOfAnyoneElseAndTheConsoleIsEmpty()
    {
        await OpenAsync("rich");
        string address = await _address.Task;
        Assert.Contains(address, _requests);
        Assert.All(_requests, request => Assert.StartsWith(request.StartsWith("data:", StringComparison.Ordinal) ? "data:" : address, request, StringComparison.Ordinal));
        Assert.Empty(_complaints);
    }

    [Fact]
    public async Task HostileNamesRunNothing()
    {
        IPage page = await OpenAsync("rich");
        Assert.Equal(0, await page.Locator("main img, main script").CountAsync());
        Assert.True(await page.GetByText(SampleReports.HostileName[..30]).CountAsync() > 0);
    }

    [Fact]
    public async Task WhatIsWrongStandsAboveWhoIsThere()
    {
        IPage page = await OpenAsync("rich");
        double findings = (await page.Locator("#findings").BoundingBoxAsync())!.Y;
        Assert.True((await page.Locator("h1").BoundingBoxAsync())!.Y < (await page.Locator("#sight").BoundingBoxAsync())!.Y);
        Assert.True((await page.Locator("#sight").BoundingBoxAsync())!.Y < findings);
        Assert.True(findings < (await page.Locator("#nodes").BoundingBoxAsync())!.Y);
    }

    [Fact]
    public async Task WhatIsTouchedIsLargeEnough()
    {
        IPage page = await OpenAsync("rich");
        foreach (ILocator target in await page.Locator("summary, .overview a, .foot a").AllAsync())
        {
            Assert.InRange((await target.BoundingBoxAsync())!.Height, SmallestTarget, 400);
        }
    }

    [Fact]
    public async Task WithoutScriptsEverythingIsThereAndThePageIsReloaded()
    {
        IPage page = await OpenAsync("rich", scripts: false);
        Assert.Equal(6, await page.Locator("article.finding").CountAsync());
        await page.Locator("details > summary").First.ClickAsync();
        Assert.True(await page.GetByText("three heartbeats are missing").IsVisibleAsync());
        Assert.Equal("30", await page.Locator("noscript meta").GetAttributeAsync("content"));
    }

    [Fact]
    public async Task NewsComesInWithoutClosingWhatWasOpened()
    {
        IPage page = await OpenAsync("rich");
        await page.Locator("[id^=finding-node-silent][id$=-causes] > summary").ClickAsync();
        _state.Report = SampleReports.Rich() with { Findings = SampleReports.Rich().Findings.Take(1).ToArray() };
        await page.Locator("article[id^=finding-node-duplicate-address]").WaitForAsync(new() { State = WaitForSelectorState.Detached });
        Assert.NotNull(await page.Locator("[id^=finding-node-silent][id$=-causes]").GetAttributeAsync("open"));
        Assert.Equal(1, await page.Locator("article.finding").CountAsync());
    }

    /// <summary>With a finger and without: begin, look at it, end it, print the record.</summary>
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task ASoakTestIsBegunAndEndedFromThePageAndItsRecordFitsTheScreenAndThePaper(bool scripts)
    {
        IPage page = await OpenAsync("quiet", scripts);
        Agent.Soaks.SoakRunner runner = new(_state);
        await page.Locator("#soak-start > summary").ClickAsync();
        await page.GetByLabel("Name, for the record").FillAsync("before hand-over");
        await page.GetByRole(AriaRole.Button, new() { Name = "Begin the soak test" }).ClickAsync();
        await page.WaitForURLAsync("**/#soak", new() { WaitUntil = WaitUntilState.Commit });
        Core.Soak.SoakRecord begun = Assert.Single(runner.OnSnapshot(_state.Report!, TimeSpan.Zero));
        Assert.Equal(("before hand-over", 62 * 3600.0), (begun.Name, begun.AskedSeconds));
        await page.ReloadAsync();
        await page.Locator("#soak-stop > summary").ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "End the soak test" }).ClickAsync();
        await page.WaitForURLAsync("**/#soak", new() { WaitUntil = WaitUntilState.Commit });
        runner.OnSnapshot(_state.Report!, TimeSpan.Zero);
        await page.ReloadAsync();
        await page.Locator("#soak-ended > summary").ClickAsync();
        await page.GetByRole(AriaRole.Link, new() { Name = "The record" }).ClickAsync();
        await page.WaitForURLAsync("**/soak/" + begun.Id, new() { WaitUntil = WaitUntilState.Commit });
        Assert.Equal("It can’t be told: nothing broke a rule, but too little was heard.", await page.Locator("h1").InnerTextAsync());
        Assert.Equal(PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        await page.EmulateMediaAsync(new() { Media = Media.Print });
        Assert.True(await page.GetByText("Taken over by").IsVisibleAsync());
        Assert.False(await page.GetByText("Back to the report").IsVisibleAsync());
        Assert.Empty(_complaints);
    }

    [Fact]
    public async Task WhenTheToolNoLongerAnswersThePageSaysThatItIsOld()
    {
        IPage page = await OpenAsync("rich");
        await _service.StopAsync(CancellationToken.None);
        await page.Locator("#stale").WaitForAsync(new() { State = WaitForSelectorState.Visible });
        Assert.Contains("What stands below is old", await page.Locator("#stale").InnerTextAsync(), StringComparison.Ordinal);
    }

    /// <summary>WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text.</summary>
    [Theory]
    [InlineData(ColorScheme.Light)]
    [InlineData(ColorScheme.Dark)]
    public async Task TextStandsOutFromItsGround(ColorScheme scheme)
    {
        IPage page = await OpenAsync("rich", scheme: scheme);
        double least = await page.EvaluateAsync<double>("""
            () => {
              const numbers = (text) => text.match(/[0-9.]+/g).map(Number);
              const light = (color) => { const [r, g, b] = numbers(color).slice(0, 3).map((c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }); return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
              const ground = (e) => { for (let at = e; at; at = at.parentElement) { const c = getComputedStyle(at).backgroundColor; const n = numbers(c); if (n.length < 4 || n[3] > 0) return c; } return "rgb(255,255,255)"; };
              let least = 21;
              for (const e of document.querySelectorAll("main *")) {
                if (![...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim())) continue;
                const isDrawn = e instanceof SVGElement;
                const a = light(isDrawn ? getComputedStyle(e).fill : getComputedStyle(e).color), b = light(ground(e));
                least = Math.min(least, (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05));
              }
              return least;
            }
            """);
        Assert.InRange(least, 4.5, 21);
    }

    [Fact]
    public async Task ThePageInAFileShowsTheSameAndAsksForNothing()
    {
        IPage page = await PageAsync(true, ColorScheme.Light);
        DirectoryInfo directory = Directory.CreateTempSubdirectory("page");
        string file = Path.Combine(directory.FullName, "report.html");
        await File.WriteAllTextAsync(file, PageRenderer.SelfContained(new(SampleReports.Rich()) { Rows = SampleReports.Rows() }), TestContext.Current.CancellationToken);
        await page.GotoAsync(new Uri(file).AbsoluteUri);
        Assert.Equal(6, await page.Locator("article.finding").CountAsync());
        Assert.NotEqual("Times New Roman", await page.EvaluateAsync<string>("getComputedStyle(document.body).fontFamily"));
        Assert.All(_requests, request => Assert.Matches("^(file|data):", request));
        Assert.Empty(_complaints);
        directory.Delete(recursive: true);
    }

    private async Task<IPage> OpenAsync(string sample, bool scripts = true, ColorScheme scheme = ColorScheme.Light)
    {
        IPage page = await PageAsync(scripts, scheme);
        _state.Report = Sample(sample);
        await page.GotoAsync(await _address.Task);
        return page;
    }

    private async Task<IPage> PageAsync(bool scripts, ColorScheme scheme)
    {
        Assert.SkipWhen(_chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        _context = await _chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = PhoneWidth, Height = 740 }, JavaScriptEnabled = scripts, ColorScheme = scheme });
        IPage page = await _context.NewPageAsync();
        page.Request += (_, request) => _requests.Add(request.Url);
        page.Console += (_, message) => _complaints.Add(message.Text);
        page.PageError += (_, error) => _complaints.Add(error);
        return page;
    }

    private static Report Sample(string name) => name switch
    {
        "rich" => SampleReports.Rich(),
        "quiet" => SampleReports.Quiet(),
        "nothing" => SampleReports.NothingHeard(),
        "crowded" => SampleReports.Crowded(),
        _ => SampleReports.Unknown(),
    };
}
