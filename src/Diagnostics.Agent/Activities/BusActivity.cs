using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Activities;

/// <summary>
/// What happens on the buses as it happens, for pages that follow it: the latest events, and of each input and output the latest changes. The analysis adds
/// once a second, pages read; both hold the lock for as long as a copy takes.
/// </summary>
internal sealed class BusActivity
{
    private readonly Lock _lock = new();
    private readonly BusEvent[] _events = new BusEvent[Limits.EventsInMemory];
    private readonly Dictionary<Point, (List<PointChange> Changes, long Count)> _points = [];
    private long _count;
    private TimeSpan _wallMinusLine;

    /// <summary>Events so far, the place of the next.</summary>
    public long Count
    {
        get
        {
            lock (_lock)
            {
                return _count;
            }
        }
    }

    /// <summary>What happened since the last call, in order, on the line.</summary>
    /// <param name="events">New ones.</param>
    /// <param name="wallMinusLine">What people's times are later than the line's, now and for all that was added before.</param>
    public void Add(IReadOnlyList<BusEvent> events, TimeSpan wallMinusLine)
    {
        lock (_lock)
        {
            _wallMinusLine = wallMinusLine;
            foreach (BusEvent happened in events)
            {
                _events[_count++ % _events.Length] = happened;
                if (PointOf(happened) is { } point)
                {
                    bool active = happened.Kind is BusEventKind.InputOn or BusEventKind.OutputOn or BusEventKind.OutputReportedOn;
                    Change(point, new(happened.Time, active, happened.Kind is BusEventKind.OutputReportedOn or BusEventKind.OutputReportedOff));
                }
            }
        }
    }

    /// <summary>What the log remembers of inputs from before; called before anything is added, or where nothing will be.</summary>
    public void AddEarlier(IEnumerable<InputEvent> events)
    {
        lock (_lock)
        {
            foreach (IGrouping<Point, InputEvent> group in events.GroupBy(happened => new Point(happened.Interface, happened.Node, PointKind.Input, happened.Input)))
            {
                List<PointChange> before = [.. group.TakeLast(Limits.ChangesOfPoint).Select(happened => new PointChange(happened.Time - _wallMinusLine, happened.Active, false))];
                if (_points.TryGetValue(group.Key, out (List<PointChange> Changes, long Count) known))
                {
                    before.RemoveAll(change => known.Changes.Count > 0 && change.Time >= known.Changes[0].Time);
                    before.AddRange(known.Changes);
                }

                if (before.Count > 0 && (_points.Count < Limits.PointsInMemory || _points.ContainsKey(group.Key)))
                {
                    _points[group.Key] = ([.. before.TakeLast(Limits.ChangesOfPoint)], known.Count);
                }
            }
        }
    }

    /// <summary>Events from a place on that are still at hand, with people's times.</summary>
    /// <param name="place">As <see cref="Count"/> was.</param>
    /// <param name="next">Where to go on.</param>
    public IReadOnlyList<BusEvent> From(long place, out long next)
    {
        lock (_lock)
        {
            List<BusEvent> taken = [];
            for (long at = Math.Max(place, Math.Max(0, _count - _events.Length)); at < _count; at++)
            {
                BusEvent happened = _events[at % _events.Length];
                taken.Add(_wallMinusLine == TimeSpan.Zero ? happened : happened with { Time = happened.Time + _wallMinusLine });
            }

            next = _count;
            return taken;
        }
    }

    /// <summary>Inputs and outputs that were heard, by interface, node, kind and number, with people's times.</summary>
    public IReadOnlyList<PointState> Points()
    {
        lock (_lock)
        {
            return
            [
                .. _points
                    .OrderBy(entry => entry.Key.Interface, StringComparer.Ordinal).ThenBy(entry => entry.Key.Node).ThenBy(entry => entry.Key.Kind).ThenBy(entry => entry.Key.Number)
                    .Select(entry => new PointState(
                        entry.Key, [.. entry.Value.Changes.Select(change => change with { Time = change.Time + _wallMinusLine })], entry.Value.Count)),
            ];
        }
    }

    private static Point? PointOf(BusEvent happened) => happened.Kind switch
    {
        BusEventKind.InputOn or BusEventKind.InputOff => new(happened.Interface, happened.Node, PointKind.Input, happened.Number),
        BusEventKind.OutputOn or BusEventKind.OutputOff or BusEventKind.OutputReportedOn or BusEventKind.OutputReportedOff => new(happened.Interface, happened.Node, PointKind.Output, happened.Number),
        _ => null,
    };

    private void Change(Point point, PointChange change)
    {
        if (!_points.TryGetValue(point, out (List<PointChange> Changes, long Count) known))
        {
            if (_points.Count >= Limits.PointsInMemory)
            {
                return;
            }

            known = ([], 0);
        }

        if (known.Changes.Count >= Limits.ChangesOfPoint)
        {
            known.Changes.RemoveAt(0);
        }

        known.Changes.Add(change);
        _points[point] = (known.Changes, known.Count + 1);
    }
}
