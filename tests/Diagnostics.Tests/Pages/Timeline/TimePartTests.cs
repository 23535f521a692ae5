using System.Buffers;
using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Can;
using Diagnostics.Can.Traces;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Pages.Timeline;

/// <summary>The time axis and the frames around a moment as they are served.</summary>
public sealed class TimePartTests : IAsyncLifetime
{
    private const string FileName = "20261121T190000.pcapng";

    private static readonly Instant Marked = SampleReports.Start + TimeSpan.FromHours(1);

    private readonly AgentState _state = new() { KeepsLog = true, Report = SampleReports.Rich() };
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("captures");
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly HttpClient _client = new(new HttpClientHandler { AllowAutoRedirect = false });
    private readonly Log _log = new();
    private readonly PageService _service;

    public TimePartTests() => _service = new(
        0, new(_state, TimeProvider.System) { Captures = new(_folder.FullName, 1 << 20), Log = _log }, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);

    public async ValueTask InitializeAsync()
    {
        _state.AddRows(SampleReports.Rows());
        await File.WriteAllBytesAsync(Path.Combine(_folder.FullName, FileName), Frames());
        _state.SetCaptures([new(Marked, "the hall <b>lights</b> went off", IsMark: true, FileName, 1000)]);
        _log.State = _state;
        await _service.StartAsync(TestContext.Current.CancellationToken);
        _client.BaseAddress = new(await _address.Task);
    }

    public async ValueTask DisposeAsync()
    {
        _client.Dispose();
        await _service.StopAsync(CancellationToken.None);
        _service.Dispose();
        _folder.Delete(recursive: true);
    }

