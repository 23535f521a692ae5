using Diagnostics.Agent.Languages;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Boards.Signals;

/// <summary>
/// Light, display and button, for who has no screen. Each part that the settings name has a thread of its own, is told when it can't be used, and is tried again; without any this does nothing.
/// </summary>
internal sealed partial class SignalService(
    BoardSettings settings, BoardPorts ports, AgentState state, ClipWatch watch, StickBundle stick, Language language, TimeProvider clock, ILogger<SignalService> logger) : BackgroundService
{
    /// <summary>Half of the shortest flash.</summary>
    private static readonly TimeSpan LightStep = TimeSpan.FromMilliseconds(40);

    private static readonly TimeSpan ButtonStep = TimeSpan.FromMilliseconds(50);

    /// <summary>Long enough to read four short lines.</summary>
    private static readonly TimeSpan ScreenLasts = TimeSpan.FromSeconds(4);

    /// <summary>How often it is judged anew how things stand; the report changes once a second.</summary>
    private static readonly TimeSpan Judging = TimeSpan.FromSeconds(1);

    private static readonly TimeSpan MarkedLasts = TimeSpan.FromSeconds(3);
    private static readonly TimeSpan WrittenLasts = TimeSpan.FromSeconds(10);
    private static readonly TimeSpan FailedLasts = TimeSpan.FromSeconds(10);

    private readonly LightShow _show = new(clock);
    private readonly long _began = clock.GetTimestamp();
    private volatile bool _isWriting;

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        Ending end = new(stoppingToken);
        if (settings.Light is { } light)
        {
            Start(BoardEventKind.StatusLight, Say($"Status light"), () => new StatusLight(ports.Gpio(settings.GpioChip), light), part => Shine(part, end), end);
        }

        if (settings.Button is { } button)
        {
            Start(BoardEventKind.MarkerButton, Say($"Button"), () => new MarkerButton(ports.Gpio(settings.GpioChip), button.Pin, () => clock.GetElapsedTime(_began)), part => Heed(part, end, stoppingToken), end);
        }

        if (settings.DisplayAddress is { } address)
        {
            Start(BoardEventKind.SmallDisplay, Say($"Small display"), () => new SmallDisplay(ports.I2c(settings.I2cBus, address)), part => Write(part, end), end);
        }

        while (settings.Light is not null && !stoppingToken.IsCancellationRequested)
        {
            _show.Show(watch.Now().Light);
            await Task.Delay(Judging, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private void Start<T>(BoardEventKind kind, Sentence name, Func<T> open, Action<T> use, Ending end)
        where T : IDisposable => new Thread(() => Run(kind, name, open, use, end)) { IsBackground = true, Name = $"signal {kind}" }.Start();

    private void Run<T>(BoardEventKind kind, Sentence name, Func<T> open, Action<T> use, Ending end)
        where T : IDisposable
    {
        bool isTold = false;
        while (!end.HasCome)
        {
            try
            {
                using T part = open();
                if (isTold)
                {
                    isTold = false;
                    Tell(kind, isOver: true, Say($"{name}: it works again."));
                }

                use(part);
            }
            catch (Exception problem)
            {
                // Drivers and bindings throw whatever they like, and an exception that left this thread would end the program.
                if (!isTold)
                {
                    isTold = true;
                    Tell(kind, isOver: false, Say($"{name}: it is in the settings and can’t be used ({Named(SettingException.OneLine(problem.Message.TrimEnd('.')))}). It is tried again and again; the bus is listened to as before."));
                }

                end.Wait(Limits.RetrySensor);
            }
        }
    }

    private void Shine(StatusLight light, Ending end)
    {
        while (!end.HasCome)
        {
            (LightPattern pattern, bool isLit) = _show.Now();
            light.Show(pattern, isLit);
            end.Wait(LightStep);
        }

        light.Show(LightPattern.AllWell, isLit: false);
    }

    private void Heed(MarkerButton button, Ending end, CancellationToken stopping)
    {
        while (!end.HasCome)
        {
            switch (button.Look())
            {
                case Press.Short:
                    Mark();
                    break;
                case Press.Long when !_isWriting:
                    _isWriting = true;
                    _ = BundleAsync(stopping);
                    break;
            }

            end.Wait(ButtonStep);
        }
    }

    /// <summary>With it a bundle that could not be written is no longer told as trouble: nobody may have a stick at hand, and the light would never say again that all is well.</summary>
    private void Mark()
    {
        if (state.TryMark(language.Say(Say($"button on the board")), out Sentence? why))
        {
            Answer(LightPattern.Done, MarkedLasts);
            state.SetTrouble(nameof(BoardEventKind.BundleOnStick), Instant.FromDateTime(clock.GetUtcNow()), null);
        }
        else
        {
            Noticed(SettingException.OneLine(why.English));
            Answer(LightPattern.Failed, FailedLasts);
        }

        // Lit for some seconds would mean that the stick may be pulled out.
        void Answer(LightPattern pattern, TimeSpan lasts)
        {
            if (!_isWriting)
            {
                _show.Answer(pattern, lasts);
            }
        }
    }

    private async Task BundleAsync(CancellationToken stopping)
    {
        _show.Answer(LightPattern.Writing, null);
        (bool isDone, Sentence text) = (false, Sentence.Empty);
        try
        {
            (isDone, text) = await Task.Run(() => stick.WriteAsync(stopping), stopping).ConfigureAwait(false);
        }
        catch (OperationCanceledException) when (stopping.IsCancellationRequested)
        {
            return;
        }
        finally
        {
            _show.Answer(isDone ? LightPattern.Done : LightPattern.Failed, isDone ? WrittenLasts : FailedLasts);
            _isWriting = false;
        }

        Tell(BoardEventKind.BundleOnStick, isDone, text);
    }

    private void Write(SmallDisplay display, Ending end)
    {
        for (int screen = 0; !end.HasCome; screen++)
        {
            IReadOnlyList<IReadOnlyList<string>> screens = DisplayText.Screens(watch.Now(), state.Report?.Measurements ?? [], language);
            display.Show(screens[screen % screens.Count]);
            end.Wait(ScreenLasts);
        }

        display.Show([]);
    }

    private void Tell(BoardEventKind kind, bool isOver, Sentence text)
    {
        string line = SettingException.OneLine(text.English);
        if (isOver)
        {
            Good(line);
        }
        else
        {
            Noticed(line);
        }

        state.SetTrouble(kind.ToString(), Instant.FromDateTime(clock.GetUtcNow()), isOver ? null : text);
        state.TellBoard(kind, isOver, text);
    }

    [LoggerMessage(43, LogLevel.Warning, "board: {Text}")]
    private partial void Noticed(string text);

    [LoggerMessage(44, LogLevel.Information, "board: {Text}")]
    private partial void Good(string text);
}
