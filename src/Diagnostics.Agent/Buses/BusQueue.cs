using System.Diagnostics.CodeAnalysis;
using System.Threading.Channels;
using Diagnostics.Can;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Buses;

/// <summary>What a source does when the analysis can't keep up.</summary>
public enum WhenFull
{
    /// <summary>Live: frames are dropped, counted and reported as not seen; the source never waits.</summary>
    Count,

    /// <summary>Traces: the source waits; nothing is lost.</summary>
    Wait,
}

/// <summary>
/// The one door between any source (interface, trace, simulated site) and the analysis. The source's thread calls the <see cref="IFrameSink"/>
/// members, <see cref="OnTick"/>, <see cref="Flush"/> and at last <see cref="Complete"/>; one consumer drains the batches into its own sink.
/// No lock and, once the pool is warm, no allocation per frame.
/// </summary>
[SuppressMessage("Naming", "CA1711:Identifiers should not have incorrect suffix", Justification = "It is a queue.")]
public sealed class BusQueue : IFrameSink
{
    /// <summary>Batches that may wait: 256 × 256 frames are 5.8 MB, a minute of a full bus at 125 kbit/s.</summary>
    public const int DefaultCapacity = 256;

    private readonly Channel<FrameBatch> _filled;
    private readonly Channel<FrameBatch> _free;
    private readonly WhenFull _whenFull;
    private readonly CancellationToken _stop;
    private readonly AutoResetEvent _arrived = new(initialState: false);
    private FrameBatch _current = new();
    private long _framesDropped;

    /// <param name="whenFull">What the source does when the analysis can't keep up.</param>
    /// <param name="capacity">Batches that may wait, at least 1.</param>
    /// <param name="stop">Ends the waiting of a source (<see cref="WhenFull.Wait"/>) with <see cref="OperationCanceledException"/>.</param>
    public BusQueue(WhenFull whenFull, int capacity = DefaultCapacity, CancellationToken stop = default)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(capacity, 1);
        _whenFull = whenFull;
        _stop = stop;