    private async Task<(HttpStatusCode Status, string Text)> GetAsync(string path)
    {
        using HttpResponseMessage answer = await _client.GetAsync(new Uri(path, UriKind.Relative), TestContext.Current.CancellationToken);
        return (answer.StatusCode, await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task ADayHasLanesWordsAndRows()
    {
        (HttpStatusCode status, string page) = await GetAsync("/time?span=day");
        Assert.Equal(HttpStatusCode.OK, status);
        foreach (string part in new[] { "class=\"mean\"", "class=\"blind\"", "class=\"flag\"", "class=\"bar is-fault\"", "class=\"silent\"", "Not seen for", "A mark: the hall &lt;b&gt;lights&lt;/b&gt; went off", "aria-current=\"true\">1 day", "/frames?at=2026-11-21T19:00:00Z" })
        {
            Assert.Contains(part, page, StringComparison.Ordinal);
        }

        Assert.DoesNotContain("<b>", page, StringComparison.Ordinal);
        Assert.DoesNotContain("style=", page, StringComparison.Ordinal);
        Assert.DoesNotContain("NaN", page, StringComparison.Ordinal);
        Assert.True(page.Length < 60_000, $"{page.Length}");
    }

    [Theory]
    [InlineData("/time?from=b&to=a")]
    [InlineData("/time?span=fortnight")]
    [InlineData("/time/stretch?from=2026-11-26T15:00:00Z&to=2026-11-26T14:00:00Z")]
    [InlineData("/frames?at=yesterday")]
    [InlineData("/frames")]
    [InlineData("/frames/" + FileName + "?from=-1")]
    [InlineData("/frames/" + FileName + "?from=99999999999999999999")]
    [InlineData("/frames/" + FileName + "?at=NaN")]
    public async Task WhatIsNoStretchOrMomentIsRefusedWithAPage(string address)
    {
        (HttpStatusCode status, string page) = await GetAsync(address);
        Assert.Equal(HttpStatusCode.BadRequest, status);
        Assert.Contains("<h1>", page, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("/time?from=2190-01-01T00:00:00Z&to=2190-01-02T00:00:00Z", "This has not happened yet")]
    [InlineData("/time?from=1980-01-01T00:00:00Z&to=1980-01-02T00:00:00Z", "Nothing is kept of this time")]
    [InlineData("/time?from=2026-11-21T21:05:00Z&to=2026-11-21T21:10:00Z", "That proves nothing about the bus")]
    [InlineData("/time?from=1970-01-01T00:00:00Z&to=2199-01-01T00:00:00Z", "More than ten years were asked for")]
    public async Task WhereNothingIsKnownThePageSaysWhy(string address, string words)
    {
        (HttpStatusCode status, string page) = await GetAsync(address);
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains(words, page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task TheScriptGetsOnlyWhatChanges()
    {
        (HttpStatusCode status, string part) = await GetAsync("/time/stretch?span=hour");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.StartsWith("<div class=\"stretch\"", part, StringComparison.Ordinal);
        Assert.DoesNotContain("<html", part, StringComparison.Ordinal);
    }

    /// <summary>A drawing is shown again as long as nothing but traffic came, and drawn anew when something did.</summary>
    [Fact]
    public async Task AStretchIsDrawnOnceUntilSomethingHappens()
    {
        await GetAsync("/time?span=year");
        await GetAsync("/time?span=year");
        Assert.Equal(1, _log.Asked);
        _log.Version++;
        await GetAsync("/time?span=year");
        Assert.Equal(2, _log.Asked);
        await GetAsync("/time?span=month");
        Assert.Equal(3, _log.Asked);
    }

    [Fact]
    public async Task ALogThatDoesNotAnswerIsSaidAndMemoryShown()
    {
        _log.Fails = true;
        (HttpStatusCode status, string page) = await GetAsync("/time?span=day");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains("The log can’t be asked now. The card stalls", page, StringComparison.Ordinal);
        Assert.Contains("class=\"mean\"", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task AMomentLeadsToTheFramesAroundIt()
    {
        using HttpResponseMessage answer = await _client.GetAsync(new Uri("/frames?at=2026-11-21T18:59:30Z", UriKind.Relative), TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.SeeOther, answer.StatusCode);
        (HttpStatusCode status, string page) = await GetAsync(answer.Headers.Location!.OriginalString);
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains("Heartbeat of reading room inputs (node 9): operational", page, StringComparison.Ordinal);
        Assert.Contains("<tr class=\"here\"", page, StringComparison.Ordinal);
        Assert.Contains("0x709", page, StringComparison.Ordinal);
        Assert.Contains("18:59:30.0000", page, StringComparison.Ordinal);
        Assert.Contains("?from=150\"", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task FramesAreLeafedThrough()
    {
        (_, string first) = await GetAsync("/frames/" + FileName);
        Assert.Contains("?from=100", first, StringComparison.Ordinal);
        (HttpStatusCode status, string beyond) = await GetAsync("/frames/" + FileName + "?from=9000000000");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains("There is no frame here.", beyond, StringComparison.Ordinal);
    }

    [Fact]
    public async Task WhereNoFramesWereKeptThePageSaysHowToKeepSome()
    {
        (HttpStatusCode status, string page) = await GetAsync("/frames?at=2026-11-22T03:00:00Z");
        Assert.Equal(HttpStatusCode.OK, status);
        Assert.Contains("No frames were kept of this moment", page, StringComparison.Ordinal);
        Assert.Contains("/#marks", page, StringComparison.Ordinal);
        Assert.Contains("/frames/" + FileName, page, StringComparison.Ordinal);
    }

    /// <summary>A file of a bundle may hold anything.</summary>
    [Fact]
    public async Task HostileFilesAreRefusedOrShownAsFarAsTheyGo()
    {
        Random random = new(3);
        byte[] good = Frames();
        for (int round = 0; round < 40; round++)
        {
            byte[] bytes = [.. good[..random.Next(good.Length)]];
            for (int hit = 0; hit < round && bytes.Length > 0; hit++)
            {
                bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
            }

            await File.WriteAllBytesAsync(Path.Combine(_folder.FullName, "hostile.pcapng"), bytes, TestContext.Current.CancellationToken);
            (HttpStatusCode status, _) = await GetAsync("/frames/hostile.pcapng?at=2026-11-21T18:59:30Z");
            Assert.Contains(status, new[] { HttpStatusCode.OK, HttpStatusCode.UnprocessableEntity });
        }

        Assert.Equal(HttpStatusCode.NotFound, (await GetAsync("/frames/..%2F..%2Fetc%2Fpasswd")).Status);
    }

    [Fact]
    public async Task TheReportLeadsToTheAxisAndAPageInAFileDoesNot()
    {
        (_, string report) = await GetAsync("/");
        Assert.Contains("href=\"/time?from=", report, StringComparison.Ordinal);
        Assert.Contains("href=\"/frames/" + FileName, report, StringComparison.Ordinal);
        Assert.DoesNotContain("/time?", PageRenderer.SelfContained(new(SampleReports.Rich())), StringComparison.Ordinal);
    }

    /// <summary>Heartbeats of node 9, one a second, for five minutes before the mark.</summary>
    private static byte[] Frames()
    {
        ArrayBufferWriter<byte> file = new();
        PcapngWriter writer = new(file);
        writer.WriteInterface("can0", 125_000);
        for (int second = -300; second < 10; second++)
        {
            writer.Write(CanFrame.Classic(Marked + TimeSpan.FromSeconds(second), CanId.Base(0x709), [5]));
        }

        return file.WrittenSpan.ToArray();
    }

    private sealed class Log : IChronicleReader
    {
        public AgentState State { get; set; } = new();

        public int Asked { get; private set; }

        public bool Fails { get; set; }

        public long Version { get; set; }

        public Task<Stretch> ReadAsync(Instant from, Instant to, int columns, CancellationToken cancellation)
        {
            Asked++;
            return Fails ? throw new HistoryException(Say($"The card stalls.")) : Task.FromResult(new Chronicle(new MemorySource(State)).Of(from, to, columns));
        }
    }
}
