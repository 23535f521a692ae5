using System.Net;
using Diagnostics.Agent;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.Buses;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Simulation;
using Diagnostics.Tests.Boards.Emulated;
using Diagnostics.Tests.Commands;

namespace Diagnostics.Tests.Boards.Signals;

/// <summary>The service as 'listen' puts it together, with the demo's site for a bus, an emulated button, and a directory for a stick: from the press to the page, the log and the bundle.</summary>
public sealed class ButtonOfTheServiceTests : IDisposable
{
    private const int Button = 22;

    /// <summary>A mark in the page's list of marks.</summary>
    private const string Marked = "<bdi>button on the board</bdi> – ";

    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("button");
    private readonly HttpClient _client = new();
    private readonly EmulatedGpio _lines = new();
    private readonly LeapingClock _clock = new();
    private readonly MemoryStream _error = new();

    public void Dispose()
    {
        _client.Dispose();
        _root.Delete(recursive: true);
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    /// <summary>Runs a command with a page, looks at that, and ends it.</summary>
    private async Task RunAsync(string[] arguments, Func<Uri, Task> look)
    {
        using CancellationTokenSource end = CancellationTokenSource.CreateLinkedTokenSource(Cancellation);
        using Announcement output = new();
        CommandContext context = new()
        {
            Input = Stream.Null,
            Output = output,
            Error = _error,
            Environment = new Dictionary<string, string> { [AgentSettingsReader.PathVariable] = Path.Combine(_root.FullName, "agent.json") },
            Sources = RealSources.Create() with { Live = (_, _) => new SimulatedSource(DemoSite.Create(), 300, TimeSpan.FromHours(62), TimeProvider.System) },
            Ports = new((_, _) => throw new NotSupportedException(), _ => _lines, _clock),
            Root = _root.FullName,
            Clock = _clock,
        };
        Task<int> run = CommandLine.RunAsync(arguments, context, end.Token);
        await Task.WhenAny(run, output.Address);
        Assert.True(output.Address.IsCompleted, System.Text.Encoding.UTF8.GetString(_error.ToArray()));
        await look(new(await output.Address));
        await end.CancelAsync();
        Assert.Equal(CommandLine.Done, await run);
    }

    private void Press(TimeSpan length)
    {
        _lines.Set(Button, isHigh: false);
        _clock.Leap(length);
    }

    private void LetGo()
    {
        _lines.Set(Button, isHigh: true);
        _clock.Leap(PressReader.Bounce);
    }

    private async Task<string> PageAsync(Uri address)
    {
        using HttpResponseMessage answer = await _client.GetAsync(address, Cancellation);
        return answer.StatusCode == HttpStatusCode.OK ? WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(Cancellation)) : string.Empty;
    }

    [Fact]
    public async Task AShortPressIsAMarkAndALongOneABundleThatOpens()
    {
        string log = Path.Combine(_root.FullName, "log");
        string stick = _root.CreateSubdirectory("stick").FullName;
        await File.WriteAllTextAsync(
            Path.Combine(_root.FullName, "agent.json"),
            $$"""{ "port": 0, "log": "{{log}}", "board": { "temperature": false, "light": { "greenPin": 17 }, "button": { "pin": {{Button}}, "stick": "{{stick}}" } } }""",
            Cancellation);
        EmulatedStick.Mount(_root.FullName, stick);
        string bundle = string.Empty;
        await RunAsync(["listen"], async address =>
        {
            await Patience.UntilAsync(async () => _lines.HasHandler(Button) && (await PageAsync(address)).Contains("id=\"nodes\"", StringComparison.Ordinal));
            Press(TimeSpan.FromMilliseconds(200));
            LetGo();
            await Patience.UntilAsync(async () => (await PageAsync(address)).Contains(Marked, StringComparison.Ordinal));

            // While the finger is there.
            Press(PressReader.Long);
            await Patience.UntilAsync(() => Directory.GetFiles(stick, "*.zip").Length > 0);
            LetGo();
            bundle = Assert.Single(Directory.GetFiles(stick, "*.zip"));
            await Patience.UntilAsync(async () => (await PageAsync(address)).Contains($"and checked: {bundle}. It shows when people were present.", StringComparison.Ordinal));

            EmulatedStick.Unmount(_root.FullName);
            Press(PressReader.Long);
            await Patience.UntilAsync(async () => (await PageAsync(address)).Contains($"no stick is mounted at {stick}, or it can only be read.", StringComparison.Ordinal));
        });
        using (StoredHistory kept = StoredHistory.OpenReadOnly(log, TimeProvider.System, isLive: false))
        {
            Assert.Single(kept.ReadCaptures(), capture => capture.IsMark && capture.Why == "button on the board");
            Assert.Equal([true, false], kept.ReadBoardEvents().Where(happened => happened.Kind == Agent.Boards.BoardEventKind.BundleOnStick).Select(happened => happened.IsOver));
        }

        Assert.True(BundleReader.Check(bundle).FromRunningService);
        await RunAsync(["open", bundle], async address =>
        {
            string page = await PageAsync(address);
            Assert.Contains("Read from a bundle made on ", page, StringComparison.Ordinal);
            Assert.Contains(Marked, page, StringComparison.Ordinal);
        });
    }

    /// <summary>The machine's clock, and what a test lets it leap: so a press has its length without waiting for it.</summary>
    private sealed class LeapingClock : TimeProvider
    {
        private long _leapt;

        public override TimeZoneInfo LocalTimeZone => TimeZoneInfo.Utc;

        public override long GetTimestamp() => System.GetTimestamp() + (Interlocked.Read(ref _leapt) * TimestampFrequency / TimeSpan.TicksPerSecond);

        public void Leap(TimeSpan by) => Interlocked.Add(ref _leapt, by.Ticks);
    }
}
