using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>A simulated site as built, with what is to happen to it. A plain value: change it with <c>with</c>.</summary>
public sealed record Site
{
    public required string Name { get; init; }

    /// <summary>bit/s; a divisor of 10⁹ so that a bit has a whole number of nanoseconds.</summary>
    public required int BitRate { get; init; }

    public ulong Seed { get; init; } = 1;

    /// <summary>The label of the visible start.</summary>
    public Instant Start { get; init; } = Instant.FromDateTime(new(2026, 1, 5, 6, 0, 0, TimeSpan.Zero));

    /// <summary>In cable order.</summary>
    public required IReadOnlyList<ModulePlan> Modules { get; init; }

    public ControllerPlan? Controller { get; init; } = new();

    public ObserverPlan Observer { get; init; } = new();

    public IReadOnlyList<SwitchRule> Rules { get; init; } = [];

    public PeoplePlan People { get; init; } = new();

    public IReadOnlyList<Fault> Faults { get; init; } = [];

    /// <summary>Null = a supply that never gives in.</summary>
    public SupplyPlan? Supply { get; init; }

    public LinePlan Line { get; init; } = new();

    public AirPlan Air { get; init; } = new();

    /// <summary>Sensors on our board.</summary>
    public IReadOnlyList<GaugePlan> Gauges { get; init; } = [];

    /// <summary>The site runs this long unheard before the visible start; zero = it is switched on at the visible start.</summary>
    public TimeSpan WarmUp { get; init; } = TimeSpan.FromSeconds(20);
}

/// <summary>How the people of the site use its buttons.</summary>
public sealed record PeoplePlan
{
    /// <summary>Scales every input's presses; 0 = nobody is there.</summary>
    public double Activity { get; init; } = 1;

    /// <summary>From open to close there is life, else next to none; hours of the site's label time.</summary>
    public double OpensAtHour { get; init; } = 7;

    public double ClosesAtHour { get; init; } = 21;
}
