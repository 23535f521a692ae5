using System.Collections.Concurrent;
using System.Diagnostics;
using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Languages;
using Diagnostics.Tests.Boards.Emulated;
using Diagnostics.Tests.Bundles;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Tests.Boards.Signals;

/// <summary>
/// From the button to the light, over a log that opens when a test lets it: until then a bundle is being written. Patterns are read from the lines of the two diodes, at moments of their rhythm that no other
/// pattern of the same colour shares. The report of the test holds a fault, so the red one flickers (120 ms) whenever nothing else is shown.
/// </summary>
public sealed class SignalServiceTests : IDisposable
{
    private const int Green = 17;
    private const int Red = 27;
    private const int Button = 22;

    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("signals");
    private readonly EmulatedGpio _lines = new();
    private readonly LightClock _clock = new();
    private readonly AgentState _state = new() { KeepsLog = true, Report = SampleReports.Rich() };
    private readonly ManualResetEventSlim _logOpens = new();
    private readonly string _stick;
    private readonly HistoryWriter _writer;
    private readonly SignalService _service;

    public SignalServiceTests()
    {
        _stick = _root.CreateSubdirectory("stick").FullName;
        string log = Path.Combine(_root.FullName, "log");
        BoardSettings settings = new() { Light = new(Green, Red), Button = new(Button, null) };
        _writer = new(
            () =>
            {
                _logOpens.Wait(Cancellation);
                return StoredHistory.Open(log, SampleLog.Cap, SampleReports.Start, TimeProvider.System);
            },
            _state,
            TimeProvider.System,
            NullLogger<HistoryWriter>.Instance,
            new Dictionary<string, byte[]?> { [KeptDocuments.Site] = SampleLog.Site });
        _service = new(
            settings,
            new((_, _) => throw new NotSupportedException(), _ => _lines, _clock),
            _state,
            new(_state, settings, _clock),
            new(_root.FullName, settings.Button.Stick, new(log, _writer, _state, new UtcClock())),
            Language.English,
            _clock,
            NullLogger<SignalService>.Instance);
    }

    private static CancellationToken Cancellation => TestContext.Current.CancellationToken;

    public void Dispose()
    {
        _logOpens.Set();
        _service.StopAsync(CancellationToken.None).Wait(CancellationToken.None);
        _writer.StopAsync(CancellationToken.None).Wait(CancellationToken.None);
        _service.Dispose();
        _writer.Dispose();
        _logOpens.Dispose();
        _root.Delete(recursive: true);
    }

    private async Task StartAsync()
    {
        await _writer.StartAsync(Cancellation);
        await _service.StartAsync(Cancellation);

        // The fault flickers: its first half is lit, and time stands still.
        Patience.Until(() => _lines.HasHandler(Button) && _lines.IsHigh(Red));
    }

    private void Press(TimeSpan length)
    {
        _lines.Set(Button, isHigh: false);
        _clock.Move(length);
    }

    private void LetGo()
    {
        _lines.Set(Button, isHigh: true);
        _clock.Move(PressReader.Bounce);
        _clock.UntilLooked(BoardEventKind.MarkerButton);
    }

    /// <summary>What the button did, once its answer is on its way to the light.</summary>
    private BoardEvent Told()
    {
        IReadOnlyList<BoardEvent> news = [];
        Patience.Until(() => (news = _state.TakeBoardNews(default)).Count > 0);
        return Assert.Single(news);
    }

    /// <summary>The diodes at moments since now, when what is shown began.</summary>
    private void Shows(params (int Milliseconds, bool Green, bool Red)[] moments)
    {
        int now = 0;
        foreach ((int milliseconds, bool green, bool red) in moments)
        {
            _clock.Move(TimeSpan.FromMilliseconds(milliseconds - now));
            now = milliseconds;
            _clock.UntilLooked(BoardEventKind.StatusLight);
            Assert.Equal((milliseconds, green, red), (now, _lines.IsHigh(Green), _lines.IsHigh(Red)));
        }
    }

    private void ShowsWriting() => Shows((0, true, false), (850, true, false), (950, false, false), (1050, true, false));

    private void ShowsFailed() => Shows((0, false, true), (700, false, true), (900, false, false), (1050, false, true), (1300, false, false), (9700, false, true));

    [Fact]
    public async Task ALongPressWritesABundleAndTheLightTellsProgressAndEnd()
    {
        EmulatedStick.Mount(_root.FullName, _stick);
        await StartAsync();
        Press(PressReader.Long);
        Patience.Until(() => _lines.IsHigh(Green));
        ShowsWriting();
        Assert.Empty(Directory.GetFiles(_stick, "*.zip"));

        _logOpens.Set();
        BoardEvent told = Told();
        Assert.True(told.IsOver);
        Assert.StartsWith("A bundle was written onto the stick by the button, and checked: ", told.Text, StringComparison.Ordinal);
        Shows((0, true, false), (950, true, false), (9900, true, false));
        Shows((200, false, true), (330, false, false));
        Assert.Empty(_state.Troubles);
        BundleManifest manifest = BundleReader.Check(Assert.Single(Directory.GetFiles(_stick)));
        Assert.True(manifest.FromRunningService);
    }

