using System.Text.Json;
using Deque.AxeCore.Commons;
using Deque.AxeCore.Playwright;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>
/// Every kind of page, judged by axe-core against what a program can check of WCAG 2.2, level AA (its rules are tagged with the success criteria that they check).
/// What it can't check stands in tests/accessibility.md.
/// </summary>
public sealed class AccessibilityTests(Chromium chromium, AccessibilityTests.Site site) : IClassFixture<Chromium>, IClassFixture<AccessibilityTests.Site>
{
    private static readonly AxeRunOptions Rules = new() { RunOnly = new() { Type = "tag", Values = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }, ResultTypes = [ResultType.Violations] };

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    /// <summary>Any two of width, scheme and language meet in one of them (an orthogonal array).</summary>
    public static TheoryData<int, ColorScheme, string> Readers() => new()
    {
        { Visit.PhoneWidth, ColorScheme.Light, "en" },
        { Visit.PhoneWidth, ColorScheme.Dark, "de" },
        { 1280, ColorScheme.Light, "de" },
        { 1280, ColorScheme.Dark, "en" },
    };

    [Theory]
    [MemberData(nameof(Readers))]
    public async Task NoPageViolatesWhatAProgramCanCheck(int width, ColorScheme scheme, string language)
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        await using IBrowserContext context = await chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = width, Height = 740 }, ColorScheme = scheme, Locale = language });
        IPage page = await context.NewPageAsync();
        List<string> violations = [];
        foreach (Uri address in await site.PagesAsync(Cancellation))
        {
            await page.GotoAsync(address.AbsoluteUri, new() { WaitUntil = WaitUntilState.DOMContentLoaded });
            Assert.Equal(language, await page.Locator("html").GetAttributeAsync("lang"));

            // What is folded is read, too.
            await page.EvaluateAsync("document.querySelectorAll('details').forEach(each => each.open = true)");
            AxeResult result = await page.RunAxe(Rules);
            Assert.NotEmpty(result.Passes);
            violations.AddRange(result.Violations.SelectMany(violation => violation.Nodes.Select(node => $"{address.PathAndQuery} {violation.Id}: {violation.Help}\n  {node.Html}\n  {string.Join("; ", node.Any.Concat(node.All).Concat(node.None).Select(check => check.Message))}")));
        }

        Assert.Empty(violations);
    }

    /// <summary>A demo that went far enough to have everything, and a bundle of it that is open.</summary>
    public sealed class Site : IAsyncDisposable
    {
        /// <summary>By then the demo's button, drop cable and supply have shown.</summary>
        private static readonly TimeSpan Shown = TimeSpan.FromMinutes(50);

        private RunningDemo? _demo;
        private IReadOnlyList<Uri>? _pages;

        public async Task<IReadOnlyList<Uri>> PagesAsync(CancellationToken cancellation)
        {
            if (_pages is not null)
            {
                return _pages;
            }

            _demo = await RunningDemo.StartAsync(cancellation);
            await _demo.HeardAsync(TimeSpan.FromMinutes(1), cancellation);
            await _demo.PostAsync("/soak", "name=weekend&for=12h", cancellation);
            await _demo.PostAsync("/mark", "note=the+hall+lights+went+off", cancellation);
            await _demo.HeardAsync(Shown, cancellation);
            await _demo.PostAsync("/soak/stop", string.Empty, cancellation);
            await _demo.PostAsync("/walk/begin", string.Empty, cancellation);
            using HttpClient client = new();
            using JsonDocument soak = JsonDocument.Parse(await client.GetStringAsync(new Uri(_demo.Near, "/soak.json"), cancellation));
            string record = "/soak/" + soak.RootElement.GetProperty("record").GetProperty("id").GetString();
            Uri bundle = await _demo.OpenBundleAsync(cancellation);
            using JsonDocument report = JsonDocument.Parse(await client.GetStringAsync(new Uri(_demo.Near, "/report.json"), cancellation));
            JsonElement bus = report.RootElement.GetProperty("buses")[0];
            string name = bus.GetProperty("interface").GetString()!;
            string input = report.RootElement.GetProperty("findings").EnumerateArray().Where(finding => finding.GetProperty("finding").GetString() == "input.chatter")
                .Select(finding => $"/nodes/{name}/{finding.GetProperty("node")}/inputs/{finding.GetProperty("input")}").First();
            string[] own =
            [
                "/", "/time?span=hour", "/time?span=day", "/frames", input[..input.IndexOf("/inputs", StringComparison.Ordinal)], input, $"/nodes/{name}/6/outputs/1", "/site", "/site/cable", "/site/nodes/5",
                "/site/import", "/walk", record, "/record", "/nowhere",
            ];
            _pages = [.. own.Select(path => new Uri(_demo.Near, path)), new(_demo.Distant, "/sign-in"), bundle, new(bundle, "/time?span=day"), new(bundle, "/record")];
            return _pages;
        }

        public async ValueTask DisposeAsync()
        {
            if (_demo is not null)
            {
                await _demo.DisposeAsync();
            }
        }
    }
}
