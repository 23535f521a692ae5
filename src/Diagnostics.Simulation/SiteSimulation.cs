using Diagnostics.Can;
using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Staging;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation;

/// <summary>
/// A CAN site that isn't there. Everything runs in simulated time as fast as the machine can, on the caller's thread, and the same
/// <see cref="Site"/> (its seed included) always gives the same frames.
/// <code>
/// Site site = WrenfieldLibrary.Create(seed: 7) with { Faults = [new NodeHang(5) { Start = TimeSpan.FromMinutes(10) }] };
/// SiteSimulation simulation = new(site);
/// simulation.Run(sink, TimeSpan.FromHours(1));   // may be called again: it goes on where it stopped
/// foreach (GroundTruth truth in simulation.Truth) { … }
/// </code>
/// or, for a live demo: <c>simulation.Attach(sink)</c> once, then <c>simulation.Step(TimeSpan.FromMilliseconds(100))</c> as real time passes.
/// <para>The first call hands over <see cref="InterfaceFacts"/>. Stamps begin at <see cref="Site.Start"/>. Sites: <see cref="WrenfieldLibrary"/>,
/// <see cref="RandomSite"/>, <see cref="DemoSite"/>; what can happen to them: the records derived from <see cref="Fault"/>, or drawn by <see cref="RandomFault"/>.</para>
/// </summary>
public sealed class SiteSimulation
{
    private readonly Stage _stage;
    private readonly Wire _wire;
    private readonly long _origin;
    private long _until;
    private bool _attached;

    /// <exception cref="ArgumentException">The site contradicts itself: addresses outside 1–127 or taken twice, a bit rate without a whole bit time, a fault of an unknown node.</exception>
    public SiteSimulation(Site site)
    {
        Site = site;
        _origin = (long)site.WarmUp.TotalNanoseconds;
        _stage = new(site, _origin);
        _wire = _stage.Wire;
        _until = _origin;
        _stage.PowerOn();
        if (_origin > 0)
        {
            _wire.Run(_origin - 1);
        }
    }

    public Site Site { get; }

    /// <summary>What is and will be the matter, in the order of the site's faults.</summary>
    public IReadOnlyList<GroundTruth> Truth => _stage.Truth;

    /// <summary>True time of the site, labelled as the stamps are.</summary>
    public Instant Now => new(Site.Start.Nanoseconds + _until - _origin);

    public SimulationCounts Counts => new(
        _wire.FramesSent,
        _wire.Controllers.Sum(controller => controller.FailedAttempts),
        _stage.Observer.FramesHanded,
        _stage.Observer.FramesLost,
        _wire.FramesJumped,
        _wire.BitsPlayed,
        _wire.BitsInverted);

    internal Stage Stage => _stage;

    /// <summary>From now on this sink hears the site.</summary>
    public void Attach(IFrameSink sink)
    {
        _stage.Observer.Attach(sink);
        if (!_attached)
        {
            _attached = true;
            _stage.Observer.AnnounceState();
        }
    }

    /// <summary>From now on this sink reads the sensors of our board, in between the frames.</summary>
    public void Attach(IGaugeSink sink) => _stage.Gauges.Sink = sink;

    /// <summary>Goes on for this long.</summary>
    public void Step(TimeSpan duration)
    {
        _until += (long)duration.TotalNanoseconds;
        _wire.Run(_until);
    }

    /// <summary>Goes on for this long and hands everything to <paramref name="sink"/>.</summary>
    public void Run(IFrameSink sink, TimeSpan duration)
    {
        Attach(sink);
        Step(duration);
        _stage.Observer.Flush();
    }
}

/// <summary>
/// Since the beginning, warm-up included. <paramref name="FramesHanded"/> contains error messages; frames were jumped over whole where nothing could disturb them,
/// otherwise played bit by bit.
/// </summary>
public sealed record SimulationCounts(
    long FramesSent,
    long FailedAttempts,
    long FramesHanded,
    long FramesLost,
    long FramesJumped,
    long BitsPlayed,
    long BitsInverted);
