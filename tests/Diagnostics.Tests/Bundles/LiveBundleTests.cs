using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Commands;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Tests.Bundles;

/// <summary>A service's log and page, without the analysis: bundles of it from the page's form and by the command.</summary>
public sealed class LiveBundleTests : IAsyncLifetime
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("live");
    private readonly string _log;
    private readonly AgentState _state = new() { KeepsLog = true, Report = SampleReports.Rich() };
    private readonly TaskCompletionSource<string> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly HttpClient _client = new();
    private readonly HistoryWriter _writer;
    private readonly LiveBundles _bundles;
    private readonly PageService _page;
    private Func<IHistory> _open;

    public LiveBundleTests()
    {
        _log = Path.Combine(_directory.FullName, "log");
        _open = () => StoredHistory.Open(_log, SampleLog.Cap, SampleReports.Start, TimeProvider.System);
        _writer = new(() => _open(), _state, TimeProvider.System, NullLogger<HistoryWriter>.Instance, new Dictionary<string, byte[]?> { [KeptDocuments.Site] = SampleLog.Site });
        _bundles = new(_log, _writer, _state, new UtcClock());
        _page = new(0, new(_state, new UtcClock()) { Bundles = _bundles }, address => _address.TrySetResult(address), NullLogger<PageService>.Instance);
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    private string Own => _client.BaseAddress!.GetLeftPart(UriPartial.Authority);

    public async ValueTask InitializeAsync()
    {
        await _page.StartAsync(Cancellation);
        _client.BaseAddress = new(await _address.Task);
    }

    public async ValueTask DisposeAsync()
    {
        _client.Dispose();
        await _page.StopAsync(CancellationToken.None);
        await _writer.StopAsync(CancellationToken.None);
        _page.Dispose();
        _directory.Delete(recursive: true);
    }

    private async Task<HttpResponseMessage> AskAsync(string? origin, params (string Name, string Value)[] fields)
    {
        using HttpRequestMessage request = new(HttpMethod.Post, "/bundle") { Content = new FormUrlEncodedContent(fields.Select(field => KeyValuePair.Create(field.Name, field.Value))) };
        if (origin is not null)
        {
            request.Headers.Add("Origin", origin);
        }

        return await _client.SendAsync(request, Cancellation);
    }

    private async Task<ExtractedBundle> SaveAsync(HttpResponseMessage answer, string name)
    {
        string file = Path.Combine(_directory.FullName, name);
        await File.WriteAllBytesAsync(file, await answer.Content.ReadAsByteArrayAsync(Cancellation), Cancellation);
        return BundleReader.Extract(file, _directory.CreateSubdirectory(name + ".d").FullName);
    }

    [Fact]
    public async Task ThePageGivesABundleOfWhatIsInTheLogAtThatMoment()
    {
        await _writer.StartAsync(Cancellation);
        _writer.Enqueue(new([SampleLog.Earlier], [(StoreSeries.Minutes, SampleLog.Rows[0])], []));
        await _writer.SnapshotAsync(Cancellation);
        using HttpResponseMessage answer = await AskAsync(Own, ("inputs", "keep"));
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.Matches("^wrenfield-community-library-[0-9]{8}-[0-9]{6}\\.zip$", answer.Content.Headers.ContentDisposition!.FileName!.Trim('"'));
        Assert.Equal("attachment", answer.Content.Headers.ContentDisposition.DispositionType);
        ExtractedBundle bundle = await SaveAsync(answer, "page.zip");
        Assert.True(bundle.Manifest.FromRunningService);
        Assert.Equal(ReportJson.ToUtf8(_state.Report!), ReportJson.ToUtf8(bundle.Report!));
        using StoredHistory log = StoredHistory.OpenReadOnly(bundle.Directory, TimeProvider.System, isLive: true);
        Assert.Single(log.ReadFindings());
        Assert.Single(log.ReadRows(StoreSeries.Minutes, SampleLog.Rows[0].Start, SampleLog.Noon));

        // The log goes on as if nothing had been.
        _writer.Enqueue(new([], [(StoreSeries.Minutes, SampleLog.Rows[1])], []));
        using HttpResponseMessage again = await AskAsync(Own, ("inputs", "leave"));
        Assert.True((await SaveAsync(again, "again.zip")).Manifest.WithoutInputs);
        Assert.Equal(0, _writer.Lost);
    }

    /// <summary>While rows and findings come in: each copy is whole, and none tells of a cut or of damage.</summary>
    [Fact]
    public async Task ABundleOfALogThatIsBeingWrittenIsAlwaysWhole()
    {
        await _writer.StartAsync(Cancellation);
        await _writer.SnapshotAsync(Cancellation);
        using CancellationTokenSource enough = new();
        Task writing = Task.Run(
            () =>
            {
                for (int count = 1; !enough.IsCancellationRequested; count++)
                {
                    _writer.Enqueue(new([SampleLog.Earlier with { Count = count }], [.. SampleLog.Rows.Take(20).Select(row => (StoreSeries.Seconds, row))], []));
                    enough.Token.WaitHandle.WaitOne(2);
                }
            },
            Cancellation);
        int before = 0;
        for (int round = 0; round < 5; round++)
        {
            using HttpResponseMessage answer = await AskAsync(Own);
            ExtractedBundle bundle = await SaveAsync(answer, $"{round}.zip");
            using StoredHistory log = StoredHistory.OpenReadOnly(bundle.Directory, TimeProvider.System, isLive: true);
            Assert.Empty(log.Remarks);
            int count = log.ReadFindings().Count;
            Assert.True(count > before);
            before = count;
        }

        await enough.CancelAsync();
        await writing;
    }

    [Theory]
    [InlineData(null)]
    [InlineData("null")]
    [InlineData("http://library.example")]
    public async Task ABundleForAnotherSitesPageIsRefused(string? origin)
    {
        await _writer.StartAsync(Cancellation);
        using HttpResponseMessage answer = await AskAsync(origin);
        Assert.Equal(HttpStatusCode.Forbidden, answer.StatusCode);
        using HttpResponseMessage read = await _client.GetAsync(new Uri("/bundle", UriKind.Relative), Cancellation);
        Assert.Equal(HttpStatusCode.NotFound, read.StatusCode);
    }

    [Fact]
    public async Task OneIsMadeAtATimeAndTheNextOneAfterIt()
    {
        await _writer.StartAsync(Cancellation);
        using (LiveBundle? held = await _bundles.TryBeginAsync(withoutInputs: false, Cancellation))
        {
            Assert.NotNull(held);
            using HttpResponseMessage busy = await AskAsync(Own);
            Assert.Equal(HttpStatusCode.ServiceUnavailable, busy.StatusCode);
            Assert.Contains("Another bundle", await busy.Content.ReadAsStringAsync(Cancellation), StringComparison.Ordinal);
        }

        using HttpResponseMessage answer = await AskAsync(Own);
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
    }

    [Fact]
    public async Task ALogThatIsNotOpenIsToldAndHoldsNobodyUp()
    {
        _open = () => throw new HistoryException(Say($"The card is gone."));
        await _writer.StartAsync(Cancellation);
        for (int round = 0; round < 2; round++)
        {
            using HttpResponseMessage answer = await AskAsync(Own);
            Assert.Equal(HttpStatusCode.ServiceUnavailable, answer.StatusCode);
            Assert.Contains("not open", await answer.Content.ReadAsStringAsync(Cancellation), StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task TheCommandAsksTheServiceAndSaysWhatItWrote()
    {
        await _writer.StartAsync(Cancellation);
        _writer.Enqueue(new([SampleLog.Earlier], [], []));
        string stick = _directory.CreateSubdirectory("stick").FullName;
        foreach (string[] log in new string[][] { [], ["--log", _log] })
        {
            RecordedWorld world = new();
            Assert.Equal(0, await world.RunAsync(["bundle", "--to", stick, "--port", Port, .. log]));
            Assert.Contains("From the service that runs here.", world.OutputText, StringComparison.Ordinal);
            Assert.Contains("Wrenfield community library", world.OutputText, StringComparison.Ordinal);
            Assert.Contains("It shows when people were present", world.OutputText, StringComparison.Ordinal);
        }

        string[] files = Directory.GetFiles(stick);
        Assert.Equal(2, files.Length);
        Assert.All(files, file => Assert.True(BundleReader.Check(file).FromRunningService));
    }

    /// <summary>The service that answers may be another one's, as a demo beside the real one.</summary>
    [Fact]
    public async Task ALogThatTheServiceDoesNotKeepIsReadFromItsFiles()
    {
        await _writer.StartAsync(Cancellation);
        string other = _directory.CreateSubdirectory("other").FullName;
        SampleLog.Write(other);
        string stick = _directory.CreateSubdirectory("stick").FullName;
        RecordedWorld world = new();
        Assert.Equal(0, await world.RunAsync("bundle", "--to", Path.Combine(stick, "x.zip"), "--port", Port, "--log", other, "--without-inputs"));
        Assert.Contains($"From the files in '{other}' (port {Port} gave none: The service here keeps its log in another directory).", world.OutputText, StringComparison.Ordinal);
        Assert.Contains("findings about inputs, marks, and the load", world.OutputText, StringComparison.Ordinal);
        Assert.False(BundleReader.Check(Path.Combine(stick, "x.zip")).FromRunningService);
    }

    private string Port => _client.BaseAddress!.Port.ToString(System.Globalization.CultureInfo.InvariantCulture);
}
