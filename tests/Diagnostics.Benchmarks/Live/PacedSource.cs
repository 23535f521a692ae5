using System.Diagnostics;
using Diagnostics.Agent;
using Diagnostics.Agent.Buses;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Benchmarks.Live;

/// <summary>
/// A saturated bus as the service hears it: a thread paced by the clock hands over what a real reader would have gathered in 10 ms, through the queue that stands
/// behind real interfaces. Only the kernel's part in receiving is missing.
/// </summary>
internal sealed class PacedSource : IBusSource
{
    /// <summary>As the reader of interfaces gathers before it hands over.</summary>
    private static readonly TimeSpan GatherTime = TimeSpan.FromMilliseconds(10);

    private readonly SiteTraffic _traffic;
    private readonly TimeSpan _length;
    private readonly BusQueue _queue = new(WhenFull.Count);
    private readonly ManualResetEvent _pause = new(initialState: false);
    private readonly Thread _producer;
    private bool _started;

    public PacedSource(SiteTraffic traffic, TimeSpan length)
    {
        _traffic = traffic;
        _length = length;
        _producer = new(Produce) { Name = "bus reader" };
    }

    public string Kind => "live";

    public string Name => "can0";

    public Instant? Now { get; private set; }

    public long Frames { get; private set; }

    public long FramesDropped => _queue.FramesDropped;

    /// <summary>All traffic was handed over.</summary>
    public ManualResetEventSlim Over { get; } = new();

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        if (!_started)
        {
            _started = true;
            _producer.Start();
        }

        bool goesOn = _queue.Drain(sink, patience, cancellation, out Instant? tick);
        Now = tick ?? Now;
        if (!goesOn)
        {
            Over.Set();
        }

        return goesOn;
    }

    public void Dispose()
    {
        _pause.Set();
        if (_started)
        {
            _producer.Join();
        }

        _pause.Dispose();
        Over.Dispose();
    }

    private void Produce()
    {
        long began = Stopwatch.GetTimestamp();
        long nextTick = 1;
        bool isLast = !_traffic.TryNext(out CanFrame pending);
        while (!isLast)
        {
            isLast = _pause.WaitOne(GatherTime) || Stopwatch.GetElapsedTime(began) >= _length;
            Instant now = _traffic.Start + Stopwatch.GetElapsedTime(began);
            while (!isLast && pending.Time <= now)
            {
                _queue.OnFrame(in pending);
                Frames++;
                isLast |= !_traffic.TryNext(out pending);
            }

            _queue.Flush();
            if ((now - _traffic.Start).TotalSeconds >= nextTick)
            {
                _queue.OnTick(now);
                nextTick++;
            }
        }

        _queue.Complete();
    }
}
