using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>
/// The library on an ordinary working day, with a few things going wrong in the first simulated hours: a button wears out, a drop cable goes bad,
/// a joint of the supply loosens so that relays that pull in draw it down, a module drops off, and after a swap two modules share an address.
/// Sensors at the supply, the lines and the air tell of it, as a board has them.
/// </summary>
public static class DemoSite
{
    /// <summary>All that is staged has begun by then.</summary>
    public static readonly TimeSpan Length = TimeSpan.FromHours(4);

    /// <summary>All modules draw 0.5 A, and a relay that pulls in 0.8 A more: 20 V are left, less than a supply of 24 V may have and more than modules need, even where two pull in at once.</summary>
    private const double JointOhms = 2.6;

    /// <summary>Two rows of line levels a second are enough, and keep a demo of hours in minutes; a dip of the supply is 40 ms long.</summary>
    private static IReadOnlyList<GaugePlan> Gauges { get; } =
    [
        .. WrenfieldLibrary.SupplyGauges.Select(gauge => gauge with { Period = TimeSpan.FromMilliseconds(20) }),
        new(Gauge.SupplyAmperes) { Period = TimeSpan.FromMilliseconds(200), Noise = 0.005 },
        .. WrenfieldLibrary.LineGauges.Select(gauge => gauge with { Period = TimeSpan.FromMilliseconds(500) }),
        .. WrenfieldLibrary.AirGauges,
    ];

    public static Site Create(ulong seed = 1) => WrenfieldLibrary.Create(seed) with
    {
        Start = Instant.FromDateTime(new(2026, 1, 5, 9, 0, 0, TimeSpan.Zero)),
        People = new() { Activity = 3 },
        Supply = WrenfieldLibrary.Supply,
        Gauges = Gauges,
        Faults =
        [
            new WornContact(5, 1, 2.5) { Start = TimeSpan.FromMinutes(20) },
            new BadDrop(9, 1.2e-3) { Start = TimeSpan.FromMinutes(45) },
            new SupplyJoint(JointOhms) { Start = TimeSpan.FromMinutes(65), End = TimeSpan.FromMinutes(85) },
            new NodeWithoutPower(13) { Start = TimeSpan.FromMinutes(95) },
            new DuplicateAddress(7) { Start = TimeSpan.FromMinutes(150), Oscillator = new(37) },
            new EmergencyReport(12) { Start = TimeSpan.FromMinutes(185), End = TimeSpan.FromMinutes(200) },
            new ChildrenPlay([1]) { Start = TimeSpan.FromMinutes(210), End = TimeSpan.FromMinutes(214) },
        ],
    };
}
