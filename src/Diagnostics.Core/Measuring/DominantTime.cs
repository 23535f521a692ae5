using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>
/// For how much of a window the bus was dominant, from the very bits of the frames in it. A ring of the last frames that never grows. Inside a frame the dominant bits
/// are taken as spread evenly up to its recessive tail, which is off by a few bits where a window cuts through a frame.
/// </summary>
internal sealed class DominantTime
{
    /// <summary>Windows and frames are placed to this against each other: twice the 0.3 ms of methods 8.2.</summary>
    private static readonly TimeSpan Guard = TimeSpan.FromMilliseconds(0.6);

    private readonly Entry[] _ring = new Entry[Limits.FramesOfWindows];
    private readonly double[] _perNode = new double[Counting.PerNode.Count];
    private readonly List<byte> _senders = [];
    private long _count;

    /// <summary>Time without known bits has <paramref name="DominantNanoseconds"/> NaN.</summary>
    private readonly record struct Entry(long Start, long End, double DominantNanoseconds, byte Node);

    /// <param name="Duty">Dominant part of the window, 0–1.</param>
    /// <param name="IsSharp">No frame lies across one of its edges, so it doesn't matter that two clocks agree only to some 0.1 ms.</param>
    /// <param name="Sender">Who drove most of it; 0 = nobody in particular.</param>
    /// <param name="SenderRatio">Which part of the dominant time that is.</param>
    public readonly record struct Window(double Duty, bool IsSharp, byte Sender, double SenderRatio);

    /// <param name="end">End of the frame.</param>
    /// <param name="bits">Its length without the intermission.</param>
    /// <param name="dominantBits">Null = not known.</param>
    /// <param name="nanosecondsPerBit">More than 0.</param>
    /// <param name="node">0 = nobody in particular.</param>
    public void Add(Instant end, double bits, int? dominantBits, double nanosecondsPerBit, byte node)
    {
        long length = (long)(bits * nanosecondsPerBit);
        long tail = (long)(DominantBits.RecessiveTail * nanosecondsPerBit);
        _ring[_count++ % _ring.Length] = new(
            end.Nanoseconds - length, end.Nanoseconds - tail, dominantBits is int known ? known * nanosecondsPerBit : double.NaN, node);
    }

    /// <summary>Something was on the wire up to then whose bits aren't known.</summary>
    public void AddUnknown(Instant end, TimeSpan length) => _ring[_count++ % _ring.Length] = new((end - length).Nanoseconds, end.Nanoseconds, double.NaN, 0);

    /// <summary>Null where the frames of the window are no longer there, or bits in it aren't known.</summary>
    public Window? Of(Instant start, Instant end)
    {
        long from = start.Nanoseconds;
        long to = end.Nanoseconds;
        long guard = Guard.Ticks * 100;
        double dominant = 0;
        bool isSharp = true;
        foreach (byte node in _senders)
        {
            _perNode[node] = 0;
        }

        _senders.Clear();
        for (long at = _count - 1; at >= 0; at--)
        {
            if (at < _count - _ring.Length)
            {
                return null;
            }

            Entry entry = _ring[at % _ring.Length];
            if (entry.End + guard <= from)
            {
                break;
            }

            if (entry.Start - guard >= to)
            {
                continue;
            }

            if (double.IsNaN(entry.DominantNanoseconds))
            {
                return null;
            }

            isSharp &= !(entry.Start - guard < from && entry.End + guard > from) && !(entry.Start - guard < to && entry.End + guard > to);
            long inside = Math.Min(entry.End, to) - Math.Max(entry.Start, from);
            if (inside > 0)
            {
                double part = entry.DominantNanoseconds * inside / (entry.End - entry.Start);
                dominant += part;
                if (_perNode[entry.Node] == 0)
                {
                    _senders.Add(entry.Node);
                }

                _perNode[entry.Node] += part;
            }
        }

        byte sender = 0;
        double most = 0;
        foreach (byte node in _senders)
        {
            if (_perNode[node] > most)
            {
                (sender, most) = (node, _perNode[node]);
            }
        }

        return new(dominant / (to - from), isSharp, sender, dominant > 0 ? most / dominant : 0);
    }
}
