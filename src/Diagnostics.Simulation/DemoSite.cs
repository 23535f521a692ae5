using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>
/// The library on an ordinary working day, with a few things going wrong in the first simulated hours: a button wears out, a drop cable goes bad,
/// a module drops off, and after a swap two modules share an address.
/// </summary>
public static class DemoSite
{
    /// <summary>All that is staged has begun by then.</summary>
    public static readonly TimeSpan Length = TimeSpan.FromHours(4);

    public static Site Create(ulong seed = 1) => WrenfieldLibrary.Create(seed) with
    {
        Start = Instant.FromDateTime(new(2026, 1, 5, 9, 0, 0, TimeSpan.Zero)),
        People = new() { Activity = 3 },
        Faults =
        [
            new WornContact(5, 1, 2.5) { Start = TimeSpan.FromMinutes(20) },
            new BadDrop(9, 1.2e-3) { Start = TimeSpan.FromMinutes(45) },
            new NodeWithoutPower(13) { Start = TimeSpan.FromMinutes(95) },
            new DuplicateAddress(7) { Start = TimeSpan.FromMinutes(150), Oscillator = new(37) },
            new EmergencyReport(12) { Start = TimeSpan.FromMinutes(185), End = TimeSpan.FromMinutes(200) },
            new ChildrenPlay([1]) { Start = TimeSpan.FromMinutes(210), End = TimeSpan.FromMinutes(214) },
        ],
    };
}
