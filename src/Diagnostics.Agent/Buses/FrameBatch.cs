using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Some frames and, in their order among them, what else a source had to say. Pooled by <see cref="BusQueue"/>: its owner is whoever got it last.
/// </summary>
/// <param name="merges">
/// Remarks with no frame between them are made one, so that they always fit in while the queue is full. Where the source waits there is no need, and each is kept:
/// a trace that damage or a stepping clock has torn says for each gap why.
/// </param>
public sealed class FrameBatch(bool merges)
{
    /// <summary>Frames in a batch: 256 × 88 bytes stay below the large-object heap, and at 125 kbit/s are a quarter of a second of a full bus.</summary>
    public const int Capacity = 256;

    /// <summary>
    /// Remarks in a batch; a full batch is handed over. While the queue is full and frames are dropped there is one at most for each interface and kind, so the
    /// facts of 16 interfaces and nine kinds of remark for each and for all, 169 in all, always fit in.
    /// </summary>
    public const int RemarkCapacity = 256;

    private readonly CanFrame[] _frames = new CanFrame[Capacity];
    private readonly List<Remark> _remarks = [];
    private bool _framesForgotten;

    /// <summary>Frames in it.</summary>
    public int Count { get; private set; }

    /// <summary>Nothing in it at all.</summary>
    public bool IsEmpty => Count == 0 && _remarks.Count == 0 && Tick is null;

    public ReadOnlySpan<CanFrame> Frames => _frames.AsSpan(0, Count);

    /// <summary>A live source's "so late it is", valid after everything else in the batch; null where time has not been told.</summary>
    public Instant? Tick { get; internal set; }

    internal bool IsFull => Count == Capacity || _remarks.Count >= RemarkCapacity;

    internal bool TryAdd(in CanFrame frame)
    {
        if (Count == Capacity)
        {
            return false;
        }

        _frames[Count++] = frame;
        return true;
    }

    /// <summary>
    /// A span that continues the one before it, with no frame in between, prolongs that one. Where frames were forgotten, every span of the same
    /// kind does, because what lies between was not seen either.
    /// </summary>
    internal void AddNotSeen(in NotSeen notSeen)
    {
        for (int i = _remarks.Count - 1; merges && i >= 0 && _remarks[i].FramesBefore == Count; i--)
        {
            if (_remarks[i].NotSeen is { } earlier && earlier.Kind == notSeen.Kind && earlier.Interface == notSeen.Interface
                && (earlier.End >= notSeen.Start || _framesForgotten))
            {
                _remarks[i] = _remarks[i] with
                {
                    NotSeen = earlier with
                    {
                        Start = Instant.Min(earlier.Start, notSeen.Start),
                        End = Instant.Max(earlier.End, notSeen.End),
                        Count = earlier.Count + notSeen.Count,
                    },
                };
                return;
            }
        }

        _remarks.Add(new(Count, notSeen, 0, null));
    }

    /// <summary>Facts that follow facts of the same interface, with no frame in between, replace them.</summary>
    internal void AddInterface(byte index, InterfaceFacts facts)
    {
        for (int i = _remarks.Count - 1; merges && i >= 0 && _remarks[i].FramesBefore == Count; i--)
        {
            if (_remarks[i].Facts is not null && _remarks[i].Interface == index)
            {
                _remarks[i] = _remarks[i] with { Facts = facts };
                return;
            }
        }

        _remarks.Add(new(Count, null, index, facts));
    }

    /// <summary>Forgets the frames, keeps the remarks: those are never lost for want of room in the queue.</summary>
    internal void ForgetFrames()
    {
        Count = 0;
        _framesForgotten = true;
        Remark[] kept = [.. _remarks];
        _remarks.Clear();
        foreach (Remark remark in kept)
        {
            if (remark.NotSeen is { } notSeen)
            {
                AddNotSeen(notSeen);
            }
            else if (remark.Facts is not null)
            {
                AddInterface(remark.Interface, remark.Facts);
            }
        }
    }

    internal void Clear()
    {
        Count = 0;
        _remarks.Clear();
        Tick = null;
        _framesForgotten = false;
    }

    /// <summary>Hands everything over in the order in which the source said it. <see cref="Tick"/> is left to the caller.</summary>
    public void DrainTo(IFrameSink sink)
    {
        int next = 0;
        for (int i = 0; i < Count; i++)
        {
            while (next < _remarks.Count && _remarks[next].FramesBefore <= i)
            {
                _remarks[next++].Tell(sink);
            }

            sink.OnFrame(in _frames[i]);
        }

        while (next < _remarks.Count)
        {
            _remarks[next++].Tell(sink);
        }
    }

    private readonly record struct Remark(int FramesBefore, NotSeen? NotSeen, byte Interface, InterfaceFacts? Facts)
    {
        internal void Tell(IFrameSink sink)
        {
            if (NotSeen is { } notSeen)
            {
                sink.OnNotSeen(notSeen);
            }
            else if (Facts is not null)
            {
                sink.OnInterface(Interface, Facts);
            }
        }
    }
}