    /// <summary>Lit for some seconds would mean that the stick may be pulled out.</summary>
    [Fact]
    public async Task AMarkWhileABundleIsWrittenIsTakenAndTheLightGoesOnSayingNotToPull()
    {
        EmulatedStick.Mount(_root.FullName, _stick);
        await StartAsync();
        Press(PressReader.Long);
        Patience.Until(() => _lines.IsHigh(Green));
        LetGo();
        Press(TimeSpan.FromMilliseconds(200));
        LetGo();
        Patience.Until(() => _state.TryTakeMark(out _, out _));
        _clock.UntilLooked(BoardEventKind.StatusLight);
        _clock.Move(TimeSpan.FromMilliseconds(950) - (_clock.Passed - PressReader.Long));
        Shows((0, false, false), (100, true, false), (900, true, false), (1000, false, false));
    }

    [Fact]
    public async Task AShortPressIsAMarkAndTheLightIsLitForThreeSeconds()
    {
        await StartAsync();
        Press(TimeSpan.FromMilliseconds(200));
        LetGo();
        string? note = null;
        Patience.Until(() => _state.TryTakeMark(out note, out _));
        Assert.Equal("button on the board", note);
        Patience.Until(() => _lines.IsHigh(Green));
        Shows((0, true, false), (1500, true, false), (2900, true, false), (3010, false, true));
    }

    [Fact]
    public async Task WithoutAStickTheLightSaysSoAndThePageWhyUntilTheButtonWorks()
    {
        await StartAsync();
        _logOpens.Set();
        EmulatedStick.Unmount(_root.FullName);
        Press(PressReader.Long);
        BoardEvent told = Told();
        Assert.False(told.IsOver);
        Assert.Equal("No bundle could be written by the button: no stick is mounted, or it can only be read.", told.Text);
        ShowsFailed();
        Assert.Equal(told.Text, Assert.Single(_state.Troubles).Text.English);
        LetGo();
        Press(TimeSpan.FromMilliseconds(200));
        LetGo();
        Patience.Until(() => _state.Troubles.IsEmpty);
    }

    /// <summary>A disk of 64 KB with a file that fills it: the kernel refuses, and nothing is left that looks like a bundle.</summary>
    [Fact]
    public async Task OntoAFullStickNothingIsWrittenAndTheLightSaysSo()
    {
        Assert.SkipUnless(await RunsAsync("mount", "-t", "tmpfs", "-o", "size=64k", "none", _stick), "nothing can be mounted here (root alone may)");
        try
        {
            FillsUp(Path.Combine(_stick, "films"));
            EmulatedStick.Mount(_root.FullName, _stick);
            await StartAsync();
            _logOpens.Set();
            Press(PressReader.Long);
            BoardEvent told = Told();
            Assert.False(told.IsOver);
            Assert.Matches("^No bundle could be written by the button: .*No space left on device.*free space there", told.Text);
            ShowsFailed();
            Assert.Equal(["films"], Directory.GetFiles(_stick).Select(Path.GetFileName));
        }
        finally
        {
            await RunsAsync("umount", _stick);
        }
    }

    private static void FillsUp(string file)
    {
        using FileStream stream = File.Create(file, 1);
        try
        {
            while (true)
            {
                stream.Write(new byte[4096]);
            }
        }
        catch (IOException)
        {
        }
    }

    private static async Task<bool> RunsAsync(string command, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(command, arguments) { RedirectStandardError = true })!;
        await process.WaitForExitAsync(CancellationToken.None);
        return process.ExitCode == 0;
    }

    /// <summary>Moved by the test. It counts how often the threads of light and button ask for the time, so that a test knows when they have seen the new one.</summary>
    private sealed class LightClock : TimeProvider
    {
        private readonly ConcurrentDictionary<string, long> _asked = new(StringComparer.Ordinal);
        private long _passed;

        public TimeSpan Passed => new(Interlocked.Read(ref _passed));

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp()
        {
            if (Thread.CurrentThread.Name is { } name)
            {
                _asked.AddOrUpdate(name, 1, (_, before) => before + 1);
            }

            return Interlocked.Read(ref _passed);
        }

        public void Move(TimeSpan by) => Interlocked.Add(ref _passed, by.Ticks);

        /// <summary>A thread asks at most four times for one look, so behind eight more a whole look has begun and ended since.</summary>
        public void UntilLooked(BoardEventKind part)
        {
            string name = $"signal {part}";
            long before = _asked.GetValueOrDefault(name);
            Patience.Until(() => _asked.GetValueOrDefault(name) > before + 8);
        }
    }
}