        // Only "wait" with TryWrite makes a loss visible: the dropping modes say that all is well.
        _filled = Channel.CreateBounded<FrameBatch>(new BoundedChannelOptions(capacity) { FullMode = BoundedChannelFullMode.Wait, SingleReader = true, SingleWriter = true });
        _free = Channel.CreateBounded<FrameBatch>(new BoundedChannelOptions(capacity + 2) { FullMode = BoundedChannelFullMode.Wait, SingleReader = true, SingleWriter = true });
    }

    /// <summary>Frames dropped because the queue was full, since the start. May be read from any thread.</summary>
    public long FramesDropped => Interlocked.Read(ref _framesDropped);

    /// <summary>Producer.</summary>
    public void OnInterface(byte index, InterfaceFacts facts)
    {
        _current.AddInterface(index, facts);
        FlushWhenFull();
    }

    /// <summary>Producer.</summary>
    public void OnFrame(in CanFrame frame)
    {
        if (!_current.TryAdd(in frame))
        {
            Flush();
            _current.TryAdd(in frame);
        }

        FlushWhenFull();
    }

    /// <summary>Producer.</summary>
    public void OnNotSeen(in NotSeen notSeen)
    {
        _current.AddNotSeen(in notSeen);
        FlushWhenFull();
    }

    /// <summary>Producer: it is so late, whether or not a frame came. Live sources say it once a second. Flushes.</summary>
    public void OnTick(Instant now)
    {
        _current.Tick = now;
        Flush();
    }

    /// <summary>Producer: hands over what has been gathered. A live source calls it after each reading.</summary>
    public void Flush()
    {
        if (_current.IsEmpty)
        {
            return;
        }

        if (_filled.Writer.TryWrite(_current))
        {
            _arrived.Set();
            Renew();
            return;
        }

        if (_whenFull == WhenFull.Wait)
        {
            while (!_filled.Writer.TryWrite(_current))
            {
                if (!_filled.Writer.WaitToWriteAsync(_stop).AsTask().GetAwaiter().GetResult())
                {
                    throw new OperationCanceledException("The consumer has ended.");
                }
            }

            _arrived.Set();
            Renew();
            return;
        }

        DropFrames();
    }

    /// <summary>Producer: nothing more comes; <paramref name="error"/> reaches the consumer. What is left is handed over if there is room.</summary>
    public void Complete(Exception? error = null)
    {
        try
        {
            Flush();
        }
        catch (OperationCanceledException)
        {
            // The consumer or the program has ended: nobody is left to take the rest.
        }

        _filled.Writer.TryComplete(error);
        _arrived.Set();
    }

    /// <summary>Consumer: waits for the next batch; null at the end. Give it back with <see cref="Recycle"/>.</summary>
    public async ValueTask<FrameBatch?> ReadAsync(CancellationToken cancellation = default)
    {
        while (await _filled.Reader.WaitToReadAsync(cancellation).ConfigureAwait(false))
        {
            if (_filled.Reader.TryRead(out FrameBatch? batch))
            {
                return batch;
            }
        }

        return null;
    }

    /// <summary>
    /// Consumer with a thread of its own: waits for the next batch; null when none came in time, or at the end (<paramref name="isOver"/>), which throws what
    /// the producer ended with. Beside waiting it costs nothing: <see cref="ReadAsync"/> would wake a pool thread for each batch, which then spins for the next.
    /// </summary>
    /// <exception cref="OperationCanceledException">It was cancelled.</exception>
    public FrameBatch? Read(TimeSpan patience, CancellationToken cancellation, out bool isOver)
    {
        isOver = false;
        if (TryRead(out FrameBatch? batch))
        {
            return batch;
        }

        if (!_filled.Reader.Completion.IsCompleted)
        {
            WaitHandle.WaitAny([_arrived, cancellation.WaitHandle], patience);
            cancellation.ThrowIfCancellationRequested();
        }

        if (TryRead(out batch))
        {
            return batch;
        }

        isOver = _filled.Reader.Completion.IsCompleted;
        if (isOver)
        {
            _filled.Reader.Completion.GetAwaiter().GetResult();
        }

        return null;
    }

    /// <summary>Consumer: a batch that is there already.</summary>
    public bool TryRead([NotNullWhen(true)] out FrameBatch? batch) => _filled.Reader.TryRead(out batch);

    /// <summary>Consumer: the batch has been used and must not be touched any more.</summary>
    public void Recycle(FrameBatch batch)
    {
        batch.Clear();
        _free.Writer.TryWrite(batch);
    }

    /// <summary>Consumer: drains everything into <paramref name="sink"/> until the source completes; <paramref name="onTick"/> hears the ticks in their place.</summary>
    public async Task DrainAsync(IFrameSink sink, Action<Instant>? onTick = null, CancellationToken cancellation = default)
    {
        while (await ReadAsync(cancellation).ConfigureAwait(false) is { } batch)
        {
            batch.DrainTo(sink);
            Instant? tick = batch.Tick;
            Recycle(batch);
            if (tick is { } now)
            {
                onTick?.Invoke(now);
            }
        }
    }

    private void FlushWhenFull()
    {
        if (_current.IsFull)
        {
            Flush();
        }
    }

    private void Renew() => _current = _free.Reader.TryRead(out FrameBatch? used) ? used : new FrameBatch();

    private void DropFrames()
    {
        ReadOnlySpan<CanFrame> frames = _current.Frames;
        if (frames.IsEmpty)
        {
            return;
        }

        NotSeen lost = new(NotSeenKind.QueueDropped, NotSeen.AllInterfaces, frames[0].Time, frames[^1].Time, frames.Length, Say($"the analysis could not keep up with the bus").English);
        Interlocked.Add(ref _framesDropped, frames.Length);
        _current.ForgetFrames();
        _current.AddNotSeen(in lost);
    }
}
