using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Counting;

/// <summary>
/// The latest events of all buses, in a ring that never grows: what happened around a mark is told from it, and changes of inputs go from it to the log.
/// Each event has a place that counts from the start, so a reader knows how many it missed.
/// </summary>
internal sealed class EventTape
{
    private readonly Entry[] _ring = new Entry[Limits.Events];

    /// <summary>Events so far; the place of the next.</summary>
    public long Count { get; private set; }

    /// <summary>The oldest that is still there.</summary>
    public long First => Math.Max(0, Count - _ring.Length);

    public Entry this[long place] => _ring[place % _ring.Length];

    public void Add(Instant time, byte bus, BusEventKind kind, byte node, int number)
    {
        _ring[Count % _ring.Length] = new(time, bus, kind, node, number);
        Count++;
    }

    internal readonly record struct Entry(Instant Time, byte Bus, BusEventKind Kind, byte Node, int Number);
}
