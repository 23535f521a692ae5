using System.Collections.Concurrent;
using System.Collections.Immutable;
using System.Threading.Channels;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.History;

/// <summary>
/// Writes the log on a thread of its own behind a bounded queue, so that the bus never waits for a card. What doesn't fit is counted and told.
/// A log that fails is told in the journal and on the page, and tried again after a while.
/// </summary>
internal sealed partial class HistoryWriter : BackgroundService, IChronicleReader
{
    /// <summary>Follows on the page what keeps the log from being opened.</summary>
    public static readonly Sentence NothingKept = Say($"Nothing is being kept for later; what is shown here is not affected.");

    private static readonly TimeSpan IdleInterval = TimeSpan.FromSeconds(1);

    /// <summary>The chart's look back when the service starts.</summary>
    private static readonly TimeSpan LookBack = TimeSpan.FromDays(1);

    /// <summary>The look back of a node's page.</summary>
    private static readonly TimeSpan NodesLookBack = TimeSpan.FromDays(30);

    private readonly Channel<HistoryBatch> _queue = Channel.CreateBounded<HistoryBatch>(
        new BoundedChannelOptions(Limits.HistoryQueue) { SingleReader = true, SingleWriter = true, FullMode = BoundedChannelFullMode.Wait });

    private readonly ConcurrentQueue<TaskCompletionSource<StoreSnapshot>> _snapshots = new();
    private readonly ConcurrentQueue<string> _changedDocuments = new();

    /// <summary>Each is called once, with null where no log is open.</summary>
    private readonly Channel<Action<Chronicle?>> _questions = Channel.CreateBounded<Action<Chronicle?>>(
        new BoundedChannelOptions(Limits.WaitingQuestions) { SingleReader = true, FullMode = BoundedChannelFullMode.Wait });

    private readonly KeptReport _report;
    private readonly Func<IHistory> _open;
    private readonly AgentState _state;
    private readonly TimeProvider _clock;
    private readonly ILogger<HistoryWriter> _logger;
    private ImmutableDictionary<string, byte[]?> _documents;
    private long _lost;
    private long _frameBytes;
    private bool _isOpenedBefore;
    private long _version;

    /// <param name="open">Opens the log; may throw <see cref="HistoryException"/>.</param>
    /// <param name="state">Where troubles are shown and earlier rows are put.</param>
    /// <param name="clock">For labels and for trying again.</param>
    /// <param name="logger">The journal.</param>
    /// <param name="documents">What is kept beside the log at its opening; null removes one of an earlier run.</param>
    public HistoryWriter(
        Func<IHistory> open, AgentState state, TimeProvider clock, ILogger<HistoryWriter> logger, IReadOnlyDictionary<string, byte[]?>? documents = null)
    {
        _documents = (documents ?? new Dictionary<string, byte[]?>()).ToImmutableDictionary(StringComparer.Ordinal);
        _report = new(clock);
        _open = open;
        _state = state;
        _clock = clock;
        _logger = logger;
    }

    /// <summary>What is kept beside the log besides the report, by name.</summary>
    public IReadOnlyDictionary<string, byte[]?> Documents => Volatile.Read(ref _documents);

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

    /// <summary>A document changed: it goes beside the log within a second or two, and into bundles at once.</summary>
    public void KeepDocument(string name, byte[]? content)
    {
        ImmutableInterlocked.AddOrUpdate(ref _documents, name, content, (_, _) => content);
        _changedDocuments.Enqueue(name);
    }

    /// <summary>What of the log is on the disk, for a copy: within a second or two, as only the log's own thread may ask it.</summary>
    /// <exception cref="HistoryException">The log isn't open, or its card stalls.</exception>
    public async Task<StoreSnapshot> SnapshotAsync(CancellationToken cancellation)
    {
        TaskCompletionSource<StoreSnapshot> wanted = new(TaskCreationOptions.RunContinuationsAsynchronously);
        _snapshots.Enqueue(wanted);
        try
        {
            return await wanted.Task.WaitAsync(Limits.LogAnswer, _clock, cancellation).ConfigureAwait(false);
        }
        catch (TimeoutException problem)
        {
            throw new HistoryException(Say($"The log did not answer within {Limits.LogAnswer.TotalSeconds:0} s: its card stalls, or it has ended."), problem);
        }
    }

