namespace Diagnostics.Simulation.Wires;

/// <summary>
/// What is due when, in nanoseconds since the simulation began. Equal times run in the order in which they were asked for.
/// Events that change the wire itself (a contact opens, a supply fails) are kept apart, because a frame must not be jumped over while one is due.
/// </summary>
internal sealed class Timeline
{
    private readonly PriorityQueue<Action, (long Time, long Order)> _events = new();
    private readonly PriorityQueue<Action, (long Time, long Order)> _physical = new();
    private long _order;

    public long Now { get; private set; }

    public long NextPhysical { get; private set; } = long.MaxValue;

    private long _nextEvent = long.MaxValue;

    public long Next => Math.Min(NextPhysical, _nextEvent);

    public void At(long time, Action action)
    {
        time = Math.Max(time, Now);
        _events.Enqueue(action, (time, _order++));
        _nextEvent = Math.Min(_nextEvent, time);
    }

    public void PhysicallyAt(long time, Action action)
    {
        time = Math.Max(time, Now);
        _physical.Enqueue(action, (time, _order++));
        NextPhysical = Math.Min(NextPhysical, time);
    }

    /// <summary>Runs the event that is due first. The caller has seen that there is one.</summary>
    public void RunNext()
    {
        Action action;
        (long Time, long Order) due;
        if (NextPhysical <= _nextEvent)
        {
            _physical.TryDequeue(out action!, out due);
            NextPhysical = _physical.TryPeek(out _, out (long Time, long Order) next) ? next.Time : long.MaxValue;
        }
        else
        {
            _events.TryDequeue(out action!, out due);
            _nextEvent = _events.TryPeek(out _, out (long Time, long Order) next) ? next.Time : long.MaxValue;
        }

        AdvanceTo(due.Time);
        action();
    }

    public void AdvanceTo(long time) => Now = Math.Max(Now, time);
}
