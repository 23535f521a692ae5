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
            await page.GotoAsync(address.AbsoluteUri);
            Assert.Equal(language, await page.Locator("html").GetAttributeAsync("lang"));

            // What is folded is read, too.
            await page.EvaluateAsync("document.querySelectorAll('details').forEach(each => each.open = true)");
            AxeResult result = await page.RunAxe(Rules);
            Assert.NotEmpty(result.Passes);
            violations.AddRange(result.Violations.SelectMany(violation => violation.Nodes.Select(node => $"{address.PathAndQuery} {violation.Id}: {violation.Help}\n  {node.Html}\n  {string.Join("; ", node.Any.Concat(node.All).Concat(node.None).Select(check => check.Message))}")));
        }

        Assert.True(violations.Count == 0, string.Join("\n", violations));
    }

    /// <summary>
    /// WCAG 2.2: 1.4.10 (at 320 CSS pixels, which is 1280 at 400 %, nothing is wider than the screen), 1.4.12 (nor with the text spaced as given there, and no text is cut
    /// off), 2.5.8 (targets of 24 by 24, or in a line of text).
    /// </summary>
    [Fact]
    public async Task PagesReflowStandSpacedTextAndHaveTargetsThatAreLargeEnough()
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        await using IBrowserContext context = await chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = 320, Height = 256 } });
        IPage page = await context.NewPageAsync();
        List<string> problems = [];
        foreach (Uri address in await site.PagesAsync(Cancellation))
        {
            await page.GotoAsync(address.AbsoluteUri);
            await page.EvaluateAsync("document.querySelectorAll('details').forEach(each => each.open = true)");
            foreach (string spaced in new[] { "", "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important } p { margin-bottom: 2em !important }" })
            {
                await page.EvaluateAsync("css => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css); document.adoptedStyleSheets = [sheet]; }", spaced);
                problems.AddRange((await page.EvaluateAsync<string[]>("""
                    () => [
                      ...(document.documentElement.scrollWidth > 320 ? ["wider than the screen: " + document.documentElement.scrollWidth + " " + [...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > 320.5).map((e) => e.tagName + "." + e.className).slice(0, 5)] : []),
                      ...[...document.querySelectorAll("main *:not(svg *):not(input):not(select):not(textarea)")].filter((e) => { const style = getComputedStyle(e); const isCut = style.overflowX !== "visible" && style.overflowX !== "auto" && style.overflowX !== "scroll" && e.scrollWidth > e.clientWidth + 1 || style.overflowY === "hidden" && e.scrollHeight > e.clientHeight + 1; return isCut && e.clientWidth > 1 && e.innerText; }).map((e) => "cut off: " + e.outerHTML.slice(0, 120)),
                      ...[...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary")].filter((e) => { const box = e.getBoundingClientRect(); const isInText = e.tagName === "A" && getComputedStyle(e).display === "inline" && e.parentElement.innerText.trim() !== e.innerText.trim(); return box.width > 0 && !isInText && !e.closest("svg") && !e.classList.contains("skip") && (box.width < 23.5 || box.height < 23.5); }).map((e) => "small: " + e.outerHTML.slice(0, 120)),
                    ]
                    """)).Select(problem => $"{address.PathAndQuery} {(spaced.Length > 0 ? "(spaced) " : string.Empty)}{problem}"));
            }
        }

        Assert.True(problems.Count == 0, string.Join("\n", problems));
    }

    /// <summary>WCAG 2.2: 2.1.1 and 2.1.2 (the Tab key leads to everything and out again), 2.4.3 (in the order of the page), 2.4.7 and 2.4.11 (where it is is seen, and nothing lies above it).</summary>
    [Fact]
    public async Task TheTabKeyLeadsThroughEveryPageVisiblyAndOutAgain()
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");

        await using IBrowserContext context = await chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = 1280, Height = 740 } });
        IPage page = await context.NewPageAsync();
        List<string> problems = [];
        foreach (Uri address in await site.PagesAsync(Cancellation))
        {
            await page.GotoAsync(address.AbsoluteUri);
            const string Targets = "[...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex=\"0\"]')].filter((e) => e.checkVisibility()).length";
            int targets = await page.EvaluateAsync<int>(Targets);

            // From the top, also where a field has the focus at first.
            await page.EvaluateAsync("() => { document.body.tabIndex = -1; document.body.focus(); document.body.removeAttribute('tabindex'); document.addEventListener('focusin', (event) => window.reached = event.target); }");
            int reached = 0;
            for (; reached < targets + 40; reached++)
            {
                await page.Keyboard.PressAsync("Tab");

                // Behind the last one comes the browser's own window, or the first one again; what news took away just when it was reached counts as
                // reached. Parts of a field for times show by themselves where they are.
                string problem = await page.EvaluateAsync<string>("""
                    () => {
                      const e = document.activeElement;
                      if (e === document.body && window.reached !== window.last) return window.last = window.reached, "";
                      if (!e || e === document.body || e === window.first && window.last !== e) return "end";
                      window.first ??= e;
                      const isLater = !window.last || !window.last.isConnected || window.last === e || window.last.compareDocumentPosition(e) & (Node.DOCUMENT_POSITION_FOLLOWING | Node.DOCUMENT_POSITION_CONTAINED_BY);
                      window.last = e;

                      // News may have moved it since the browser showed it.
                      e.scrollIntoView({ block: "nearest" });
                      const style = getComputedStyle(e), box = e.getClientRects()[0];
                      const isSeen = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1 || e.type === "datetime-local";
                      const over = document.elementFromPoint(Math.min(Math.max(box.left + box.width / 2, 1), innerWidth - 1), Math.min(Math.max(box.top + box.height / 2, 1), innerHeight - 1));
                      const isCovered = box.bottom < 0 || box.top > innerHeight || !over || !(e.contains(over) || over.contains(e));
                      const told = [isLater ? "" : "not in order", isSeen ? "" : "not seen", isCovered ? "covered" : ""].filter((part) => part).join(", ");
                      return told && told + ": " + e.outerHTML.slice(0, 150);
                    }
                    """);
                if (problem == "end")
                {
                    break;
                }

                if (problem.Length > 0)
                {
                    problems.Add($"{address.PathAndQuery} {problem}");
                }
            }

            // News may have taken some away since they were counted.
            if (reached < Math.Min(targets, await page.EvaluateAsync<int>(Targets)) || reached == targets + 40)
            {
                problems.Add($"{address.PathAndQuery} {targets} targets, {reached} reached");
            }
        }

        Assert.True(problems.Count == 0, string.Join("\n", problems));
    }

    /// <summary>A demo that went far enough to have everything, and a bundle of it that is open.</summary>
    public sealed class Site : IAsyncDisposable
    {
        private RunningDemo? _demo;
        private IReadOnlyList<Uri>? _pages;

        public async Task<IReadOnlyList<Uri>> PagesAsync(CancellationToken cancellation)
        {
            _demo ??= await RunningDemo.StartAsync(cancellation);
            return _pages ??= await _demo.PagesAsync("weekend", "the hall lights went off", cancellation);
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
