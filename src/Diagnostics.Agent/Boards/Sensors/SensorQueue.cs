using System.Threading.Channels;
using Diagnostics.Core.Measuring;

namespace Diagnostics.Agent.Boards.Sensors;

/// <summary>What sensors gave, on its way to the analysis. Sensors never wait; what finds no room is counted. Any thread adds, one takes.</summary>
internal sealed class SensorQueue(int capacity = Limits.WaitingMeasurements)
{
    private readonly Channel<Measurement> _waiting = Channel.CreateBounded<Measurement>(new BoundedChannelOptions(capacity) { FullMode = BoundedChannelFullMode.Wait, SingleReader = true });
    private long _dropped;

    /// <summary>Since the start. Any thread.</summary>
    public long Dropped => Interlocked.Read(ref _dropped);

    public void Add(Measurement measurement)
    {
        if (!_waiting.Writer.TryWrite(measurement))
        {
            Interlocked.Increment(ref _dropped);
        }
    }

    public bool TryTake(out Measurement measurement) => _waiting.Reader.TryRead(out measurement);
}
