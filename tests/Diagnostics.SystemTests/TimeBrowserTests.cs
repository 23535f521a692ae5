using Diagnostics.Agent;
using Diagnostics.Agent.Pages;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>The time axis in a real browser: by finger, mouse, keys and links, on a phone and on a wide screen.</summary>
public sealed class TimeBrowserTests : IAsyncLifetime, IClassFixture<Chromium>
{
    private const int WideWidth = 1280;

    private readonly AgentState _state = new() { Report = SampleReports.Rich() };
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly PageService _service;
    private readonly Visit _visit;

    public TimeBrowserTests(Chromium chromium)
    {
        _visit = new(chromium);
        _service = new(0, new(_state, TimeProvider.System), address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    public async ValueTask InitializeAsync()
    {
        _state.AddRows(SampleReports.Rows());
        _state.SetCaptures([new(SampleReports.Start + TimeSpan.FromHours(10), "the hall lights went off", IsMark: true, null, 0)]);
        await _service.StartAsync(TestContext.Current.CancellationToken);
    }

    public async ValueTask DisposeAsync()
    {
        await _visit.DisposeAsync();
        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
    }

    [Theory]
    [InlineData(Visit.PhoneWidth, ColorScheme.Light)]
    [InlineData(Visit.PhoneWidth, ColorScheme.Dark)]
    [InlineData(WideWidth, ColorScheme.Light)]
    public async Task NothingIsWiderThanTheScreenAndTargetsAreLargeEnough(int width, ColorScheme scheme)
    {
        IPage page = await OpenAsync("/time?span=day", width, scheme: scheme);
        foreach (IElementHandle closed in await page.QuerySelectorAllAsync("details:not([open]) > summary"))
        {
            await closed.ClickAsync();
        }

        Assert.Equal(width, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        foreach (ILocator target in await page.Locator(".steps a, .spans a, .more a, .places a, summary, .go button, .go input, .go select").AllAsync())
        {
            LocatorBoundingBoxResult box = (await target.BoundingBoxAsync())!;
            Assert.InRange(box.Height, Visit.SmallestTarget - 0.5, 400);
            Assert.InRange(box.Width, Visit.SmallestTarget - 0.5, 1300);
        }

        Assert.Empty(_visit.Complaints);
        Assert.All(_visit.Requests, request => Assert.True(request.StartsWith("data:", StringComparison.Ordinal) || request.StartsWith(_address.Task.Result, StringComparison.Ordinal), request));
    }

    /// <summary>WCAG 2.2, success criterion 1.4.3: 4.5 to 1 for text, that of the figure included.</summary>
    [Theory]
    [InlineData(ColorScheme.Light)]
    [InlineData(ColorScheme.Dark)]
    public async Task TextStandsOutFromItsGround(ColorScheme scheme)
    {
        IPage page = await OpenAsync("/time?span=day", Visit.PhoneWidth, scheme: scheme);
        Assert.InRange(await Visit.LeastContrastAsync(page), 4.5, 21);
    }

    [Fact]
    public async Task WithoutScriptsLinksLeadAlongTheAxis()
    {
        IPage page = await OpenAsync("/time?span=hour", Visit.PhoneWidth, scripts: false);
        await page.Locator("#step-farther").ClickAsync();
        await page.WaitForURLAsync("**/time?span=six-hours");
        await page.Locator("#step-earlier").ClickAsync();
        await page.WaitForURLAsync("**/time?from=*");
        double before = await LengthAsync(page);
        await page.Locator("#step-nearer").ClickAsync();
        Assert.InRange(await LengthAsync(page) / before, 0.45, 0.55);
        await page.Locator("#step-now").ClickAsync();
        await page.WaitForURLAsync("**/time?span=*");
        await page.GetByRole(AriaRole.Button, new() { Name = "Go there" }).ClickAsync();
        await page.WaitForURLAsync("**/time?at=*");
        Assert.True(await page.Locator("#axis > svg").IsVisibleAsync());
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task KeysMoveAndZoomAndTheFocusStays()
    {
        IPage page = await OpenAsync("/time?from=2026-11-22T02:00:00Z&to=2026-11-22T06:00:00Z", WideWidth);
        await page.Locator("#axis").FocusAsync();
        foreach ((string key, double length, string toward) in new[] { ("+", 2.0, ""), ("-", 4, ""), ("ArrowLeft", 4, "earlier"), ("ArrowRight", 4, "later"), ("Home", 4, "earlier"), ("End", 4, "later") })
        {
            DateTimeOffset from = await FromAsync(page);
            await ChangedAsync(page, () => page.Keyboard.PressAsync(key));
            Assert.InRange(await LengthAsync(page) / 3600, length * 0.95, length * 1.06);
            Assert.True(toward.Length == 0 || await FromAsync(page) < from == (toward == "earlier"), key);
            Assert.Equal("axis", await page.EvaluateAsync<string>("document.activeElement.id"));
        }

        Assert.Contains("/time?from=", page.Url, StringComparison.Ordinal);
        DateTimeOffset end = await FromAsync(page);
        await ChangedAsync(page, () => page.EvaluateAsync("history.back()"));
        Assert.True(await FromAsync(page) < end);
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task TheWheelComesNearerToWhereThePointerIsAndDraggingMoves()
    {
        IPage page = await OpenAsync("/time?from=2026-11-22T02:00:00Z&to=2026-11-22T06:00:00Z", WideWidth);
        LocatorBoundingBoxResult box = (await page.Locator("#axis > svg").BoundingBoxAsync())!;
        DateTimeOffset from = await FromAsync(page);
        await page.Mouse.MoveAsync(box.X + 2, box.Y + 60);
        await ChangedAsync(page, () => page.Mouse.WheelAsync(0, -100));
        Assert.InRange(await LengthAsync(page) / 3600, 2, 3.5);
        Assert.InRange((await FromAsync(page) - from).TotalMinutes, -2, 2);
        from = await FromAsync(page);
        await page.Mouse.MoveAsync(box.X + 300, box.Y + 60);
        await page.Mouse.DownAsync();
        await page.Mouse.MoveAsync(box.X + 500, box.Y + 62, new() { Steps = 5 });
        await ChangedAsync(page, () => page.Mouse.UpAsync());
        Assert.True(await FromAsync(page) < from.AddMinutes(-10));
        Assert.True(await page.Locator("#moment").IsHiddenAsync());
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task TwoFingersPinchAndOneTapChoosesAMoment()
    {
        IPage page = await OpenAsync("/time?from=2026-11-22T02:00:00Z&to=2026-11-22T06:00:00Z", Visit.PhoneWidth);
        await ChangedAsync(page, () => page.EvaluateAsync("""
            () => {
              const axis = document.getElementById("axis");
              const box = axis.getBoundingClientRect();
              const send = (type, id, x) => axis.dispatchEvent(new PointerEvent(type, { pointerId: id, clientX: box.left + x, clientY: box.top + 60, button: type === "pointermove" ? -1 : 0, bubbles: true }));
              axis.setPointerCapture = () => {};
              send("pointerdown", 1, 150); send("pointerdown", 2, 200);
              send("pointermove", 1, 100); send("pointermove", 2, 250);
              send("pointerup", 1, 100); send("pointerup", 2, 250);
            }
            """));
        Assert.InRange(await LengthAsync(page) / 3600, 1.2, 1.5);
        await page.Locator("#axis").ClickAsync(new() { Position = new() { X = 180, Y = 60 } });
        ILocator link = page.Locator("#moment a");
        Assert.StartsWith("/frames?at=2026-11-22T0", await link.GetAttributeAsync("href"), StringComparison.Ordinal);
        await link.ClickAsync();
        await page.WaitForURLAsync("**/frames?at=*");
        Assert.True(await page.GetByText("No frames were kept of this moment").IsVisibleAsync());
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task WhoCannotSeeTheFigureHasItInWords()
    {
        IPage page = await OpenAsync("/time?span=day", Visit.PhoneWidth);
        string described = await page.Locator("#axis").GetAttributeAsync("aria-describedby") ?? string.Empty;
        Assert.All(described.Split(' '), id => Assert.Equal(1, page.Locator("#" + id).CountAsync().Result));
        Assert.Contains("The bus was busy for", await page.Locator("#told").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Equal("true", await page.Locator("#axis > svg").GetAttributeAsync("aria-hidden"));
        await page.Locator("[id^=parts-] > summary").First.ClickAsync();
        Assert.InRange(await page.Locator(".parts tbody tr").CountAsync(), 10, 14);
    }

    /// <summary>What a browser fetches for the first view.</summary>
    [Fact]
    public async Task TheFirstViewIsSmall()
    {
        IPage page = await _visit.PageAsync();
        List<Task<byte[]>> bodies = [];
        page.Response += (_, response) => bodies.Add(response.BodyAsync());
        await page.GotoAsync(await _address.Task + "time?span=day", new() { WaitUntil = WaitUntilState.NetworkIdle });
        int bytes = (await Task.WhenAll(bodies)).Sum(body => body.Length);
        Assert.InRange(bytes, 10_000, 100_000);
    }

    /// <summary>Waits until the server's drawing of another stretch stands there.</summary>
    private static async Task ChangedAsync(IPage page, Func<Task> act)
    {
        string from = (await page.Locator("#stretch").GetAttributeAsync("data-from"))!;
        string to = (await page.Locator("#stretch").GetAttributeAsync("data-to"))!;
        await act();
        await page.Locator($"#stretch:not([data-from='{from}'][data-to='{to}'])").WaitForAsync();
    }

    private static async Task<DateTimeOffset> FromAsync(IPage page) =>
        DateTimeOffset.Parse((await page.Locator("#stretch").GetAttributeAsync("data-from"))!, System.Globalization.CultureInfo.InvariantCulture);

    /// <summary>Seconds.</summary>
    private static Task<double> LengthAsync(IPage page) =>
        page.Locator("#stretch").EvaluateAsync<double>("e => (Date.parse(e.dataset.to) - Date.parse(e.dataset.from)) / 1000");

    private async Task<IPage> OpenAsync(string path, int width, bool scripts = true, ColorScheme scheme = ColorScheme.Light)
    {
        IPage page = await _visit.PageAsync(width, scripts, scheme);
        await page.GotoAsync((await _address.Task).TrimEnd('/') + path);
        return page;
    }

}
