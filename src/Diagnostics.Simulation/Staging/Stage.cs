using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Staging;

/// <summary>Builds the devices of a site on one wire and lets its people and faults act on them.</summary>
internal sealed class Stage
{
    private readonly Dictionary<int, Module> _modules = [];
    private readonly long _origin;

    public Stage(Site site, long origin)
    {
        Validate(site);
        Site = site;
        _origin = origin;
        Timeline = new();
        Wire = new(Timeline, site.BitRate);
        if (site.Controller is not null)
        {
            Controller = new(site.Controller, site.Modules, site.Rules, Wire, Chance("controller"));
        }

        foreach (ModulePlan plan in site.Modules)
        {
            _modules[plan.Address] = new(plan, Wire, Chance("module " + plan.Address), "node " + plan.Address);
        }

        Observer = new(site.Observer, Wire, Chance("observer"), origin, site.Start);
        foreach (IGrouping<int, ModulePlan> feeders in site.Modules.Where(plan => plan.PoweredBy is not null).GroupBy(plan => plan.PoweredBy!.Value.Node))
        {
            Module[] fed = [.. feeders.Select(plan => _modules[plan.Address])];
            _modules[feeders.Key].OutputChanged += (output, on) => OnFeedingOutput(fed, output, on);
        }

        Supply = new(this);
        Line = new(this);
        Gauges = new(this);
        People = new(this, Chance("people"));
        Faults = new(this);
        Truth = Faults.Prepare();
    }

    public Site Site { get; }

    public Timeline Timeline { get; }

    public Wire Wire { get; }

    public SiteController? Controller { get; }

    public Observer Observer { get; }

    public SupplyNetwork Supply { get; }

    public LineMeter Line { get; }

    public GaugeReader Gauges { get; }

    public People People { get; }

    public FaultStaging Faults { get; }

    public IReadOnlyList<GroundTruth> Truth { get; }

    public IReadOnlyDictionary<int, Module> Modules => _modules;

    public Randomness Chance(string purpose) => new(Site.Seed, purpose);

    public long TimeOf(TimeSpan sinceStart) => _origin + (long)sinceStart.TotalNanoseconds;

    public Can.Instant LabelOf(long time) => new(Site.Start.Nanoseconds + time - _origin);

    /// <summary>Hour of the day as labelled, 0–24.</summary>
    public double HourOf(long time)
    {
        const double NanosecondsPerHour = 3600e9;
        double hours = LabelOf(time).Nanoseconds / NanosecondsPerHour;
        return hours - (Math.Floor(hours / 24) * 24);
    }

    public void PowerOn()
    {
        Wire.PowerOn(Observer.Controller);
        foreach (ModulePlan plan in Site.Modules)
        {
            if (plan.IsPoweredAtStart && plan.PoweredBy is null)
            {
                PowerOnSoon(_modules[plan.Address]);
            }
        }

        Controller?.PowerOn();
        Gauges.Begin();
        People.Begin();
        Faults.Begin();
    }

    /// <summary>No two supplies come up in the same instant.</summary>
    public void PowerOnSoon(Module module) =>
        Timeline.PhysicallyAt(Timeline.Now + (long)(Faults.Chance.Between(0, 20) * 1_000_000), module.PowerOn);

    private void OnFeedingOutput(Module[] fed, int output, bool on)
    {
        foreach (Module module in fed)
        {
            if (module.Plan.PoweredBy!.Value.Output != output)
            {
                continue;
            }

            // A relay takes some milliseconds, and the supply behind it has capacitors.
            Timeline.PhysicallyAt(Timeline.Now + 15_000_000, on ? module.PowerOn : module.PowerOff);
        }
    }

    private static void Validate(Site site)
    {
        if (site.BitRate <= 0 || 1_000_000_000 % site.BitRate != 0)
        {
            throw new ArgumentException("The bit rate must divide 1,000,000,000 bit/s, so that a bit has a whole number of nanoseconds.", nameof(site));
        }

        HashSet<int> addresses = [];
        foreach (ModulePlan plan in site.Modules)
        {
            if (plan.Address is < 1 or > 127 || !addresses.Add(plan.Address))
            {
                throw new ArgumentException($"Address {plan.Address} is outside 1–127 or taken twice.", nameof(site));
            }

            if (plan.Inputs.Any(input => input.Input is < 1 or > 64) || plan.Outputs.Any(output => output.Output is < 1 or > 64))
            {
                throw new ArgumentException($"Node {plan.Address} has an input or output outside 1–64.", nameof(site));
            }
        }
    }
}
