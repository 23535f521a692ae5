using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>
/// What is staged on the sites. "Plain" severity: as a technician would meet it when called. Faults begin two minutes in, so that the site's habit is known.
/// </summary>
internal static class Scenarios
{
    private static readonly TimeSpan Begin = TimeSpan.FromMinutes(2);

    private static TimeSpan Minutes(double minutes) => TimeSpan.FromMinutes(minutes);

    public static readonly IReadOnlyList<Scenario> Faulty =
    [
        new("node hangs", "node.silent", Minutes(5), (_, node) => [new NodeHang(node) { Start = Begin }]),
        new("node loses its supply", "node.silent", Minutes(5), (_, node) => [new NodeWithoutPower(node) { Start = Begin }]),
        new("drop open", "node.silent", Minutes(5), (_, node) => [new OpenDrop(node) { Start = Begin }], "node.errors", "bus.error-burst", "bus.error-rate", "bus.off"),
        new("address set twice", "node.duplicate-address", Minutes(10), (_, node) => [new DuplicateAddress(node) { Start = Begin }], "node.restarted", "node.errors", "bus.error-burst", "bus.error-rate", "node.replaced", "node.reports-fault"),
        new("watchdog restarts", "node.restarted", Minutes(15), (_, node) => [new WatchdogRestarts(node) { Start = Begin }], "node.unstable"),
        new("node comes and goes", "node.unstable", Minutes(20), (_, node) => [new NodeComesAndGoes(node) { Start = Begin }], "node.silent", "node.restarted"),
        new("supply dip of three nodes", "node.restarted", Minutes(5), (site, node) => [new SupplyDip([node, site.Modules[0].Address == node ? site.Modules[1].Address : site.Modules[0].Address]) { Start = Begin }], "bus.restarted"),
        new("site without power", "bus.no-traffic", Minutes(6), (_, _) => [new SiteWithoutPower { Start = Begin, End = Begin + TimeSpan.FromSeconds(40) }], "bus.restarted"),
        new("power comes back", "bus.restarted", Minutes(6), (_, _) => [new SiteWithoutPower { Start = Begin, End = Begin + TimeSpan.FromSeconds(40) }], "bus.no-traffic"),
        new("bad drop", "node.errors", Minutes(30), (_, node) => [new BadDrop(node, 2e-4) { Start = Begin }], "bus.error-rate", "bus.error-burst"),
        new("noise on the bus", "bus.error-rate", Minutes(20), (_, _) => [new BusNoise(5e-5) { Start = Begin }], "bus.error-burst"),
        new("bursts of interference", "bus.error-burst", Minutes(15), (_, _) => [new BurstInterference { Start = Begin, End = Begin + Minutes(5) }], "bus.error-rate", "node.silent", "bus.off", "bus.bit-rate-mismatch", "node.reports-fault", "node.unstable", "node.restarted", "node.errors"),
        new("intermittent drop", "node.errors", Minutes(20), (_, node) => [new IntermittentDrop(node) { Start = Begin }], "bus.error-rate", "bus.error-burst", "node.silent", "bus.off", "node.unstable"),
        new("sender alone", "bus.no-acknowledge", Minutes(4), (_, node) => [new SenderAlone(node) { Start = Begin }], "node.silent", "bus.error-rate", "bus.flood", "bus.load-high", "bus.error-burst", "node.errors", "bus.no-traffic"),
        new("wrong bit rate at one node", "bus.bit-rate-mismatch", Minutes(6), (site, node) => [new WrongBitRate(node, site.BitRate == 125_000 ? 250_000 : 125_000) { Start = Begin }], "node.silent", "bus.error-rate", "bus.error-burst", "bus.off", "bus.no-traffic", "node.reports-fault", "node.restarted", "node.errors", "bus.restarted", "node.unstable"),
        new("babbling sender", "bus.flood", Minutes(5), (site, node) => [new Babbler(node, 0x180u + (uint)node) { Start = Begin, Gap = TimeSpan.FromSeconds(150.0 / site.BitRate) }], "bus.load-high", "node.silent", "node.reports-fault", "node.unstable"),
        new("high load", "bus.load-high", Minutes(5), (_, _) => [new HighLoad(0.8) { Start = Begin }], "bus.flood", "node.silent"),
        new("emergency message", "node.reports-fault", Minutes(4), (_, node) => [new EmergencyReport(node) { Start = Begin }]),
        new("worn contact", "input.chatter", Minutes(90), (_, node) => [new WornContact(node, 1, 2) { Start = Begin }]),
        new("leaky input", "input.flapping", Minutes(40), (_, node) => [new FlappingInput(node, 1) { Start = Begin }], "input.chatter"),
        new("held button", "input.stuck", Minutes(120), (_, node) => [new StuckInput(node, 1) { Start = Minutes(60) }]),
    ];

    public static readonly IReadOnlyList<Scenario> Clean =
    [
        new("nothing", null, Minutes(60), (_, _) => []),
        new("module replaced", null, Minutes(6), (_, node) => [new ModuleReplaced(node, 77_123) { Start = Begin, End = Begin + TimeSpan.FromSeconds(50) }], "node.silent", "node.replaced"),
        new("commanded reset of one", null, Minutes(5), (_, node) => [new CommandedReset(node) { Start = Begin }]),
        new("commanded reset of all", null, Minutes(5), (_, _) => [new CommandedReset(0) { Start = Begin }]),
        new("heartbeat time written", null, Minutes(8), (_, node) => [new HeartbeatWritten(node, 10_000) { Start = Begin }]),
        new("firmware download", null, Minutes(8), (_, node) => [new FirmwareDownload(node) { Start = Begin }]),
        new("children play", null, Minutes(20), (_, node) => [new ChildrenPlay([node]) { Start = Begin, End = Begin + Minutes(6) }]),
        new("clock steps forward", null, Minutes(6), (_, _) => [new ClockStep(TimeSpan.FromHours(1)) { Start = Begin }]),
        new("stamps shuffled", null, Minutes(10), (_, _) => [new ShuffledStamps(TimeSpan.FromMilliseconds(20)) { Start = Begin }]),
        new("frames lost", null, Minutes(20), (_, _) => [new LostFrames(0.3) { Start = Begin }], "bus.not-seen"),
        new("errors at a production line's rate", null, Minutes(60), (_, _) => [new BusNoise(3.1e-9)]),
    ];
}
