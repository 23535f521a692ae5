using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>
/// Measurements that wait for the frames of their windows: a sensor's thread and the bus reader's are two, and a value is worth something beside the traffic only
/// once that is known. Handed out in the order of their ends. A ring that never grows; what comes late or finds no room is counted.
/// </summary>
internal sealed class MeasurementQueue
{
    /// <summary>After the end of a window: the longest frame at 10 kbit/s (16 ms) may have begun in it, and is stamped at its end.</summary>
    private static readonly TimeSpan Margin = TimeSpan.FromMilliseconds(50);

    private readonly PriorityQueue<Measurement, (long End, long Order)> _waiting = new(Limits.Measurements);
    private readonly Instant[] _lastEnd = new Instant[Enum.GetValues<Quantity>().Length];
    private long _order;

    public MeasurementQueue() => Array.Fill(_lastEnd, Instant.MinValue);

    /// <summary>Values that were not used: not a number, a window that is none or doesn't end behind the one before it, or no room.</summary>
    public long Refused { get; private set; }

    /// <summary>When the line of time has come here, the first one can be taken; <see cref="long.MaxValue"/> = none waits. Nanoseconds.</summary>
    public long NextDue { get; private set; } = long.MaxValue;

    public void Add(in Measurement measurement)
    {
        if ((uint)measurement.Quantity >= (uint)_lastEnd.Length)
        {
            Refused++;
            return;
        }

        ref Instant last = ref _lastEnd[(int)measurement.Quantity];
        bool isBackwards = measurement.End <= measurement.Start || measurement.End <= last;
        if (isBackwards || !double.IsFinite(measurement.Value) || _waiting.Count == Limits.Measurements)
        {
            Refused++;
            return;
        }

        last = measurement.End;
        _waiting.Enqueue(measurement, (measurement.End.Nanoseconds, _order++));
        NextDue = Due(_waiting.Peek());
    }

    /// <summary>The caller has seen that one is due.</summary>
    public Measurement Take()
    {
        Measurement first = _waiting.Dequeue();
        NextDue = _waiting.TryPeek(out Measurement next, out _) ? Due(next) : long.MaxValue;
        return first;
    }

    private static long Due(in Measurement measurement) => (measurement.End + Margin).Nanoseconds;
}
