namespace Diagnostics.Can.Traces;

/// <summary>A ring of frames that grows to what it needs; what bounds it is the caller.</summary>
internal sealed class FrameQueue
{
    private CanFrame[] _frames = new CanFrame[64];
    private int _head;

    public int Count { get; private set; }

    public ref CanFrame First => ref _frames[_head];

    public void Append(in CanFrame frame, long time)
    {
        if (Count == _frames.Length)
        {
            Grow();
        }

        ref CanFrame slot = ref _frames[(_head + Count) & (_frames.Length - 1)];
        slot = frame;
        slot.Time = new(time);
        Count++;
    }

    public void PutFirst(in CanFrame frame)
    {
        if (Count == _frames.Length)
        {
            Grow();
        }

        _head = (_head - 1) & (_frames.Length - 1);
        _frames[_head] = frame;
        Count++;
    }

    public void RemoveFirst()
    {
        _head = (_head + 1) & (_frames.Length - 1);
        Count--;
    }

    public void SetAllTimes(Instant time)
    {
        for (int index = 0; index < Count; index++)
        {
            _frames[(_head + index) & (_frames.Length - 1)].Time = time;
        }
    }

    private void Grow()
    {
        CanFrame[] wider = new CanFrame[_frames.Length * 2];
        int behind = _frames.Length - _head;
        _frames.AsSpan(_head).CopyTo(wider);
        _frames.AsSpan(0, _head).CopyTo(wider.AsSpan(behind));
        _frames = wider;
        _head = 0;
    }
}
