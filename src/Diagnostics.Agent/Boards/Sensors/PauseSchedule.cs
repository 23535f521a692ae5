namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>
/// How long to wait between two readings. With a spread, never the same: a sensor of the lines that was read five times a second, exactly, would stand in step with heartbeats every 100 ms, see the same few
/// senders again and again, and others never. From a seed, so that the same start gives the same pauses. One thread.
/// </summary>
/// <param name="pause">In the mean.</param>
/// <param name="spread">Shorter and longer by up to this, everything in between alike often.</param>
/// <param name="seed">Any.</param>
internal sealed class PauseSchedule(TimeSpan pause, TimeSpan spread, int seed)
{
    private readonly Random _chance = new(seed);

    public TimeSpan Next() => spread == TimeSpan.Zero ? pause : pause + (((2 * _chance.NextDouble()) - 1) * spread);
}
