using System.Text;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Commands;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Bundles;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Commands;

public sealed class OpenCommandTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("open");
    private readonly HttpClient _client = new();

    public void Dispose()
    {
        _client.Dispose();
        _directory.Delete(recursive: true);
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    private string Log()
    {
        string log = _directory.CreateSubdirectory("log").FullName;
        SampleLog.Write(log);
        return log;
    }

    /// <summary>Runs the command, looks at its page, and ends it.</summary>
    private async Task<string> OpenAsync(string path, Func<Uri, Task> look)
    {
        using CancellationTokenSource end = CancellationTokenSource.CreateLinkedTokenSource(Cancellation);
        using Announcement output = new();
        MemoryStream error = new();
        CommandContext context = new() { Input = Stream.Null, Output = output, Error = error, Clock = new UtcClock(), Sources = RealSources.Create() };
        Task<int> run = CommandLine.RunAsync(["open", path], context, end.Token);
        await Task.WhenAny(run, output.Address);
        Assert.True(output.Address.IsCompleted, Encoding.UTF8.GetString(error.ToArray()));
        await look(new(await output.Address));
        await end.CancelAsync();
        Assert.Equal(0, await run);
        return output.Text;
    }

    private async Task<string> RefusedAsync(params string[] arguments)
    {
        RecordedWorld world = new();
        Assert.Equal(2, await world.RunAsync(["open", .. arguments]));
        Assert.Equal(string.Empty, world.OutputText);
        return Assert.Single(world.ErrorText.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }

    [Fact]
    public async Task ABundleShowsTheSamePageToBeReadOnly()
    {
        await SampleLog.BundleAsync(Log(), Place("a.zip"));
        string printed = await OpenAsync(Place("a.zip"), async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains("<strong>Read from a bundle made on ", page, StringComparison.Ordinal);
            Assert.Contains("nothing here is live.</strong>", page, StringComparison.Ordinal);
            Assert.Contains("Listened to", page, StringComparison.Ordinal);
            Assert.DoesNotContain("Listening now", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<form", page, StringComparison.Ordinal);
            Assert.DoesNotContain("stands still", page, StringComparison.Ordinal);

            // What it shows: findings, those of other runs, the chart, marks with their frames.
            Assert.Contains("<article", page, StringComparison.Ordinal);
            Assert.Contains("In other runs of this log", page, StringComparison.Ordinal);
            Assert.Contains("went silent two days before.", page, StringComparison.Ordinal);
            Assert.Contains("<svg class=\"chart\"", page, StringComparison.Ordinal);
            Assert.Equal(ReportJson.ToUtf8(SampleReports.Rich()), await _client.GetByteArrayAsync(new Uri(address, "report.json"), Cancellation));
            string frames = System.Text.RegularExpressions.Regex.Match(page, "/captures/[0-9A-Z-]+\\.pcapng").Value;
            Assert.StartsWith("frames of the", await _client.GetStringAsync(new Uri(address, frames), Cancellation), StringComparison.Ordinal);
            foreach (string path in new[] { "mark", "bundle" })
            {
                using HttpRequestMessage request = new(HttpMethod.Post, new Uri(address, path)) { Content = new FormUrlEncodedContent([new("note", "x")]) };
                request.Headers.Add("Origin", address.GetLeftPart(UriPartial.Authority));
                using HttpResponseMessage answer = await _client.SendAsync(request, Cancellation);
                Assert.Equal(System.Net.HttpStatusCode.MethodNotAllowed, answer.StatusCode);
            }
        });
        Assert.Contains("The bundle is whole: Wrenfield community library", printed, StringComparison.Ordinal);
    }

    /// <summary>Names and notes in it are text of a stranger.</summary>
    [Fact]
    public async Task NothingInABundleIsMarkup()
    {
        await SampleLog.BundleAsync(Log(), Place("a.zip"));
        await OpenAsync(Place("a.zip"), async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains("&lt;script&gt;alert(3)&lt;/script&gt; hall lights went off", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<script>", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<img", page, StringComparison.Ordinal);
        });
    }

    [Fact]
    public async Task HostileWordsOfAManifestAreTextAsWell()
    {
        string log = Log();
        ForgedBundle forged = new();
        forged.Files.Clear();
        foreach (string file in Directory.EnumerateFiles(log, "*.seg"))
        {
            forged.Files.Add(("store/" + Path.GetFileName(file), await File.ReadAllBytesAsync(file, Cancellation)));
        }

        forged.Files.Add(("report.json", await File.ReadAllBytesAsync(Path.Combine(log, "report.json"), Cancellation)));
        forged.Manifest = manifest => manifest with
        {
            Program = "1<script>alert(4)</script>\u001b[31m",
            Site = "\u001b[2Jhall\n",
            Zone = "../../../etc/passwd",
            LeftOut = ["<script>alert(5)</script>\u001b[31m"],
        };
        await File.WriteAllBytesAsync(Place("a.zip"), forged.ToBytes(), Cancellation);
        string printed = await OpenAsync(Place("a.zip"), async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains("&lt;script&gt;alert(5)", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<script>", page, StringComparison.Ordinal);
        });
        Assert.DoesNotContain('\u001b', printed);
    }

    [Fact]
    public async Task ALogsDirectoryIsShownAndNotChanged()
    {
        string log = Log();
        string[] Files() => [.. Directory.EnumerateFiles(log, "*", SearchOption.AllDirectories).Order(StringComparer.Ordinal).Select(file => $"{file} {File.GetLastWriteTimeUtc(file):O} {new FileInfo(file).Length}")];
        string[] before = Files();
        await OpenAsync(log, async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains($"Read from the log in &#x27;{log}&#x27;; nothing here is live.", page, StringComparison.Ordinal);
            Assert.Contains("went silent two days before.", page, StringComparison.Ordinal);
        });
        Assert.Equal(before, Files());
    }

    /// <summary>Of a version before this one, or ended within its first minute.</summary>
    [Fact]
    public async Task ALogWithoutAReportSaysNothingOfHowTheBusStood()
    {
        string log = Log();
        File.Delete(Path.Combine(log, "report.json"));
        await OpenAsync(log, async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains("This log holds no report", page, StringComparison.Ordinal);
            Assert.Contains("went silent two days before.", page, StringComparison.Ordinal);
            Assert.DoesNotContain("Who is on the bus", page, StringComparison.Ordinal);
            Assert.DoesNotContain("Nothing was heard", page, StringComparison.Ordinal);
        });
    }

    [Fact]
    public async Task FramesThatWereLeftOutAreSaidToBe()
    {
        await SampleLog.BundleAsync(Log(), Place("a.zip"), withoutInputs: true);
        await OpenAsync(Place("a.zip"), async address =>
        {
            string page = await _client.GetStringAsync(address, Cancellation);
            Assert.Contains("the frames are not in this bundle", page, StringComparison.Ordinal);
            Assert.Contains("left out on request", page, StringComparison.Ordinal);
        });
    }

    /// <summary>The board stands in another zone than who reads.</summary>
    [Fact]
    public async Task TimesAreThoseOfTheBoard()
    {
        string log = Log();
        await using (FileStream file = File.Create(Place("a.zip")))
        {
            await BundleWriter.WriteAsync(file, SampleLog.Content(log) with { Zone = TimeZoneInfo.FindSystemTimeZoneById("Pacific/Auckland") }, Cancellation);
        }

        await OpenAsync(Place("a.zip"), async address =>
            Assert.Contains("Times are those of this board’s zone, Pacific/Auckland (UTC", await _client.GetStringAsync(address, Cancellation), StringComparison.Ordinal));
    }

    [Fact]
    public async Task WhatCanNotBeOpenedIsToldInOneLine()
    {
        Assert.Contains("nothing was named", await RefusedAsync(), StringComparison.Ordinal);
        Assert.Contains("there are several", await RefusedAsync("a", "b"), StringComparison.Ordinal);
        Assert.Contains("there is no such file", await RefusedAsync(Place("none.zip")), StringComparison.Ordinal);
        Assert.Contains("nothing of a log in it", await RefusedAsync(_directory.CreateSubdirectory("empty").FullName), StringComparison.Ordinal);
        File.WriteAllText(Place("notes.txt"), "not a bundle, though long enough to be one");
        Assert.Contains("it is no bundle, as that is a zip archive", await RefusedAsync(Place("notes.txt")), StringComparison.Ordinal);
        string unpacked = _directory.CreateSubdirectory("unpacked").FullName;
        await SampleLog.BundleAsync(Log(), Place("a.zip"));
        System.IO.Compression.ZipFile.ExtractToDirectory(Place("a.zip"), unpacked);
        File.Delete(Path.Combine(unpacked, "report.json"));
        Assert.Contains("it is an unpacked bundle", await RefusedAsync(unpacked), StringComparison.Ordinal);
    }

    /// <summary>Whole by its form, and still nothing that this program writes: refused when it is opened, instead of a page that fails.</summary>
    [Theory]
    [InlineData("loadMean", "1e999", "can't be shown")]
    [InlineData("severity", "\"\\ud800\"", "no report document")]
    [InlineData("count", "99999999999", "no report document")]
    [InlineData("start", "\"9999-99-99T00:00:00Z\"", "no report document")]
    public async Task ADocumentThatCanNotBeDrawnIsRefused(string member, string value, string told)
    {
        string log = Log();
        string path = Path.Combine(log, "report.json");
        string text = await File.ReadAllTextAsync(path, Cancellation);
        await File.WriteAllTextAsync(path, System.Text.RegularExpressions.Regex.Replace(text, $"\"{member}\": [^,\n]*", _ => $"\"{member}\": {value}"), Cancellation);
        Assert.Contains(told, await RefusedAsync(log), StringComparison.Ordinal);
    }
}
