namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// Whose turn it is on one I2C bus: one transfer at a time, so that a transfer that hangs is one thread's trouble. Whoever waits for it longer than <see cref="Limits.SensorHangs"/> goes on without it: the kernel keeps
/// transfers apart by itself, and the one that hangs may be the driver of a single part.
/// </summary>
/// <param name="clock">To tell how long a transfer takes.</param>
/// <param name="hangs">How long it may take.</param>
internal sealed class I2cGate(TimeProvider clock, TimeSpan hangs)
{
    private readonly object _lock = new();
    private bool _isTaken;
    private long _since;
    private long _turn;

    /// <returns>The turn, to be given back.</returns>
    public long Enter()
    {
        lock (_lock)
        {
            while (_isTaken && clock.GetElapsedTime(_since) is var taken && taken < hangs)
            {
                Monitor.Wait(_lock, hangs - taken);
            }

            _isTaken = true;
            _since = clock.GetTimestamp();
            return ++_turn;
        }
    }

    public void Leave(long turn)
    {
        lock (_lock)
        {
            if (turn == _turn)
            {
                _isTaken = false;
                Monitor.PulseAll(_lock);
            }
        }
    }
}
