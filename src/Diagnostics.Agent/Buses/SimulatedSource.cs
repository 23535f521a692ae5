using System.Text;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Simulation;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// The simulated site as a source, faster than life: simulated time follows real time at a fixed pace, in small steps, and never waits for the page or the log.
/// If this machine can't keep the pace, the site simply runs slower; nothing is lost.
/// </summary>
internal sealed class SimulatedSource : IBusSource
{
    /// <summary>Longest stretch simulated in one go, so that the analysis can tick in between.</summary>
    private static readonly TimeSpan LongestStep = TimeSpan.FromSeconds(30);

    private readonly SiteSimulation _simulation;
    private readonly TimeProvider _clock;
    private readonly double _pace;
    private readonly TimeSpan _length;
    private long _last;
    private TimeSpan _done;
    private bool _attached;

    /// <param name="site">The site.</param>
    /// <param name="pace">Simulated seconds for each real one.</param>
    /// <param name="length">Simulated time after which the site stands still.</param>
    /// <param name="clock">Real time.</param>
    public SimulatedSource(Site site, double pace, TimeSpan length, TimeProvider clock)
    {
        _simulation = new(site);
        _pace = pace;
        _length = length;
        _clock = clock;
        _last = clock.GetTimestamp();
        Name = site.Name;
        SiteText = Encoding.UTF8.GetBytes(AsBuiltText.Write(site));
        AsBuiltReader.TryRead(SiteText, out AsBuiltRecord? record, out _);
        Site = record;
    }

    public string Kind => "simulated";

    public string Name { get; }

    /// <summary>The simulated installer's record, read like anybody else's.</summary>
    public AsBuiltRecord? Site { get; }

    public byte[]? SiteText { get; }

    public Instant? Now => _attached ? _simulation.Now : null;

    public bool Read(IFrameSink sink, TimeSpan patience, CancellationToken cancellation)
    {
        if (!_attached)
        {
            _attached = true;
            _simulation.Attach(sink);
        }

        if (_done >= _length)
        {
            return false;
        }

        cancellation.WaitHandle.WaitOne(patience < TimeSpan.Zero ? TimeSpan.FromMilliseconds(100) : patience);
        TimeSpan passed = _clock.GetElapsedTime(_last) * _pace;
        _last = _clock.GetTimestamp();
        passed = passed > LongestStep ? LongestStep : passed;
        passed = _done + passed > _length ? _length - _done : passed;
        _simulation.Step(passed);
        _done += passed;
        return true;
    }

    public void Dispose()
    {
    }
}
