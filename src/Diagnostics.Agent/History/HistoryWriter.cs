using System.Threading.Channels;
using Diagnostics.Can;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Agent.History;

/// <summary>
/// Writes the log on a thread of its own behind a bounded queue, so that the bus never waits for a card. What doesn't fit is counted and told.
/// A log that fails is told in the journal and on the page, and tried again after a while.
/// </summary>
internal sealed partial class HistoryWriter : BackgroundService
{
    private const string Part = "log";

    /// <summary>The chart's look back when the service starts.</summary>
    private static readonly TimeSpan LookBack = TimeSpan.FromDays(1);

    private readonly Channel<HistoryBatch> _queue = Channel.CreateBounded<HistoryBatch>(
        new BoundedChannelOptions(Limits.HistoryQueue) { SingleReader = true, SingleWriter = true, FullMode = BoundedChannelFullMode.Wait });

    private readonly Func<bool, IHistory> _open;
    private readonly AgentState _state;
    private readonly TimeProvider _clock;
    private readonly ILogger<HistoryWriter> _logger;
    private long _lost;

    /// <param name="open">Opens the log, where true setting a damaged one aside first; may throw <see cref="HistoryException"/>.</param>
    /// <param name="state">Where troubles are shown and earlier rows are put.</param>
    /// <param name="clock">For labels and for trying again.</param>
    /// <param name="logger">The journal.</param>
    public HistoryWriter(Func<bool, IHistory> open, AgentState state, TimeProvider clock, ILogger<HistoryWriter> logger)
    {
        _open = open;
        _state = state;
        _clock = clock;
        _logger = logger;
    }

    /// <summary>Batches that found the queue full.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    private Instant Now => Instant.FromDateTime(_clock.GetUtcNow());

    /// <summary>Never waits.</summary>
    public void Enqueue(HistoryBatch batch)
    {
        if (!_queue.Writer.TryWrite(batch))
        {
            Interlocked.Increment(ref _lost);
        }
    }

    /// <summary>The analysis has stopped before this (services stop in reverse order of their start), so what is queued now is all there is.</summary>
    public override async Task StopAsync(CancellationToken cancellationToken)
    {
        _queue.Writer.TryComplete();
        if (ExecuteTask is { } writing)
        {
            await Task.WhenAny(writing, Task.Delay(Limits.LogFarewell, _clock, cancellationToken)).ConfigureAwait(false);
        }

        await base.StopAsync(cancellationToken).ConfigureAwait(false);
    }

    protected override Task ExecuteAsync(CancellationToken stoppingToken) =>
        Task.Factory.StartNew(() => RunAsync(stoppingToken), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default).Unwrap();

    private async Task RunAsync(CancellationToken stopping)
    {
        IHistory? history = null;
        long? failedAt = null;
        long lostTold = 0;
        bool isFirst = true;
        try
        {
            if (TryOpen(isDamaged: false, out history))
            {
                ShowEarlier(history!);
                isFirst = false;
            }
            else
            {
                failedAt = _clock.GetTimestamp();
            }

            await foreach (HistoryBatch batch in _queue.Reader.ReadAllAsync(stopping).ConfigureAwait(false))
            {
                if (history is null && (failedAt is not { } at || _clock.GetElapsedTime(at) >= Limits.RetryPart))
                {
                    failedAt = _clock.GetTimestamp();
                    if (TryOpen(isDamaged: false, out history))
                    {
                        if (isFirst)
                        {
                            ShowEarlier(history!);
                            isFirst = false;
                        }

                        _state.SetTrouble(Part, Now, null);
                        Works();
                    }
                }

                if (history is null)
                {
                    Interlocked.Increment(ref _lost);
                    continue;
                }

                try
                {
                    history.Write(batch);
                }
                catch (HistoryException problem)
                {
                    Interlocked.Increment(ref _lost);
                    Fail(problem.Message);
                    history.Dispose();
                    history = null;
                    failedAt = _clock.GetTimestamp();
                    if (problem.IsDamage && TryOpen(isDamaged: true, out history))
                    {
                        _state.SetTrouble(Part, Now, null);
                    }

                    continue;
                }

                if (Lost > lostTold)
                {
                    lostTold = Lost;
                    Skipped(lostTold);
                }
            }
        }
        catch (OperationCanceledException) when (stopping.IsCancellationRequested)
        {
        }
        finally
        {
            history?.Dispose();
        }
    }

    private bool TryOpen(bool isDamaged, out IHistory? history)
    {
        try
        {
            history = _open(isDamaged);
            if (history is HistoryLog { SetAside: { } aside } log)
            {
                string text = $"The log could not be read and was set aside as '{aside}'; a new one was begun, so what was known before is not shown here.";
                DamagedLog(aside);
                if (log.Dropped > 0)
                {
                    OldDamagedLogs(log.Dropped);
                }

                _state.SetTrouble("earlier log", Now, text);
            }

            return true;
        }
        catch (HistoryException problem)
        {
            history = null;
            Fail(problem.Message);
            return false;
        }
    }

    private void ShowEarlier(IHistory history)
    {
        try
        {
            _state.AddEarlierRows(history.ReadMinutes(Now - LookBack, Now));
        }
        catch (HistoryException problem)
        {
            Fail(problem.Message);
        }
    }

    private void Fail(string message)
    {
        _state.SetTrouble(Part, Now, message + " Nothing is being kept for later; what is shown here is not affected.");
        Failed(SettingException.OneLine(message));
    }

    [LoggerMessage(20, LogLevel.Error, "log: {Message} The analysis goes on without it.")]
    private partial void Failed(string message);

    [LoggerMessage(21, LogLevel.Information, "log: works again")]
    private partial void Works();

    [LoggerMessage(22, LogLevel.Error, "log: the file could not be read and was set aside as {Path}; a new one was begun")]
    private partial void DamagedLog(string path);

    [LoggerMessage(24, LogLevel.Warning, "log: {Count} older damaged files were removed, so that they don't fill the card")]
    private partial void OldDamagedLogs(int count);

    [LoggerMessage(23, LogLevel.Warning, "log: {Count} entries were not kept since the start, because the log was failing or too slow")]
    private partial void Skipped(long count);
}
