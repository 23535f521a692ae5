using System.Threading.Channels;
using Diagnostics.Agent.History.Store;
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
    private static readonly TimeSpan IdleInterval = TimeSpan.FromSeconds(1);

    /// <summary>The chart's look back when the service starts.</summary>
    private static readonly TimeSpan LookBack = TimeSpan.FromDays(1);

    private readonly Channel<HistoryBatch> _queue = Channel.CreateBounded<HistoryBatch>(
        new BoundedChannelOptions(Limits.HistoryQueue) { SingleReader = true, SingleWriter = true, FullMode = BoundedChannelFullMode.Wait });

    private readonly Func<IHistory> _open;
    private readonly AgentState _state;
    private readonly TimeProvider _clock;
    private readonly ILogger<HistoryWriter> _logger;
    private long _lost;
    private long _frameBytes;
    private bool _isOpenedBefore;

    /// <param name="open">Opens the log; may throw <see cref="HistoryException"/>.</param>
    /// <param name="state">Where troubles are shown and earlier rows are put.</param>
    /// <param name="clock">For labels and for trying again.</param>
    /// <param name="logger">The journal.</param>
    public HistoryWriter(Func<IHistory> open, AgentState state, TimeProvider clock, ILogger<HistoryWriter> logger)
    {
        _open = open;
        _state = state;
        _clock = clock;
        _logger = logger;
    }

    /// <summary>Batches that found the queue full.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Bytes of frames that may still wait.</summary>
    public int RoomForFrames => (int)Math.Max(0, Limits.WaitingFrameBytes - Interlocked.Read(ref _frameBytes));

    private Instant Now => Instant.FromDateTime(_clock.GetUtcNow());

    /// <summary>Never waits.</summary>
    public void Enqueue(HistoryBatch batch)
    {
        // Before it can be taken out.
        Interlocked.Add(ref _frameBytes, batch.FrameBytes);
        if (!_queue.Writer.TryWrite(batch))
        {
            Interlocked.Add(ref _frameBytes, -batch.FrameBytes);
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
        bool isInTrouble = false;
        long lostTold = 0;
        try
        {
            bool more = true;
            while (more)
            {
                if (history is null && (failedAt is not { } at || _clock.GetElapsedTime(at) >= Limits.RetryPart))
                {
                    failedAt = _clock.GetTimestamp();
                    history = TryOpen();
                    isInTrouble = history is null;
                }

                (more, HistoryBatch? batch) = await NextAsync(stopping).ConfigureAwait(false);
                Interlocked.Add(ref _frameBytes, -(batch?.FrameBytes ?? 0));
                if (history is null)
                {
                    if (batch is not null)
                    {
                        Interlocked.Increment(ref _lost);
                    }

                    continue;
                }

                try
                {
                    if (batch is null)
                    {
                        history.OnIdle();
                    }
                    else
                    {
                        history.Write(batch);
                        if (batch.WallMinusLine is not null)
                        {
                            _state.SetEarlierRows(history.ReadRows(StoreSeries.Minutes, Now - LookBack, Now));
                        }

                        if (batch.Captures.Count > 0 || batch.WallMinusLine is not null)
                        {
                            _state.SetCaptures(history.ReadCaptures());
                        }
                    }

                    if (isInTrouble && batch is not null)
                    {
                        isInTrouble = false;
                        _state.SetTrouble(Trouble.OfLog, Now, null);
                        Works();
                    }
                }
                catch (HistoryException problem)
                {
                    if (!isInTrouble)
                    {
                        Failed(SettingException.OneLine(problem.Message));
                    }

                    isInTrouble = true;
                    _state.SetTrouble(Trouble.OfLog, Now, problem.Message + " What is shown here is not affected.");
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

    /// <summary>The next batch, or null after a second without one; false once there will be no more.</summary>
    private async Task<(bool More, HistoryBatch? Batch)> NextAsync(CancellationToken stopping)
    {
        if (_queue.Reader.TryRead(out HistoryBatch? batch))
        {
            return (true, batch);
        }

        using CancellationTokenSource waiting = CancellationTokenSource.CreateLinkedTokenSource(stopping);
        Task<bool> arrival = _queue.Reader.WaitToReadAsync(waiting.Token).AsTask();
        if (await Task.WhenAny(arrival, Task.Delay(IdleInterval, _clock, waiting.Token)).ConfigureAwait(false) == arrival)
        {
            bool more = await arrival.ConfigureAwait(false);
            await waiting.CancelAsync().ConfigureAwait(false);
            return (more, more && _queue.Reader.TryRead(out batch) ? batch : null);
        }

        await waiting.CancelAsync().ConfigureAwait(false);
        stopping.ThrowIfCancellationRequested();
        return (true, null);
    }

    private IHistory? TryOpen()
    {
        IHistory? history = null;
        try
        {
            history = _open();
            foreach (string remark in history.Remarks)
            {
                Found(remark);
            }

            _state.Earlier ??= new(
                Now,
                [.. history.ReadFindings().Where(finding => finding.Severity != "note").OrderByDescending(finding => finding.Start).Take(Limits.EarlierFindings)],
                history.Remarks);
            _state.SetEarlierRows(history.ReadRows(StoreSeries.Minutes, Now - LookBack, Now));
            _state.SetCaptures(history.ReadCaptures());
            if (!_isOpenedBefore)
            {
                _state.SetEarlierSoaks(history.ReadSoaks());
                _isOpenedBefore = true;
            }

            _state.SetTrouble(Trouble.OfLog, Now, null);
            return history;
        }
        catch (HistoryException problem)
        {
            history?.Dispose();
            _state.SetTrouble(Trouble.OfLog, Now, problem.Message + " Nothing is being kept for later; what is shown here is not affected.");
            Failed(SettingException.OneLine(problem.Message));
            return null;
        }
    }

    [LoggerMessage(20, LogLevel.Error, "log: {Message} The analysis goes on without it.")]
    private partial void Failed(string message);

    [LoggerMessage(21, LogLevel.Information, "log: works again")]
    private partial void Works();

    [LoggerMessage(22, LogLevel.Warning, "log: {Remark}")]
    private partial void Found(string remark);

    [LoggerMessage(23, LogLevel.Warning, "log: {Count} entries were not kept since the start, because the log was failing or too slow")]
    private partial void Skipped(long count);
}
