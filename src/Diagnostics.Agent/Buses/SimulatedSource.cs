using System.Text;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Commands;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Measuring;
using Diagnostics.Simulation;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// The simulated site as a source, faster than life: simulated time follows real time at a fixed pace, in small steps, and never waits for the page or the log.
/// If this machine can't keep the pace, the site simply runs slower; nothing is lost.
/// </summary>
internal sealed class SimulatedSource : IBusSource, IGaugeSink
{
    /// <summary>Owed at most, so that a machine that is too slow doesn't fall behind for ever.</summary>
    private static readonly TimeSpan MostOwed = TimeSpan.FromSeconds(30);

    /// <summary>Longest stretch simulated in one go: what sensors gave in it comes to the analysis behind its frames, and the frames of a window must still be at hand then.</summary>
    private static readonly TimeSpan LongestStep = TimeSpan.FromSeconds(0.5);

    private readonly SiteSimulation _simulation;
    private readonly TimeProvider _clock;
    private readonly double _pace;
    private readonly TimeSpan _length;
    private long _last;
    private TimeSpan _done;
    private TimeSpan _owed;
    private SensorQueue? _sensors;
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

    public MeasuringLimits? Measuring => _simulation.Site.Supply is { } supply ? new() { NominalSupplyVolts = supply.Volts } : null;

    public Instant? Now => _attached ? _simulation.Now : null;

    public void Attach(SensorQueue sensors)
    {
        _sensors = sensors;
        _simulation.Attach((IGaugeSink)this);
    }

    public void OnReading(in GaugeReading reading) => _sensors?.Add(new(QuantityOf(reading.Gauge), reading.Start, reading.End, reading.Value));

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

        if (_owed <= TimeSpan.Zero)
        {
            cancellation.WaitHandle.WaitOne(patience < TimeSpan.Zero ? TimeSpan.FromMilliseconds(100) : patience);
        }

        TimeSpan owed = _owed + (_clock.GetElapsedTime(_last) * _pace);
        _last = _clock.GetTimestamp();
        _owed = owed > MostOwed ? MostOwed : owed;
        TimeSpan step = _owed > LongestStep ? LongestStep : _owed;
        step = _done + step > _length ? _length - _done : step;
        _simulation.Step(step);
        _done += step;
        _owed -= step;
        return true;
    }

    public void Dispose()
    {
    }

    private static Quantity QuantityOf(Gauge gauge) => gauge switch
    {
        Gauge.SupplyVolts => Quantity.SupplyVolts,
        Gauge.SupplyAmperes => Quantity.SupplyAmperes,
        Gauge.LineHighVolts => Quantity.LineHighVolts,
        Gauge.LineLowVolts => Quantity.LineLowVolts,
        Gauge.LineDifferenceVolts => Quantity.LineDifferenceVolts,
        Gauge.AirCelsius => Quantity.AirCelsius,
        _ => Quantity.AirHumidityRatio,
    };
}
