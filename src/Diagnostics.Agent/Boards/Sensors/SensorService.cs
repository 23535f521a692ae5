using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>Runs the sensors that the settings name, each on its thread, and tells of the log and the page what becomes of them. Without any it does nothing.</summary>
internal sealed partial class SensorService(IReadOnlyList<SensorPlan> plans, Func<Instant?> line, AgentState state, TimeProvider clock, ILogger<SensorService> logger) : BackgroundService
{
    private static readonly TimeSpan Interval = TimeSpan.FromSeconds(1);

    private long _dropped;

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        SensorRunner[] runners = [.. plans.Select(plan => new SensorRunner(plan, line, state.Measurements, (isOver, text) => Tell(plan.Kind, isOver, text), state.SetSensor, clock))];
        foreach (SensorRunner runner in runners)
        {
            runner.Start(stoppingToken);
        }

        while (runners.Length > 0 && !stoppingToken.IsCancellationRequested)
        {
            foreach (SensorRunner runner in runners)
            {
                runner.Look();
            }

            TellDropped();
            await Task.Delay(Interval, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private void TellDropped()
    {
        long dropped = state.Measurements.Dropped;
        if (dropped != _dropped)
        {
            Sentence text = Wordings.Say(dropped - _dropped, $"One value of a sensor was dropped: the analysis could not keep up.", $"{dropped - _dropped:N0} values of sensors were dropped: the analysis could not keep up.");
            _dropped = dropped;
            Noticed(text.English);
            state.TellBoard(BoardEventKind.MeasurementsLost, isOver: true, text);
        }
    }

    private void Tell(BoardEventKind kind, bool isOver, Sentence text)
    {
        string words = SettingException.OneLine(text.English);
        if (isOver)
        {
            Good(words);
        }
        else
        {
            Noticed(words);
        }

        state.SetTrouble(kind.ToString(), Instant.FromDateTime(clock.GetUtcNow()), isOver ? null : text);
        state.TellBoard(kind, isOver, text);
    }

    [LoggerMessage(41, LogLevel.Warning, "board: {Text}")]
    private partial void Noticed(string text);

    [LoggerMessage(42, LogLevel.Information, "board: {Text}")]
    private partial void Good(string text);
}
