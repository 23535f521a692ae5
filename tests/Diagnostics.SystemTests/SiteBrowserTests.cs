using Diagnostics.Agent;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Records;
using Diagnostics.Can;
using Diagnostics.Core;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>The site is named in a real browser: on a phone without scripts, and by the keyboard alone.</summary>
public sealed class SiteBrowserTests : IAsyncLifetime, IClassFixture<Chromium>
{
    private readonly AgentState _state = new() { KeepsLog = true };
    private readonly Analyzer _analyzer = new(new() { SourceKind = "live", SourceName = "can0", Protocol = "canopen" });
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("record");
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly RecordBook _book;
    private readonly PageService _service;
    private readonly Visit _visit;

    public SiteBrowserTests(Chromium chromium)
    {
        _visit = new(chromium);
        _book = new(null, null, _ => new DiskStoreFiles(_folder.FullName), TimeProvider.System, held => _state.UseRecord(held.Record));
        _service = new(0, new(_state, TimeProvider.System) { Records = _book }, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    public async ValueTask InitializeAsync()
    {
        // Two nodes boot and beat.
        _analyzer.OnInterface(0, new("can0"));
        foreach ((uint node, byte state, int second) in new[] { (5u, (byte)0, 0), (7u, (byte)0, 1), (5u, (byte)5, 10), (7u, (byte)5, 11) })
        {
            _analyzer.OnFrame(CanFrame.Classic(Instant.FromSeconds(1_790_000_000 + second), CanId.Base(0x700 + node), [state]));
        }

        _state.Report = _analyzer.Snapshot();
        await _service.StartAsync(TestContext.Current.CancellationToken);
    }

    public async ValueTask DisposeAsync()
    {
        await _visit.DisposeAsync();
        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
        _folder.Delete(recursive: true);
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public async Task ANodeThatIsNamedOnAPhoneHasItsNameOnTheReport(bool scripts)
    {
        IPage page = await OpenAsync("site", scripts);
        await page.Locator("#site-nodes a[href='/site/nodes/5']").ClickAsync();
        await page.GetByLabel("Name, as people here say it").FillAsync("workshop buttons");
        await page.GetByLabel("Number of the input").First.FillAsync("1");
        await page.Locator("#input-name-0").FillAsync("door, upper");
        await page.Locator("#input-kind-0").SelectOptionAsync("push-button");
        await FitsAsync(page);
        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).Last.ClickAsync();
        await page.WaitForURLAsync("**/site");
        Assert.True(await page.Locator("#site-nodes").GetByText("workshop buttons").IsVisibleAsync());
        Assert.True(await page.GetByText("Version 1, saved on this page, holds.").IsVisibleAsync());
        await FitsAsync(page);

        // The next tick of the analysis takes the name; nothing was started anew.
        Assert.True(_state.TryTakeNames(out Core.AsBuilt.AsBuiltRecord? record));
        _analyzer.UseNames(record);
        _state.Report = _analyzer.Snapshot();
        await page.GotoAsync(await _address.Task);
        Assert.True(await page.Locator("#nodes").GetByText("workshop buttons").IsVisibleAsync());
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task ADeviceGoesFromOneEndOfTheCableToTheOtherInOneStep()
    {
        IPage page = await OpenAsync("site/cable", scripts: false);
        await page.GetByRole(AriaRole.Button, new() { Name = "Put all of them there, by address", Exact = true }).ClickAsync();
        ILocator titles = page.Locator(".cable legend");
        await titles.First.WaitForAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Put this tool’s clip at the end", Exact = true }).ClickAsync();
        await titles.Nth(2).WaitForAsync();
        string first = await titles.First.InnerTextAsync();
        string last = await titles.Last.InnerTextAsync();
        await page.GetByLabel("What to move").SelectOptionAsync(new SelectOptionValue { Label = last });
        await page.GetByRole(AriaRole.Button, new() { Name = "Move it there", Exact = true }).ClickAsync();
        await page.Locator("[autofocus]").WaitForAsync();
        Assert.Equal([last, first], (await titles.AllInnerTextsAsync()).Take(2));
        await FitsAsync(page);
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task TheCableIsPutInOrderByTheKeyboardAloneAndTheFocusStaysWithWhatIsMoved()
    {
        IPage page = await OpenAsync("site/cable", scripts: false);
        await FocusAsync(page, "Put all of them there, by address");
        await page.Keyboard.PressAsync("Enter");
        await page.GetByRole(AriaRole.Button, new() { Name = "Down: node 5" }).WaitForAsync();
        await FocusAsync(page, "Down: node 5");
        await page.Keyboard.PressAsync("Enter");
        await page.Locator("[autofocus]").WaitForAsync();
        Assert.Equal("Up: node 5", await page.EvaluateAsync<string>("document.activeElement.getAttribute('aria-label')"));
        await FitsAsync(page);
        await page.Locator("#begin").FocusAsync();
        await page.Keyboard.TypeAsync("120");

        // Enter in a field saves: it must not press the first of the other buttons.
        await page.Keyboard.PressAsync("Enter");
        await page.WaitForURLAsync("**/site");
        Assert.Equal([null, 7, 5], _book.Held.Record!.Trunk.Select(entry => entry.Node));
        Assert.Equal(120, _book.Held.Record.Trunk[0].TerminatorOhms);
        Assert.Empty(_visit.Complaints);
    }

    [Fact]
    public async Task WhatIsBeingFilledInIsNotReloaded()
    {
        foreach (string path in new[] { "site/cable", "site/nodes/5", "site/import" })
        {
            IPage page = await OpenAsync(path, scripts: false);
            Assert.Equal(0, await page.Locator("meta[http-equiv=refresh]").CountAsync());
            Assert.Equal(0, await page.Locator("script").CountAsync());
            await FitsAsync(page);
            await _visit.DisposeAsync();
        }
    }

    [Fact]
    public async Task ARecordIsImportedAsAFileAndWhatIsWrongInItIsToldWithItsPlace()
    {
        IPage page = await OpenAsync("site/import", scripts: true);
        await page.Locator("#text").FillAsync("{ \"schema\": 1,\n  \"site\": 5 }");
        await page.GetByRole(AriaRole.Button, new() { Name = "Check it and use it" }).ClickAsync();
        Assert.Contains("Line 2, column 11", await page.Locator(".notice").InnerTextAsync(), StringComparison.Ordinal);
        Assert.Equal("{ \"schema\": 1,\n  \"site\": 5 }", await page.Locator("#text").InputValueAsync());
        await page.Locator("#file").SetInputFilesAsync(new FilePayload { Name = "site.json", MimeType = "application/json", Buffer = "{ \"schema\": 1, \"site\": \"Wrenfield\" }"u8.ToArray() });
        await page.GetByRole(AriaRole.Button, new() { Name = "Check it and use it" }).ClickAsync();
        await page.WaitForURLAsync("**/site");
        Assert.Equal("Wrenfield", await page.Locator("h1").InnerTextAsync());
        Assert.DoesNotContain(_visit.Complaints, told => !told.Contains("400", StringComparison.Ordinal));
    }

    private static async Task FitsAsync(IPage page)
    {
        Assert.Equal(Visit.PhoneWidth, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        foreach (ILocator target in await page.Locator("main button:visible, main input:visible, main select:visible, .places a, .site .overview a, .save a").AllAsync())
        {
            Assert.InRange((await target.BoundingBoxAsync())!.Height, Visit.SmallestTarget, 400);
        }
    }

    /// <summary>By the Tab key, from wherever the focus is.</summary>
    private static async Task FocusAsync(IPage page, string name)
    {
        for (int presses = 0; presses < 60; presses++)
        {
            await page.Keyboard.PressAsync("Tab");
            if (await page.EvaluateAsync<string?>("document.activeElement.getAttribute('aria-label') || document.activeElement.innerText") == name)
            {
                return;
            }
        }

        Assert.Fail($"The Tab key doesn't lead to '{name}'.");
    }

    private async Task<IPage> OpenAsync(string path, bool scripts)
    {
        IPage page = await _visit.PageAsync(scripts: scripts);
        await page.GotoAsync(await _address.Task + path);
        return page;
    }
}
