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
    private readonly AgentState _state = new();
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly PageService _service;
    private readonly Visit _visit;

    public BrowserTests(Chromium chromium)
    {
        _visit = new(chromium);
        _service = new(0, new(_state, TimeProvider.System), address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    public async ValueTask InitializeAsync()
    {
        _state.AddRows(SampleReports.Rows());
        await _service.StartAsync(TestContext.Current.CancellationToken);
    }

    public async ValueTask DisposeAsync()
    {
        await _visit.DisposeAsync();
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

        Assert.Equal(Visit.PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Equal(0, await page.EvaluateAsync<int>($"[...document.querySelectorAll('main *')].filter(e => e.closest('thead') === null && e.getBoundingClientRect().right > {Visit.PhoneWidth} + 0.5).length"));
        Assert.Empty(_visit.Complaints);
    }

    [Theory]
    [MemberData(nameof(Samples))]
    public async Task OnAPhoneTheRecordFitsAndItsWaysAreLargeEnough(string sample)
    {
        IPage page = await OpenAsync(sample);
        await page.GotoAsync(new Uri(new(await _address.Task), "record").AbsoluteUri);
        Assert.Equal(Visit.PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Equal(0, await page.EvaluateAsync<int>($"[...document.querySelectorAll('main *')].filter(e => e.closest('thead') === null && e.getBoundingClientRect().right > {Visit.PhoneWidth} + 0.5).length"));
        foreach (ILocator way in await page.Locator(".about a").AllAsync())
        {
            Assert.InRange((await way.BoundingBoxAsync())!.Height, Visit.SmallestTarget, 400);
        }

        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task NothingIsAskedOfAnyoneElseAndTheConsoleIsEmpty()
    {
        await OpenAsync("rich");
        string address = await _address.Task;
        Assert.Contains(address, _visit.Requests);
        Assert.All(_visit.Requests, request => Assert.StartsWith(request.StartsWith("data:", StringComparison.Ordinal) ? "data:" : address, request, StringComparison.Ordinal));
        Assert.Empty(_visit.Complaints);
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

    /// <summary>390 by 844 CSS pixels is the screen of a phone in wide use; what its browser takes of the height for itself is left out (common practice, no source).</summary>
    [Theory]
    [InlineData("en")]
    [InlineData("de")]
    public async Task TheFirstScreenOfAPhoneSaysWhatSinceWhenHowSureAndWhatToCheck(string language)
    {
        IPage page = await _visit.PageAsync(width: 390, height: 844 - 104);
        _state.Report = Sample("rich");
        await page.GotoAsync(await _address.Task + "?language=" + language);
        Assert.Equal(language, await page.Locator("html").GetAttributeAsync("lang"));
        foreach (string part in new[] { "h1", ".verdict .sure", ".verdict .check", ".verdict .caution" })
        {
            LocatorBoundingBoxResult box = (await page.Locator(part).First.BoundingBoxAsync())!;
            Assert.InRange(box.Y + box.Height, 0, page.ViewportSize!.Height);
        }

        Assert.InRange((await page.Locator(".verdict a").BoundingBoxAsync())!.Height, Visit.SmallestTarget, 400);
        await page.Locator(".verdict a").ClickAsync();
        Assert.InRange((await page.Locator("article[id^=finding-node-silent]").BoundingBoxAsync())!.Y, -1, 100);
    }

    /// <summary>What a browser fetches for the first view, heads included.</summary>
    [Theory]
    [InlineData("rich")]
    [InlineData("crowded")]
    public async Task TheFirstViewIsSmall(string sample)
    {
        IPage page = await _visit.PageAsync();
        _state.Report = Sample(sample);
        long bytes = 0;
        ICDPSession devTools = await page.Context.NewCDPSessionAsync(page);
        devTools.Event("Network.loadingFinished").OnEvent += (_, data) => Interlocked.Add(ref bytes, (long)data!.Value.GetProperty("encodedDataLength").GetDouble());
        await devTools.SendAsync("Network.enable");
        await page.GotoAsync(await _address.Task);
        Assert.InRange(Interlocked.Read(ref bytes), 5_000, 100_000);
    }

    [Fact]
    public async Task WhatIsTouchedIsLargeEnough()
    {
        IPage page = await OpenAsync("rich");
        foreach (ILocator target in await page.Locator("summary, .overview a, .foot a").AllAsync())
        {
            Assert.InRange((await target.BoundingBoxAsync())!.Height, Visit.SmallestTarget, 400);
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
        Assert.Equal(Visit.PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        await page.EmulateMediaAsync(new() { Media = Media.Print });
        Assert.True(await page.GetByText("Taken over by").IsVisibleAsync());
        Assert.False(await page.GetByText("Back to the report").IsVisibleAsync());
        Assert.Empty(_visit.Complaints);
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
        Assert.InRange(await Visit.LeastContrastAsync(page), 4.5, 21);
    }

    [Fact]
    public async Task ThePageInAFileShowsTheSameAndAsksForNothing()
    {
        IPage page = await _visit.PageAsync();
        DirectoryInfo directory = Directory.CreateTempSubdirectory("page");
        string file = Path.Combine(directory.FullName, "report.html");
        await File.WriteAllTextAsync(file, PageRenderer.SelfContained(new(SampleReports.Rich()) { Rows = SampleReports.Rows() }), TestContext.Current.CancellationToken);
        await page.GotoAsync(new Uri(file).AbsoluteUri);
        Assert.Equal(6, await page.Locator("article.finding").CountAsync());
        Assert.NotEqual("Times New Roman", await page.EvaluateAsync<string>("getComputedStyle(document.body).fontFamily"));
        Assert.All(_visit.Requests, request => Assert.Matches("^(file|data):", request));
        Assert.Empty(_visit.Complaints);
        directory.Delete(recursive: true);
    }

    private async Task<IPage> OpenAsync(string sample, bool scripts = true, ColorScheme scheme = ColorScheme.Light)
    {
        IPage page = await _visit.PageAsync(scripts: scripts, scheme: scheme);
        _state.Report = Sample(sample);
        await page.GotoAsync(await _address.Task);
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
