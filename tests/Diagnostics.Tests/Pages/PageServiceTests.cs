using System.IO.Compression;
using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Pages;

public sealed class PageServiceTests : IAsyncLifetime
{
    private readonly AgentState _state = new() { KeepsLog = true };
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("captures");
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly HttpClient _client = new();
    private readonly PageService _service;

    public PageServiceTests() => _service = new(0, new(_state, TimeProvider.System) { Captures = new(_folder.FullName, 1 << 20) }, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);

    public async ValueTask InitializeAsync()
    {
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

    [Fact]
    public async Task ThePageAndTheDocumentAreServedUnderAStrictPolicy()
    {
        _state.Report = SampleReports.Rich();
        using HttpResponseMessage page = await GetAsync("/");
        Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        string policy = Assert.Single(page.Headers.GetValues("Content-Security-Policy"));
        Assert.StartsWith("default-src 'none'; style-src 'self'; script-src 'self';", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.Equal("nosniff", Assert.Single(page.Headers.GetValues("X-Content-Type-Options")));
        Assert.True(page.Headers.CacheControl!.NoStore);
        Assert.Empty(page.Headers.Server);

        using HttpResponseMessage document = await GetAsync("/report.json");
        Assert.Equal("application/json", document.Content.Headers.ContentType!.MediaType);
        Assert.Equal(Core.Reporting.ReportJson.ToUtf8(_state.Report), await document.Content.ReadAsByteArrayAsync(TestContext.Current.CancellationToken));
    }

    private async Task<HttpStatusCode> MarkAsync(string? origin, HttpContent content)
    {
        using HttpClient plain = new(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _client.BaseAddress };
        using HttpRequestMessage request = new(HttpMethod.Post, "/mark") { Content = content };
        if (origin is not null)
        {
            request.Headers.Add("Origin", origin);
        }

        using HttpResponseMessage answer = await plain.SendAsync(request, TestContext.Current.CancellationToken);
        return answer.StatusCode;
    }

    private static FormUrlEncodedContent Note(string note) => new([new("note", note)]);

    private string Own => _client.BaseAddress!.GetLeftPart(UriPartial.Authority);

    [Fact]
    public async Task AMarkFromTheOwnPageIsTakenAndShortened()
    {
        Assert.Equal(HttpStatusCode.SeeOther, await MarkAsync(Own, Note("the hall lights went off")));
        Assert.True(_state.TryTakeMark(out string? note, out _));
        Assert.Equal("the hall lights went off", note);
        Assert.Equal(HttpStatusCode.SeeOther, await MarkAsync(Own, Note(new string('x', 900))));
        Assert.True(_state.TryTakeMark(out string? cut, out _));
        Assert.Equal(Limits.NoteLength, cut.Length);
    }

    private async Task<(HttpStatusCode Status, string Text)> PostAsync(string path, string? origin, params (string Name, string Value)[] fields)
    {
        using HttpClient plain = new(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = _client.BaseAddress };
        using HttpRequestMessage request = new(HttpMethod.Post, path) { Content = new FormUrlEncodedContent(fields.Select(field => KeyValuePair.Create(field.Name, field.Value))) };
        if (origin is not null)
        {
            request.Headers.Add("Origin", origin);
        }

        using HttpResponseMessage answer = await plain.SendAsync(request, TestContext.Current.CancellationToken);
        return (answer.StatusCode, await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken));
    }

    [Fact]
    public async Task ASoakTestIsBegunAndEndedFromTheOwnPageOnlyAndItsRecordIsServed()
    {
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync("/soak", "http://library.example", ("for", "62h"))).Status);
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync("/soak/stop", null)).Status);
        (HttpStatusCode wrong, string why) = await PostAsync("/soak", Own, ("for", "a while"));
        Assert.Equal(HttpStatusCode.BadRequest, wrong);
        Assert.Contains("62h", why, StringComparison.Ordinal);
        Assert.False(_state.TryTakeSoakWish(out _));
        using (HttpResponseMessage none = await GetAsync("/soak.json"))
        {
            Assert.Equal(HttpStatusCode.NotFound, none.StatusCode);
        }

        Assert.Equal(HttpStatusCode.ServiceUnavailable, (await PostAsync("/soak/stop", Own)).Status);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/soak", Own, ("name", "<b>weekend</b>"), ("for", "62h"), ("fails", "fault"), ("error-ratio", "any"), ("restarts", "2"))).Status);
        Agent.Soaks.SoakRunner runner = new(_state);
        runner.OnSnapshot(SampleReports.Quiet(), TimeSpan.Zero);
        Core.Soak.SoakRecord soak = Assert.Single(_state.Soaks);
        Assert.Equal("fault", Assert.Single(soak.Rules.Fails));
        Assert.Equal((null, 2), (soak.Rules.MostErrorRatio, soak.Rules.MostRestarts));
        using (HttpResponseMessage record = await GetAsync("/soak/" + soak.Id))
        {
            string page = await record.Content.ReadAsStringAsync(TestContext.Current.CancellationToken);
            Assert.Contains("Soak test: &lt;b&gt;weekend&lt;/b&gt;", page, StringComparison.Ordinal);
            Assert.DoesNotContain("<b>", page, StringComparison.Ordinal);
        }

        using (HttpResponseMessage document = await GetAsync("/soak.json"))
        {
            Assert.Contains("\"outcome\":\"SoFarGood\"", await document.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
        }

        using (HttpResponseMessage other = await GetAsync("/soak/../report.json2"))
        {
            Assert.Equal(HttpStatusCode.NotFound, other.StatusCode);
        }

        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/soak/stop", Own)).Status);
        runner.OnSnapshot(SampleReports.Quiet(), TimeSpan.Zero);
        Assert.Equal(Core.Soak.SoakEnd.Stopped, Assert.Single(_state.Soaks).End);
    }

    [Theory]
    [InlineData(null)]
    [InlineData("null")]
    [InlineData("http://library.example")]
    [InlineData("http://127.0.0.1")]
    public async Task AMarkFromAnywhereElseIsRefused(string? origin)
    {
        Assert.Equal(HttpStatusCode.Forbidden, await MarkAsync(origin, Note("forged")));
        Assert.False(_state.TryTakeMark(out _, out _));
    }

    [Fact]
    public async Task WhatIsNoShortFormIsRefused()
    {
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, await MarkAsync(Own, new StringContent("{}")));
        using StringContent seven = new("note=+ADw-b+AD4-", System.Text.Encoding.ASCII, "application/x-www-form-urlencoded");
        seven.Headers.ContentType!.CharSet = "utf-7";
        Assert.Equal(HttpStatusCode.BadRequest, await MarkAsync(Own, seven));
        Assert.Contains(await MarkAsync(Own, Note(new string('x', 100_000))), new[] { HttpStatusCode.BadRequest, HttpStatusCode.RequestEntityTooLarge });
        Assert.False(_state.TryTakeMark(out _, out _));
        for (int count = 0; count < Limits.WaitingMarks; count++)
        {
            Assert.Equal(HttpStatusCode.SeeOther, await MarkAsync(Own, Note("again")));
        }

        Assert.Equal(HttpStatusCode.ServiceUnavailable, await MarkAsync(Own, Note("once more")));
    }

    /// <summary>A note is text of a stranger: what it breaks in the middle of, or is made of, is shown as a replacement character.</summary>
    [Fact]
    public async Task AHostileNoteIsCleanedAfterItIsCut()
    {
        // The last is half a surrogate pair, in bytes.
        string[] notes = [Uri.EscapeDataString("x" + string.Concat(Enumerable.Repeat("\U0001F4A1", 150))), "<script>%01%E2%80%AEevil", "%ED%A0%BD alone"];
        foreach (string note in notes)
        {
            using StringContent content = new("note=" + note, System.Text.Encoding.ASCII, "application/x-www-form-urlencoded");
            HttpStatusCode status = await MarkAsync(Own, content);
            Assert.True(status == HttpStatusCode.SeeOther, $"{note}: {status}");
            Assert.True(_state.TryTakeMark(out string? taken, out _));
            Assert.Equal(HtmlWriter.Clean(taken), taken);
            Assert.InRange(taken.Length, 1, Limits.NoteLength);
        }
    }

    [Fact]
    public async Task AMarkThatTheLogCouldNotKeepIsRefused()
    {
        _state.SetTrouble(Trouble.OfLog, new(0), Named("The card is full."));
        Assert.Equal(HttpStatusCode.ServiceUnavailable, await MarkAsync(Own, Note("lost")));
        Assert.False(new AgentState().TryMark("no log", out Sentence? why));
        Assert.Contains("--log", why.English, StringComparison.Ordinal);
    }

    [Fact]
    public async Task ALinkBesideTheKeptFramesIsNotFollowed()
    {
        string secret = Path.Combine(_folder.FullName, "secret.txt");
        File.WriteAllText(secret, "secret");
        File.CreateSymbolicLink(Path.Combine(_folder.FullName, "20260109T090000.pcapng"), secret);
        using HttpResponseMessage answer = await GetAsync("/captures/20260109T090000.pcapng");
        Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
    }

    [Fact]
    public async Task KeptFramesAreServedAndNothingElseOfTheDisk()
    {
        File.WriteAllText(Path.Combine(_folder.FullName, "20260107T090000.pcapng"), "frames");
        File.WriteAllText(Path.Combine(_folder.FullName, "secret.txt"), "secret");
        using HttpResponseMessage frames = await GetAsync("/captures/20260107T090000.pcapng");
        Assert.Equal("frames", await frames.Content.ReadAsStringAsync(TestContext.Current.CancellationToken));
        Assert.Equal("attachment", frames.Content.Headers.ContentDisposition!.DispositionType);
        foreach (string name in new[] { "secret.txt", "..%2Fsecret.txt", "%2e%2e/%2e%2e/etc/passwd", "20260108T090000.pcapng", "" })
        {
            using HttpResponseMessage answer = await GetAsync("/captures/" + name);
            Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        }
    }

    [Fact]
    public async Task BeforeTheFirstSnapshotThereIsAPageThatClaimsNothing()
    {
        using HttpResponseMessage page = await GetAsync("/");
        Assert.Contains("nothing can be said about the bus", await page.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AssetsAreNamedByTheirContentAndMayBeKeptForGood()
    {
        Assert.Matches("^/assets/page\\.[0-9a-f]{16}\\.css$", PageAssets.Style.Path);
        foreach (PageAsset asset in new[] { PageAssets.Style, PageAssets.Script })
        {
            using HttpResponseMessage answer = await GetAsync(asset.Path);
            Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
            Assert.Contains("immutable", answer.Headers.CacheControl!.ToString(), StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData("library.example")]
    [InlineData("127.0.0.1.example")]
    [InlineData("192.0.2.1:8480")]
    public async Task ANameThatPointsHereFromElsewhereIsRefused(string host)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, "/report.json");
        request.Headers.Host = host;
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.MisdirectedRequest, answer.StatusCode);
        Assert.DoesNotContain("schema", await answer.Content.ReadAsStringAsync(TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("localhost:1234")]
    [InlineData("LocalHost")]
    [InlineData("127.0.0.1")]
    [InlineData("[::1]:8480")]
    public async Task TheNamesOfThisBoardAreServed(string host)
    {
        using HttpRequestMessage request = new(HttpMethod.Get, "/");
        request.Headers.Host = host;
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    [Theory]
    [InlineData("POST", "/", HttpStatusCode.MethodNotAllowed)]
    [InlineData("DELETE", "/report.json", HttpStatusCode.MethodNotAllowed)]
    [InlineData("HEAD", "/", HttpStatusCode.OK)]
    [InlineData("GET", "/assets/page.css", HttpStatusCode.NotFound)]
    [InlineData("GET", "/../etc/passwd", HttpStatusCode.NotFound)]
    public async Task NothingElseIsAnswered(string method, string path, HttpStatusCode expected)
    {
        using HttpRequestMessage request = new(new(method), path);
        request.Headers.Add("Origin", Own);
        using HttpResponseMessage answer = await _client.SendAsync(request, TestContext.Current.CancellationToken);
        Assert.Equal(expected, answer.StatusCode);
    }

    [Fact]
    public async Task APortThatIsTakenIsToldAndNothingElseFails()
    {
        AgentState state = new();
        using PageService second = new(_client.BaseAddress!.Port, new(state, TimeProvider.System), _ => { }, NullLogger<PageService>.Instance);
        await second.StartAsync(TestContext.Current.CancellationToken);
        await Patience.UntilAsync(() => !state.Troubles.IsEmpty);
        Assert.Equal("page", Assert.Single(state.Troubles).Part);
        await second.StopAsync(TestContext.Current.CancellationToken);
    }

    private Task<HttpResponseMessage> GetAsync(string path) => _client.GetAsync(new Uri(path, UriKind.Relative), TestContext.Current.CancellationToken);

    [Fact]
    public async Task AFindingIsAcknowledgedForTheEpisodeThatIsShown()
    {
        _state.Report = SampleReports.Rich();
        Core.Reporting.FindingReport finding = _state.Report.Findings[0];
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync("/acknowledge", "http://library.example", ("finding", finding.Key))).Status);
        (HttpStatusCode unknown, string why) = await PostAsync("/acknowledge", Own, ("finding", "node.silent/can9/node-1"));
        Assert.Equal((HttpStatusCode.ServiceUnavailable, "There is no such finding now.\n"), (unknown, why));
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/acknowledge", Own, ("finding", finding.Key), ("note", "<i>plug re-made</i>"))).Status);
        _state.AddAcknowledgements(_state.TakeAcknowledgements(_state.Report));
        Assert.Empty(_state.TakeAcknowledgements(_state.Report));
        Assert.Contains("&lt;i&gt;plug re-made&lt;/i&gt;", await _client.GetStringAsync(new Uri("/", UriKind.Relative), TestContext.Current.CancellationToken), StringComparison.Ordinal);

        // It came back: that was not taken note of.
        _state.Report = _state.Report with { Findings = [finding with { Count = finding.Count + 1 }] };
        Assert.DoesNotContain("plug re-made", await _client.GetStringAsync(new Uri("/", UriKind.Relative), TestContext.Current.CancellationToken), StringComparison.Ordinal);
    }

    [Fact]
    public async Task AWalkTestIsBegunAndEndedFromThePageAndItsEndIsMarked()
    {
        Assert.Equal(HttpStatusCode.ServiceUnavailable, (await PostAsync("/walk/begin", Own)).Status);
        _state.Report = SampleReports.Quiet();
        Assert.Equal(HttpStatusCode.Forbidden, (await PostAsync("/walk/begin", null)).Status);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/walk/begin", Own)).Status);
        Assert.Equal(HttpStatusCode.ServiceUnavailable, (await PostAsync("/walk/begin", Own)).Status);
        Assert.Equal(HttpStatusCode.SeeOther, (await PostAsync("/walk/end", Own)).Status);
        Assert.True(_state.TryTakeMark(out string? note, out Sentence? wording));
        Assert.Equal("walk test ended: 0 of 0 inputs heard", note);
        Assert.Equal("Begehungstest beendet: 0 von 0 Eingängen gehört", Language.German.Say(wording!));
    }

    /// <summary>A stream goes out as it comes.</summary>
    [Theory]
    [InlineData("/", "br")]
    [InlineData("/report.json", "br")]
    [InlineData("/live?of=/&have=", null)]
    public async Task WhoTakesItGetsItSmaller(string path, string? encoding)
    {
        _state.Report = SampleReports.Crowded();
        using HttpRequestMessage request = new(HttpMethod.Get, path);
        request.Headers.AcceptEncoding.ParseAdd("gzip, deflate, br, zstd");
        using HttpResponseMessage answer = await _client.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, TestContext.Current.CancellationToken);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Equal(encoding, answer.Content.Headers.ContentEncoding.SingleOrDefault());
        if (encoding is null)
        {
            return;
        }

        byte[] small = await answer.Content.ReadAsByteArrayAsync(TestContext.Current.CancellationToken);
        byte[] plain = await _client.GetByteArrayAsync(new Uri(path, UriKind.Relative), TestContext.Current.CancellationToken);
        Assert.True(small.Length < plain.Length / 2);
        using BrotliStream whole = new(new MemoryStream(small), CompressionMode.Decompress);
        using MemoryStream text = new();
        await whole.CopyToAsync(text, TestContext.Current.CancellationToken);
        Assert.Equal(plain, text.ToArray());
    }

    [Fact]
    public async Task TheStreamCarriesThePiecesThatTheBrowserDoesNotHave()
    {
        _state.Report = SampleReports.Rich();
        IReadOnlyList<PagePiece> pieces = PageRenderer.At("/", new PageSource(_state, TimeProvider.System).Model())!.Pieces;
        string have = string.Join(',', pieces.Select(piece => piece.Id == "findings" ? "old" : piece.In(Language.English).Digest));
        using HttpResponseMessage stream = await _client.GetAsync(new Uri($"/live?of=/&have={have}", UriKind.Relative), HttpCompletionOption.ResponseHeadersRead, TestContext.Current.CancellationToken);
        Assert.Equal("text/event-stream", stream.Content.Headers.ContentType!.MediaType);
        using StreamReader lines = new(await stream.Content.ReadAsStreamAsync(TestContext.Current.CancellationToken));
        string? line = await lines.ReadLineAsync(TestContext.Current.CancellationToken);
        while (line?.Contains("\"findings\"", StringComparison.Ordinal) != true)
        {
            line = await lines.ReadLineAsync(TestContext.Current.CancellationToken);
            Assert.NotNull(line);
        }

        using System.Text.Json.JsonDocument told = System.Text.Json.JsonDocument.Parse(line["data: ".Length..]);
        DrawnPiece findings = pieces.Single(piece => piece.Id == "findings").In(Language.English);
        Assert.Equal((findings.Html, findings.Digest), (told.RootElement.GetProperty("html").GetString(), told.RootElement.GetProperty("digest").GetString()));
    }

    [Fact]
    public async Task AStreamOfAnotherShapeAsksForThePageAnewAndOneOfNothingIsRefused()
    {
        _state.Report = SampleReports.Rich();
        Assert.Equal("event: anew\ndata: \n\n", await _client.GetStringAsync(new Uri("/live?of=/&have=a,b", UriKind.Relative), TestContext.Current.CancellationToken));
        using HttpResponseMessage nothing = await GetAsync("/live?of=/nowhere&have=a");
        Assert.Equal(HttpStatusCode.NotFound, nothing.StatusCode);
    }

    [Fact]
    public async Task MoreReadersThanThereIsRoomForAreToldToComeBack()
    {
        _state.Report = SampleReports.Rich();
        string have = string.Join(',', PageRenderer.At("/", new PageSource(_state, TimeProvider.System).Model())!.Pieces.Select(_ => "old"));
        List<HttpResponseMessage> streams = [];
        try
        {
            for (int reader = 0; reader < Limits.LoopbackStreams; reader++)
            {
                streams.Add(await _client.GetAsync(new Uri($"/live?of=/&have={have}", UriKind.Relative), HttpCompletionOption.ResponseHeadersRead, TestContext.Current.CancellationToken));
                Assert.Equal(HttpStatusCode.OK, streams[^1].StatusCode);
            }

            using HttpResponseMessage last = await GetAsync($"/live?of=/&have={have}");
            Assert.Equal(HttpStatusCode.ServiceUnavailable, last.StatusCode);
            Assert.NotNull(last.Headers.RetryAfter);
            using HttpResponseMessage page = await GetAsync("/");
            Assert.Equal(HttpStatusCode.OK, page.StatusCode);
        }
        finally
        {
            streams.ForEach(stream => stream.Dispose());
        }
    }
}
