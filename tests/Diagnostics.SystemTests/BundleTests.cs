using System.Diagnostics;
using System.Globalization;
using System.IO.Compression;
using System.Net;
using Diagnostics.Tests;
using Microsoft.Playwright;

namespace Diagnostics.SystemTests;

/// <summary>From a running service to a page elsewhere: the built program, as a person uses it.</summary>
public sealed class BundleTests : IClassFixture<Chromium>, IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("hand-on");
    private readonly Chromium _chromium;
    private readonly string _temporary;

    public BundleTests(Chromium chromium)
    {
        _chromium = chromium;
        _temporary = _directory.CreateSubdirectory("temporary").FullName;
    }

    public void Dispose() => _directory.Delete(recursive: true);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    [Fact]
    public async Task WhatTheDemoFoundIsOpenedElsewhere()
    {
        string stick = _directory.CreateSubdirectory("stick").FullName;
        (Process demo, Uri page) = await ServeAsync("demo", "--port", "0", "--log", Place("log"));
        using (demo)
        {
            // A mark once something was found, so that there are frames to keep.
            using HttpClient client = new() { BaseAddress = page };
            await Patience.UntilAsync(async () => (await client.GetStringAsync(new Uri(page, "report.json"), Cancellation)).Contains("\"findings\": [\n    {", StringComparison.Ordinal));
            string port = page.Port.ToString(CultureInfo.InvariantCulture);
            Assert.Equal(0, (await Command.RunAsync(Command.Program, "mark", "hall lights went off", "--port", port)).Status);
            Command bundled = await Command.RunAsync(Command.Program, "bundle", "--to", stick, "--port", port);
            Assert.True(bundled.Status == 0, bundled.Error);
            await DownloadAsync(page, Path.Combine(stick, "from-the-page.zip"));
            await EndAsync(demo);
        }

        // Without the service, from what it left.
        Command left = await Command.RunAsync(Command.Program, "bundle", "--to", Path.Combine(stick, "left.zip"), "--log", Place("log"), "--port", "1");
        Assert.True(left.Status == 0, left.Error);
        foreach (string file in Directory.GetFiles(stick))
        {
            (Process opened, Uri address) = await ServeAsync("open", file);
            using (opened)
            {
                using HttpClient client = new();
                string text = await client.GetStringAsync(address, Cancellation);
                Assert.Contains("Read from a bundle made on ", text, StringComparison.Ordinal);
                Assert.Contains("<article", text, StringComparison.Ordinal);
                Assert.Contains("Wrenfield community library", text, StringComparison.Ordinal);
                await LookAsync(address);
                Assert.NotEmpty(Directory.GetFileSystemEntries(_temporary));
                await EndAsync(opened);
                Assert.Empty(Directory.GetFileSystemEntries(_temporary));
            }
        }
    }

    [Fact]
    public async Task AHostileBundleIsRefusedInOneLineAndLeavesNothing()
    {
        using (ZipArchive archive = ZipFile.Open(Place("hostile.zip"), ZipArchiveMode.Create))
        {
            using Stream stream = archive.CreateEntry("../../../../tmp/owned").Open();
            stream.WriteByte(1);
        }

        await File.WriteAllTextAsync(Place("text.zip"), "this is no bundle, and it is longer than the end of an archive", Cancellation);
        foreach (string file in new[] { "hostile.zip", "text.zip", "missing.zip" })
        {
            using Process opened = Command.Start(Command.Program, ["open", Place(file)], ("TMPDIR", _temporary));
            string error = await opened.StandardError.ReadToEndAsync(Cancellation);
            await opened.WaitForExitAsync(Cancellation);
            Assert.Equal(2, opened.ExitCode);
            Assert.Matches("^diagnostics: [^\n]+\n$", error);
            Assert.Empty(Directory.GetFileSystemEntries(_temporary));
        }
    }

    private async Task<(Process Process, Uri Address)> ServeAsync(params string[] arguments)
    {
        const string Begin = "report page: ";
        Process process = Command.Start(Command.Program, arguments, ("TMPDIR", _temporary));
        Task<string> error = process.StandardError.ReadToEndAsync(Cancellation);
        while (await process.StandardOutput.ReadLineAsync(Cancellation) is { } line)
        {
            if (line.StartsWith(Begin, StringComparison.Ordinal))
            {
                return (process, new(line[Begin.Length..]));
            }
        }

        throw new InvalidOperationException(await error);
    }

    private static async Task EndAsync(Process process)
    {
        using Process stop = Process.Start("kill", ["-TERM", process.Id.ToString(CultureInfo.InvariantCulture)]);
        await process.WaitForExitAsync(Cancellation);
        Assert.Equal(0, process.ExitCode);
    }

    /// <summary>By the button of the page; without a browser, as a browser would.</summary>
    private async Task DownloadAsync(Uri page, string file)
    {
        if (_chromium.Browser is null)
        {
            using HttpClient client = new();
            using HttpRequestMessage request = new(HttpMethod.Post, new Uri(page, "bundle")) { Content = new FormUrlEncodedContent([new("inputs", "keep")]) };
            request.Headers.Add("Origin", page.GetLeftPart(UriPartial.Authority));
            using HttpResponseMessage answer = await client.SendAsync(request, Cancellation);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            await File.WriteAllBytesAsync(file, await answer.Content.ReadAsByteArrayAsync(Cancellation), Cancellation);
            return;
        }

        IBrowserContext context = await _chromium.Browser.NewContextAsync(new() { AcceptDownloads = true });
        IPage tab = await context.NewPageAsync();
        await tab.GotoAsync(page.AbsoluteUri);
        IDownload download = await tab.RunAndWaitForDownloadAsync(() => tab.GetByRole(AriaRole.Button, new() { Name = "Make a bundle" }).ClickAsync());
        Assert.Matches("^wrenfield-community-library-[0-9]{8}-[0-9]{6}\\.zip$", download.SuggestedFilename);
        await download.SaveAsAsync(file);
        await context.CloseAsync();
    }

    private async Task LookAsync(Uri address)
    {
        if (_chromium.Browser is null)
        {
            return;
        }

        List<string> complaints = [];
        IBrowserContext context = await _chromium.Browser.NewContextAsync(new() { ViewportSize = new() { Width = 360, Height = 740 } });
        IPage page = await context.NewPageAsync();
        page.Console += (_, message) => complaints.Add(message.Text);
        page.PageError += (_, error) => complaints.Add(error);
        await page.GotoAsync(address.AbsoluteUri);
        Assert.True(await page.Locator(".read-from").IsVisibleAsync());
        Assert.Equal(0, await page.Locator("form").CountAsync());
        Assert.True(await page.Locator("svg.chart").CountAsync() > 0);
        Assert.Equal(360, await page.EvaluateAsync<int>("document.documentElement.scrollWidth"));
        Assert.Empty(complaints);
        await context.CloseAsync();
    }
}
