using System.Diagnostics;
using System.Text;
using System.Text.RegularExpressions;
using Diagnostics.Agent;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Bundles;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Commands;

public sealed class ReportCommandTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("record");

    public void Dispose() => _directory.Delete(recursive: true);

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    private static async Task<string> RefusedAsync(RecordedWorld world, params string[] arguments)
    {
        Assert.Equal(2, await world.RunAsync(["report", .. arguments]));
        Assert.Equal(string.Empty, world.OutputText);
        return Assert.Single(world.ErrorText.Split('\n', StringSplitOptions.RemoveEmptyEntries));
    }

    private async Task<string> WrittenAsync(params string[] arguments)
    {
        RecordedWorld world = new();
        int status = await world.RunAsync(["report", .. arguments, "--html", Place("record.html")]);
        Assert.True(status == 0, world.ErrorText);
        Assert.Contains("the record to hand over", world.OutputText, StringComparison.Ordinal);
        string page = await File.ReadAllTextAsync(Place("record.html"), Cancellation);
        Assert.Contains("Handed over by (name, signature)", page, StringComparison.Ordinal);
        return page;
    }

    /// <summary>A browser of this test: a script that gets the arguments of a real one.</summary>
    private RecordedWorld WithBrowser(string script)
    {
        string path = Path.Combine(_directory.CreateSubdirectory("programs").FullName, "chromium");
        File.WriteAllText(path, "#!/bin/sh\n" + script);
        if (OperatingSystem.IsLinux())
        {
            File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserExecute | UnixFileMode.UserWrite);
        }

        return new() { Environment = { ["PATH"] = "/nowhere:" + Path.GetDirectoryName(path) } };
    }

    [Fact]
    public async Task ATraceGivesARecord() => Assert.Contains("1,801", await WrittenAsync("-"), StringComparison.Ordinal);

    [Fact]
    public async Task ABundleALogAndAReportDocumentGiveTheirRecords()
    {
        string log = _directory.CreateSubdirectory("log").FullName;
        SampleLog.Write(log);
        await SampleLog.BundleAsync(log, Place("a.zip"));
        await File.WriteAllBytesAsync(Place("report.json"), ReportJson.ToUtf8(SampleReports.Rich()), Cancellation);
        foreach (string source in new[] { log, Place("a.zip"), Place("report.json") })
        {
            string page = await WrittenAsync(source);
            Assert.Contains("The café dimmer (node 7) stopped sending", page, StringComparison.Ordinal);
            Assert.Equal(!source.EndsWith(".json", StringComparison.Ordinal), page.Contains("<h1><bdi>Wrenfield community library</bdi></h1>", StringComparison.Ordinal));
        }
    }

    /// <summary>The schema of the document has 0 as the least of each; the page adds them up.</summary>
    [Theory]
    [InlineData("frames")]
    [InlineData("errorEpisodes")]
    [InlineData("errorsOnItsFrames")]
    [InlineData("bit")]
    [InlineData("PdoTooShort")]
    public async Task CountsThatNoBusCanGiveAreRefused(string member)
    {
        Report report = SampleReports.Rich();
        BusReport bus = report.Buses[0] with { Undecodable = new Dictionary<string, long> { ["PdoTooShort"] = 1, ["SdoTooShort"] = 1 } };
        string document = Encoding.UTF8.GetString(ReportJson.ToUtf8(report with { Buses = [bus with { Nodes = [.. bus.Nodes, .. bus.Nodes] }] }));
        foreach (long count in new[] { long.MaxValue, -1 })
        {
            string changed = Regex.Replace(document, $"\"({member})\": \\d+", $"\"$1\": {count}");
            Assert.NotEqual(document, changed);
            await File.WriteAllTextAsync(Place("report.json"), changed, Cancellation);
            Assert.Contains("no whole report document", await RefusedAsync(new(), Place("report.json"), "--html", Place("a.html")), StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task TheServiceThatRunsIsAskedWhereNothingIsNamed()
    {
        TaskCompletionSource<string> address = new(TaskCreationOptions.RunContinuationsAsynchronously);
        AgentState state = new() { Report = SampleReports.Rich(), Built = new AsBuiltRecord { Site = "Wrenfield community library" } };
        using PageService service = new(0, new(state, new UtcClock()), served => address.TrySetResult(served), NullLogger<PageService>.Instance);
        await service.StartAsync(Cancellation);
        string port = new Uri(await address.Task).Port.ToString(System.Globalization.CultureInfo.InvariantCulture);
        Assert.Contains("<h1><bdi>Wrenfield community library</bdi></h1>", await WrittenAsync("--port", port), StringComparison.Ordinal);
        Assert.Contains("--site: it is for traces", await RefusedAsync(new(), "--port", port, "--site", "x.json", "--html", Place("b.html")), StringComparison.Ordinal);
        await service.StopAsync(Cancellation);
    }

    /// <summary>Whatever the service prefers: who prints a record knows who will read it.</summary>
    [Fact]
    public async Task TheServiceThatRunsWritesInTheLanguageThatIsNamed()
    {
        TaskCompletionSource<string> address = new(TaskCreationOptions.RunContinuationsAsynchronously);
        AgentState state = new() { Report = SampleReports.Rich() };
        using PageService service = new(0, new(state, new UtcClock()) { Language = Language.Find("de") }, served => address.TrySetResult(served), NullLogger<PageService>.Instance);
        await service.StartAsync(Cancellation);
        string port = new Uri(await address.Task).Port.ToString(System.Globalization.CultureInfo.InvariantCulture);
        await WrittenAsync("--port", port, "--language", "en");
        foreach (string[] language in new string[][] { [], ["--language", "auto"], ["--language", "de"] })
        {
            Assert.Equal(0, await new RecordedWorld().RunAsync(["report", "--port", port, .. language, "--html", Place("record.html")]));
            Assert.Contains("Übergeben von (Name, Unterschrift)", await File.ReadAllTextAsync(Place("record.html"), Cancellation), StringComparison.Ordinal);
        }

        await service.StopAsync(Cancellation);
    }

    [Fact]
    public async Task ALanguageThatIsNotSpokenIsRefusedBeforeTheServiceIsAsked()
    {
        // Nothing listens there, which would be told otherwise.
        string told = await RefusedAsync(new(), "--port", "1", "--language", "xx", "--html", Place("a.html"));
        Assert.Contains("'xx' is no language that this program speaks; choose auto, en, de", told, StringComparison.Ordinal);
        Assert.Equal(told, await RefusedAsync(new(), "-", "--language", "xx", "--html", Place("a.html")));
    }

    [Fact]
    public async Task WhatIsWrongIsToldInOneLine()
    {
        Assert.Contains("it isn't said where to; give --html FILE or --pdf FILE", await RefusedAsync(new(), "-"), StringComparison.Ordinal);
        Assert.Contains("port 1: no service answers there", await RefusedAsync(new(), "--port", "1", "--html", Place("a.html")), StringComparison.Ordinal);
        Assert.Contains("there is no such file", await RefusedAsync(new(), Place("missing.zip"), "--html", Place("a.html")), StringComparison.Ordinal);
        await File.WriteAllTextAsync(Place("report.json"), "{}", Cancellation);
        Assert.Contains("no whole report document", await RefusedAsync(new(), Place("report.json"), "--html", Place("a.html")), StringComparison.Ordinal);
        Assert.Contains("only traces go together", await RefusedAsync(new(), "-", Place("report.json"), "--html", Place("a.html")), StringComparison.Ordinal);
        Assert.Contains("standard input is named twice", await RefusedAsync(new(), "-", "-", "--html", Place("a.html")), StringComparison.Ordinal);
        Assert.Equal(["report.json"], _directory.GetFiles().Select(file => file.Name));
    }

    [Fact]
    public async Task WithoutABrowserItSaysWhichPackageToInstallBeforeAnythingIsRead()
    {
        RecordedWorld world = new() { Environment = { ["PATH"] = "/nowhere" } };
        Assert.Contains("install the package 'chromium'", await RefusedAsync(world, "-", "--pdf", Place("a.pdf")), StringComparison.Ordinal);
        Assert.Null(world.TracesOpened);
    }

    [Fact]
    public async Task TheBrowserPrintsWithoutNetworkIntoADirectoryOfItsOwn()
    {
        string seen = Place("seen");
        RecordedWorld world = WithBrowser($$"""
            for word in "$@"; do case "$word" in --print-to-pdf=*) target="${word#*=}" ;; esac; last="$word"; done
            printf '%s\n' "$@" "HOME=$HOME" >{{seen}}
            grep -c 'Handed over by' "${last#file://}" >>{{seen}}
            printf '%%PDF-1.4 of a test' >"$target"
            """);
        Assert.True(await world.RunAsync("report", "-", "--pdf", Place("a.pdf")) == 0, world.ErrorText);
        Assert.Equal("%PDF-1.4 of a test", await File.ReadAllTextAsync(Place("a.pdf"), Cancellation));
        string[] lines = await File.ReadAllLinesAsync(seen, Cancellation);
        Assert.Contains("--headless", lines);
        Assert.Contains("--host-resolver-rules=MAP * ~NOTFOUND", lines);
        Assert.Equal(Environment.IsPrivilegedProcess, lines.Contains("--no-sandbox"));
        string home = lines.Single(line => line.StartsWith("HOME=", StringComparison.Ordinal))["HOME=".Length..];
        Assert.Contains($"--user-data-dir={home}/profile", lines);
        Assert.False(Directory.Exists(home));
        Assert.Equal("1", lines[^1]);
    }

    [Theory]
    [InlineData("echo 'no display' >&2; exit 3", "(exit code 3, no display)")]
    [InlineData("exit 0", "printed nothing (exit code 0)")]
    public async Task ABrowserThatFailsLeavesNoFile(string script, string said)
    {
        Assert.Contains(said, await RefusedAsync(WithBrowser(script), "-", "--pdf", Place("a.pdf")), StringComparison.Ordinal);
        Assert.Empty(_directory.GetFiles());
    }

    /// <summary>Told by what kind of thing it is: a real device would be gone where the test fails.</summary>
    [Fact]
    public async Task NothingButAFileIsWrittenOver()
    {
        using (Process made = Process.Start("mkfifo", Place("record.html")))
        {
            await made.WaitForExitAsync(Cancellation);
            Assert.Equal(0, made.ExitCode);
        }

        Assert.Contains("record.html' is a pipe, not a file; name an ordinary file", await RefusedAsync(new(), "-", "--html", Place("record.html")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task NoPdfIsWrittenOverAndNothingButAPage()
    {
        await File.WriteAllTextAsync(Place("sheet.pdf"), "%PDF-1.4 the data sheet of a module", Cancellation);
        Assert.Contains("is there already", await RefusedAsync(WithBrowser("exit 0"), "-", "--pdf", Place("sheet.pdf")), StringComparison.Ordinal);
        Assert.Contains("is there, and no page", await RefusedAsync(new(), "-", "--html", Place("sheet.pdf")), StringComparison.Ordinal);
        Assert.Equal("%PDF-1.4 the data sheet of a module", await File.ReadAllTextAsync(Place("sheet.pdf"), Cancellation));

        File.CreateSymbolicLink(Place("latest.html"), Place("record.html"));
        await WrittenAsync("-");
        await File.WriteAllTextAsync(Place("record.html"), "<!doctype html>old", new UTF8Encoding(false), Cancellation);
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("report", "-", "--html", Place("latest.html")));
        Assert.NotNull(new FileInfo(Place("latest.html")).LinkTarget);
        Assert.Contains("Handed over", await File.ReadAllTextAsync(Place("record.html"), Cancellation), StringComparison.Ordinal);
    }
}
