using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.History;

/// <summary>The log that a service on the simulated site writes: the analysis ticks once a second of the site's own time, and what each tick brings goes into the log.</summary>
internal sealed class SimulatedLog : IFrameSink, IDisposable
{
    private const long Cap = 64L * 1024 * 1024;

    private readonly Analyzer _analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = 125_000 });
    private readonly HistoryRecorder _recorder = new();
    private readonly SiteClock _clock = new();
    private Instant _tick;

    private SimulatedLog(string directory, Instant start)
    {
        Log = StoredHistory.Open(directory, Cap, start, _clock);
        _tick = start;
        Tick();
    }

    public StoredHistory Log { get; }

    /// <summary>One run of the service, ended as it should.</summary>
    public static void Write(string directory, Site site, TimeSpan length)
    {
        using SimulatedLog run = Begin(directory, site, length);
    }

    /// <summary>One run of the service that still has the log open.</summary>
    public static SimulatedLog Begin(string directory, Site site, TimeSpan length)
    {
        SimulatedLog run = new(directory, site.Start);
        new SiteSimulation(site).Run(run, length);
        run.TickUntil(site.Start + length);
        return run;
    }

    public void OnInterface(byte index, InterfaceFacts facts) => _analyzer.OnInterface(index, facts);

    public void OnNotSeen(in NotSeen notSeen) => _analyzer.OnNotSeen(in notSeen);

    public void OnFrame(in CanFrame frame)
    {
        TickUntil(frame.Time);
        _analyzer.OnFrame(in frame);
    }

    public void Dispose() => Log.Dispose();

    private void TickUntil(Instant time)
    {
        while (_tick + TimeSpan.FromSeconds(1) <= time)
        {
            _tick += TimeSpan.FromSeconds(1);
            _clock.Now += TimeSpan.FromSeconds(1);
            Tick();
        }
    }

    private void Tick()
    {
        _analyzer.Advance(_tick);
        HistoryBatch batch = _recorder.OnSnapshot(_analyzer.Snapshot());
        if (!batch.IsEmpty)
        {
            Log.Write(batch);
        }
    }

    /// <summary>The log's own clock goes with the site's, so that it flushes and feeds its index as it would.</summary>
    private sealed class SiteClock : TimeProvider
    {
        public TimeSpan Now { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Now.Ticks;
    }
}
