using System.Diagnostics;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>The played site as a live source: a second of it for each question, as soon as the log has written what came before, or at the pace of life.</summary>
/// <param name="clock">Is moved; null = the pace of life.</param>
/// <param name="start">Of its line.</param>
/// <param name="seconds">How long it goes on.</param>
internal sealed class PlayedSource(PlayedClock? clock, Instant start, int seconds) : IBusSource
{
    /// <summary>The first second has nothing to write.</summary>
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1);

    private readonly PlayedSite _site = new(TimeSpan.FromHours(1));
    private readonly AutoResetEvent _written = new(initialState: false);
    private readonly long _began = Stopwatch.GetTimestamp();
    private Instant _writtenUpTo = Instant.MinValue;
    private int _second;

    public string Kind => "live";

    public string Name => "can0";

    public Instant? Now { get; private set; }

    /// <summary>Everything was played and written.</summary>
    public ManualResetEventSlim Over { get; } = new();

    /// <summary>The log has written what came up to this time.</summary>
    public void OnWritten(Instant time)
    {
        _writtenUpTo = time;
        _written.Set();
    }

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        while (Now is { } now && _writtenUpTo < now && _written.WaitOne(Patience))
        {
        }

        if (_second == seconds)
        {
            Over.Set();
            return false;
        }

        if (_second++ == 0)
        {
            sink.OnInterface(0, new(Name) { BitRate = PlayedSite.BitRate, ListenOnly = true });
        }

        if (clock is null && TimeSpan.FromSeconds(_second) - Stopwatch.GetElapsedTime(_began) is { Ticks: > 0 } rest)
        {
            Thread.Sleep(rest);
        }

        Now = start + TimeSpan.FromSeconds(_second);
        _site.Play(sink, Now.Value - TimeSpan.FromSeconds(1), _second - 1);
        if (clock is not null)
        {
            clock.Seconds = _second;
        }

        return true;
    }

    public void Dispose()
    {
        _written.Dispose();
        Over.Dispose();
    }
}
