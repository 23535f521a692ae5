using System.Collections.Concurrent;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>One reader of the page in a real browser: what it asked for, and what it complained about.</summary>
internal sealed class Visit(Chromium chromium) : IAsyncDisposable
{
    /// <summary>The smallest width that phones in use have, CSS pixels: common practice, no source.</summary>
    public const int PhoneWidth = 360;

    /// <summary>WCAG 2.2, success criterion 2.5.8, asks for 24; 2.5.5 (enhanced) for 44.</summary>
    public const int SmallestTarget = 44;

    private IBrowserContext? _context;

    public ConcurrentQueue<string> Requests { get; } = [];

    public ConcurrentQueue<string> Complaints { get; } = [];

    public async Task<IPage> PageAsync(int width = PhoneWidth, bool scripts = true, ColorScheme scheme = ColorScheme.Light, int height = 740)
    {
        Assert.SkipWhen(chromium.Browser is null, $"There is no browser at {Chromium.Path} (package chromium).");
        _context = await chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = width, Height = height }, JavaScriptEnabled = scripts, ColorScheme = scheme });
        IPage page = await _context.NewPageAsync();
        page.Request += (_, request) => Requests.Enqueue(request.Url);
        page.Console += (_, message) => Complaints.Enqueue(message.Text);
        page.PageError += (_, error) => Complaints.Enqueue(error);
        return page;
    }

    /// <summary>Ends it; what it asked and complained stays.</summary>
    public async ValueTask DisposeAsync()
    {
        if (_context is not null)
        {
            await _context.CloseAsync();
        }
    }

    /// <summary>Contrast of the text that stands out least from its ground, that of drawings included (WCAG 2.2, definition of contrast ratio).</summary>
    public static Task<double> LeastContrastAsync(IPage page) => page.EvaluateAsync<double>("""
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
}
