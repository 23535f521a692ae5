using Diagnostics.Can;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Boards;

/// <summary>Looks at the board every two seconds, on a thread of its own: a file that never answers (a sick driver) holds up nothing else.</summary>
internal sealed partial class BoardService(BoardFiles files, AgentState state, TimeProvider clock, ILogger<BoardService> logger) : BackgroundService
{
    /// <summary>The driver of the boards that most people have asks their firmware as often, and its alarm holds until it asks again (drivers/hwmon/raspberrypi-hwmon.c, from memory).</summary>
    private static readonly TimeSpan Interval = TimeSpan.FromSeconds(2);

    private readonly BoardWatch _watch = new();

    protected override Task ExecuteAsync(CancellationToken stoppingToken) =>
        Task.Factory.StartNew(() => RunAsync(stoppingToken), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default).Unwrap();

    private async Task RunAsync(CancellationToken stopping)
    {
        while (!stopping.IsCancellationRequested)
        {
            BoardReading reading = files.Read();
            state.Board = reading;
            Instant now = Instant.FromDateTime(clock.GetUtcNow());
            foreach ((BoardEventKind kind, bool isOver, Sentence text) in _watch.OnReading(reading))
            {
                Noticed(SettingException.OneLine(text.English));
                state.SetTrouble(kind.ToString(), now, isOver ? null : text);
                state.TellBoard(kind, isOver, text);
            }

            await Task.Delay(Interval, clock, stopping).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    [LoggerMessage(40, LogLevel.Warning, "board: {Text}")]
    private partial void Noticed(string text);
}
