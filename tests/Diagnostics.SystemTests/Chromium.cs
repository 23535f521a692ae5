using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>One browser for all tests of a class, or none where it isn't installed.</summary>
public sealed class Chromium : IAsyncLifetime
{
    public const string Path = "/usr/bin/chromium";

    private IPlaywright? _playwright;

    public IBrowser? Browser { get; private set; }

    public async ValueTask InitializeAsync()
    {
        if (File.Exists(Path))
        {
            _playwright = await Playwright.CreateAsync();
            Browser = await _playwright.Chromium.LaunchAsync(new()
            {
                ExecutablePath = Path,
                Args = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
            });
        }
    }

    public async ValueTask DisposeAsync()
    {
        if (Browser is not null)
        {
            await Browser.CloseAsync();
        }

        _playwright?.Dispose();
    }
}