    /// <summary>Rises with everything in the log that is more than traffic going on.</summary>
    public long Version => Interlocked.Read(ref _version);

    /// <summary>Asks the log's own thread, which answers between two batches: nobody else may read while it writes.</summary>
    /// <exception cref="HistoryException">The log isn't open, its card stalls, or too many ask.</exception>
    public async Task<Stretch> ReadAsync(Instant from, Instant to, int columns, CancellationToken cancellation)
    {
        TaskCompletionSource<Stretch> wanted = new(TaskCreationOptions.RunContinuationsAsynchronously);
        if (!_questions.Writer.TryWrite(chronicle => Tell(chronicle, wanted, from, to, columns)))
        {
            throw new HistoryException(Say($"Too many questions wait for the log."));
        }

        try
        {
            return await wanted.Task.WaitAsync(Limits.PageAnswer, _clock, cancellation).ConfigureAwait(false);
        }
        catch (TimeoutException problem)
        {
            throw new HistoryException(Say($"The log did not answer within {Limits.PageAnswer.TotalSeconds:0} s: its card stalls, or it has ended."), problem);
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
        Chronicle? chronicle = null;
        long? failedAt = null;
        long? framesFailedAt = null;
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
                    chronicle = history is null ? null : new(history);
                }

                (more, HistoryBatch? batch) = await NextAsync(stopping).ConfigureAwait(false);
                Interlocked.Add(ref _frameBytes, -(batch?.FrameBytes ?? 0));
                if (history is null)
                {
                    Answer(null);
                    AnswerQuestions(null);
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
                        chronicle!.Prepare();
                    }
                    else
                    {
                        // Also where the card fails: what it is about is held, and read.
                        chronicle!.OnWritten(batch);
                        Interlocked.Add(ref _version, batch.IsUrgent ? 1 : 0);
                        history.Write(batch);
                        if (batch.WallMinusLine is not null)
                        {
                            _state.SetEarlierRows(history.ReadRows(StoreSeries.Minutes, Now - LookBack, Now));
                            _state.SetBoardEvents(history.ReadBoardEvents());
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
                catch (HistoryException problem) when (problem.IsOfFrames)
                {
                    if (framesFailedAt is null)
                    {
                        Failed(SettingException.OneLine(problem.Message));
                    }

                    framesFailedAt = _clock.GetTimestamp();
                    _state.SetTrouble(Trouble.OfFrames, Now, Join(problem.Said, Say($"What is shown here is not affected.")));
                }
                catch (HistoryException problem)
                {
                    if (!isInTrouble)
                    {
                        Failed(SettingException.OneLine(problem.Message));
                    }

                    // What was read ahead may be from before.
                    chronicle = new(history);
                    isInTrouble = true;
                    _state.SetTrouble(Trouble.OfLog, Now, Join(problem.Said, Say($"What is shown here is not affected.")));
                }

                // Frames are kept now and then only: that nothing failed since doesn't say that they can be kept again.
                if (framesFailedAt is { } failed && _clock.GetElapsedTime(failed) >= Limits.FramesTroubleShown)
                {
                    framesFailedAt = null;
                    _state.SetTrouble(Trouble.OfFrames, Now, null);
                }

                KeepReport(history, isEnd: false);
                KeepChanged(history);
                Answer(history);
                AnswerQuestions(chronicle);
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
            if (history is not null)
            {
                KeepReport(history, isEnd: true);
                KeepChanged(history);
                history.Dispose();
            }

            Answer(null);
            _questions.Writer.TryComplete();
            AnswerQuestions(null);
        }
    }

    /// <summary>What goes wrong in an answer is told to who asked; the log goes on.</summary>
    private static void Tell(Chronicle? chronicle, TaskCompletionSource<Stretch> wanted, Instant from, Instant to, int columns)
    {
        try
        {
            wanted.TrySetResult((chronicle ?? throw new HistoryException(Say($"The log is not open now."))).Of(from, to, columns));
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
            wanted.TrySetException(problem as HistoryException ?? new HistoryException(Say($"The log can't be read for the time axis."), problem));
        }
    }

    private void AnswerQuestions(Chronicle? chronicle)
    {
        while (_questions.Reader.TryRead(out Action<Chronicle?>? question))
        {
            question(chronicle);
        }
    }

    private void Answer(IHistory? history)
    {
        while (_snapshots.TryDequeue(out TaskCompletionSource<StoreSnapshot>? wanted))
        {
            if (history is null)
            {
                wanted.TrySetException(new HistoryException(Say($"The log is not open now.")));
            }
            else
            {
                wanted.TrySetResult(history.Snapshot());
            }
        }
    }

    private void KeepReport(IHistory history, bool isEnd)
    {
        if (_report.TakeDue(_state.Report, isEnd) is { } due)
        {
            Keep(history, KeptDocuments.Report, due);
        }
    }

    private void KeepChanged(IHistory history)
    {
        while (_changedDocuments.TryDequeue(out string? name))
        {
            Keep(history, name, Documents[name]);
        }
    }

    /// <summary>A document that can't be kept is no reason to let the log go.</summary>
    private void Keep(IHistory history, string name, byte[]? content)
    {
        try
        {
            history.Keep(name, content);
            _state.SetTrouble(name, Now, null);
        }
        catch (HistoryException problem)
        {
            if (_state.Troubles.All(trouble => trouble.Part != name))
            {
                NotKept(SettingException.OneLine(problem.Message));
            }

            _state.SetTrouble(name, Now, Join(problem.Said, Say($"Who opens the log without this service sees an older one.")));
        }
    }

    /// <summary>The next batch, or null after a second without one or when somebody asks; false once there will be no more.</summary>
    private async Task<(bool More, HistoryBatch? Batch)> NextAsync(CancellationToken stopping)
    {
        if (_queue.Reader.TryRead(out HistoryBatch? batch))
        {
            return (true, batch);
        }

        using CancellationTokenSource waiting = CancellationTokenSource.CreateLinkedTokenSource(stopping);
        Task<bool> arrival = _queue.Reader.WaitToReadAsync(waiting.Token).AsTask();
        Task question = _questions.Reader.WaitToReadAsync(waiting.Token).AsTask();
        if (await Task.WhenAny(arrival, question, Task.Delay(IdleInterval, _clock, waiting.Token)).ConfigureAwait(false) == arrival)
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
            foreach (Sentence remark in history.Remarks)
            {
                Found(remark.English);
            }

            _state.Earlier ??= new(
                Now,
                [.. history.ReadFindings().Where(finding => finding.Severity != "note").OrderByDescending(finding => finding.Start).Take(Limits.EarlierFindings)],
                history.Remarks);
            _state.SetEarlierRows(history.ReadRows(StoreSeries.Minutes, Now - LookBack, Now));
            _state.SetCaptures(history.ReadCaptures());
            if (!_isOpenedBefore)
            {
                _state.SetBoardEvents([.. history.ReadBoardEvents(), .. _state.BoardEvents]);
                _state.SetEarlierSoaks(history.ReadSoaks());
                _state.AddAcknowledgements(history.ReadAcknowledgements());
                _state.AddNodeEvents(history.ReadNodeEvents(Now - NodesLookBack, Now));
                _state.Activity.AddEarlier(history.ReadInputEvents(Now - LookBack, Now));
                _isOpenedBefore = true;
            }

            _state.SetTrouble(Trouble.OfLog, Now, null);
            foreach ((string name, byte[]? content) in Documents)
            {
                Keep(history, name, content);
            }

            return history;
        }
        catch (HistoryException problem)
        {
            history?.Dispose();
            _state.SetTrouble(Trouble.OfLog, Now, Join(problem.Said, NothingKept));
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

    [LoggerMessage(24, LogLevel.Error, "log: {Message}")]
    private partial void NotKept(string message);
}
