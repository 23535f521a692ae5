using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>The pictures of the README, of the demo in a real browser. <c>scripts/screenshots</c> says where to; otherwise this only looks whether they could be made.</summary>
public sealed class ScreenshotTests(Chromium chromium) : IClassFixture<Chromium>, IDisposable
{
    private const string Variable = "DIAGNOSTICS_SCREENSHOTS";

    /// <summary>A picture of a README is loaded on the way, too.</summary>
    private const long LargestPicture = 150 * 1024;

    private static readonly (int Width, int Height) Phone = (390, 844);
    private static readonly (int Width, int Height) Desk = (1100, 760);

    /// <summary>To add a page, add a line: address, name of the file, size, dark or light, and where on the page to look (nothing = its top).</summary>
    private static readonly (string Path, string Name, (int Width, int Height) Size, ColorScheme Scheme, string? At)[] Pictures =
    [
        ("/", "report-phone-light", Phone, ColorScheme.Light, null),
        ("/", "report-phone-dark", Phone, ColorScheme.Dark, null),
        ("/", "finding-phone-light", Phone, ColorScheme.Light, "article.finding"),
        ("/", "report-desk-light", Desk, ColorScheme.Light, null),
        ("/", "nodes-desk-dark", Desk, ColorScheme.Dark, "#nodes"),
        ("/record", "record-desk-light", Desk, ColorScheme.Light, null),
    ];

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("screenshots");

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public void Dispose() => _directory.Delete(recursive: true);

    [Fact]
    public async Task EveryPageOfTheReadmeIsThereAndItsPictureIsSmall()
    {
        Assert.SkipWhen(chromium.Browser is null, "needs the Debian package chromium");
        string target = Environment.GetEnvironmentVariable(Variable) is { Length: > 0 } given ? given : _directory.FullName;
        await using RunningDemo demo = await RunningDemo.StartAsync(Cancellation);
        await demo.HeardAsync(RunningDemo.Shown, Cancellation);
        foreach ((string path, string name, (int width, int height), ColorScheme scheme, string? at) in Pictures)
        {
            // Without scripts: news would move the page between looking and taking.
            await using IBrowserContext context = await chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = width, Height = height }, ColorScheme = scheme, JavaScriptEnabled = false });
            IPage page = await context.NewPageAsync();
            IResponse? answer = await page.GotoAsync(new Uri(demo.Near, path).AbsoluteUri);
            Assert.True(answer is { Ok: true }, path);
            if (at is not null)
            {
                await page.Locator(at).First.EvaluateAsync("element => element.scrollIntoView()");
            }

            string file = Path.Combine(target, name + ".png");
            await page.ScreenshotAsync(new() { Path = file, Animations = ScreenshotAnimations.Disabled });
            Assert.InRange(new FileInfo(file).Length, 1024, LargestPicture);
        }
    }
}
