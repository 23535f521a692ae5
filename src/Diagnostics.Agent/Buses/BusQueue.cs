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

    /// <summary>Traces: the source waits until half of the queue is empty; nothing is lost.</summary>
    Wait,
}

/// <summary>
/// The one door between a source that reads on a thread of its own (interfaces, traces) and the analysis. The source's thread calls the <see cref="IFrameSink"/>
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
    private readonly AutoResetEvent _arrived = new(initialState: false);

    /// <summary>A source that found the queue full goes on only then: woken for each batch the two would spend their time on waking each other.</summary>
    private readonly AutoResetEvent _halfEmpty = new(initialState: false);
    private readonly int _half;
    private volatile bool _isAbandoned;
    private FrameBatch _current;
    private long _framesDropped;

    /// <param name="whenFull">What the source does when the analysis can't keep up.</param>
    /// <param name="capacity">Batches that may wait, at least 1.</param>
    public BusQueue(WhenFull whenFull, int capacity = DefaultCapacity)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(capacity, 1);
        _whenFull = whenFull;
        _half = capacity / 2;
        _current = NewBatch();

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

        while (!_filled.Writer.TryWrite(_current))
        {
            if (_whenFull == WhenFull.Count)
            {
                DropFrames();
                return;
            }

            if (_isAbandoned)
            {
                throw new OperationCanceledException("Nobody takes the rest.");
            }

            _halfEmpty.WaitOne();
        }

        _arrived.Set();
        Renew();
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

    /// <summary>
    /// Consumer with a thread of its own: waits for the next batch; null when none came in time, or at the end (<paramref name="isOver"/>), which throws what
    /// the producer ended with. Beside waiting it costs nothing: awaiting would wake a pool thread for each batch, which then spins for the next. Give the batch back
    /// with <see cref="Recycle"/>.
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

    /// <summary>Consumer with a thread of its own: hands the next batch to <paramref name="sink"/> as <see cref="Read"/> gives it. False = there will be no more.</summary>
    /// <param name="sink">The analysis.</param>
    /// <param name="patience">How long to wait for a batch.</param>
    /// <param name="cancellation">Ends the waiting.</param>
    /// <param name="tick">How late it is behind that batch; null where the source didn't say.</param>
    public bool Drain(IFrameSink sink, TimeSpan patience, CancellationToken cancellation, out Instant? tick)
    {
        tick = null;
        if (Read(patience, cancellation, out bool isOver) is not { } batch)
        {
            return !isOver;
        }

        batch.DrainTo(sink);
        tick = batch.Tick;
        Recycle(batch);
        return true;
    }

    /// <summary>Consumer: a batch that is there already.</summary>
    public bool TryRead([NotNullWhen(true)] out FrameBatch? batch) => _filled.Reader.TryRead(out batch);

    /// <summary>Consumer: the batch has been used and must not be touched any more.</summary>
    public void Recycle(FrameBatch batch)
    {
        batch.Clear();
        _free.Writer.TryWrite(batch);
        if (_whenFull == WhenFull.Wait && _filled.Reader.Count == _half)
        {
            _halfEmpty.Set();
        }
    }

    /// <summary>Consumer: wants nothing more. A source that waits, or would have to, is ended with <see cref="OperationCanceledException"/>.</summary>
    public void Abandon()
    {
        _isAbandoned = true;
        _halfEmpty.Set();
    }

    private void FlushWhenFull()
    {
        if (_current.IsFull)
        {
            Flush();
        }
    }

    private void Renew() => _current = _free.Reader.TryRead(out FrameBatch? used) ? used : NewBatch();

    private FrameBatch NewBatch() => new(merges: _whenFull == WhenFull.Count);

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
