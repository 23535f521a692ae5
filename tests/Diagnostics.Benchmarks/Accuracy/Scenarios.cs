using Diagnostics.Simulation;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>
/// What is staged on the sites. "Plain" severity: as a technician would meet it when called. Faults begin two minutes in, so that the site's habit is known.
/// </summary>
internal static class Scenarios
{
    /// <summary>A drop that spoils one frame in about fourteen; and a count that no chance of the draw brings below what the analysis needs.</summary>
    private const double BadDropRatio = 1e-3;
    private const double PlainlySpoiled = 15;

    /// <summary>No frame gets through.</summary>
    private const double Shorted = 0.3;

    /// <summary>Four of ten errors on one of 30 equal nodes are significant (binomial, 1 % after Holm).</summary>
    private const double EnoughToName = 10;

    private static readonly TimeSpan Begin = TimeSpan.FromMinutes(2);
    private static readonly TimeSpan Outage = TimeSpan.FromMinutes(2);
    private static readonly TimeSpan Short = TimeSpan.FromSeconds(30);

    /// <summary>What follows for the whole site from a short of that length.</summary>
    private static readonly string[] OfAShort = ["bus.error-passive", "bus.off", "bus.error-rate", "bus.error-burst", "bus.bit-rate-mismatch", "node.silent", "node.errors", "node.reports-fault", "bus.no-traffic", "node.unstable"];

    public static readonly IReadOnlyList<Scenario> Faulty =
    [
        new("node hangs", "node.silent", Minutes(5), (_, node) => [new NodeHang(node) { Start = Begin }])
        {
            CanShow = Noticeable.IsRegular,
            Rule = "the node sends something regularly",
        },
        new("node loses its supply", "node.silent", Minutes(5), (_, node) => [new NodeWithoutPower(node) { Start = Begin }], "node.errors")
        {
            CanShow = Noticeable.IsRegular,
            Rule = "the node sends something regularly",
        },
        new("node hangs that only confirms commands", "node.silent", Minutes(360), (_, node) => [new NodeHang(node) { Start = Minutes(180) }])
        {
            Options = new() { Supervision = Supervision.None, EventTimers = false, Synchronous = false, ReadsOutputsBack = true },
            CanShow = (site, module) => Noticeable.IsCommanded(site, module, 30, Minutes(180)),
            Rule = "30 commands to its outputs before and after, on average, a fifth of them not to the one that is used most",
        },
        new("drop open", "node.silent", Minutes(5), (_, node) => [new OpenDrop(node) { Start = Begin }], "node.errors", "bus.error-burst", "bus.error-rate", "bus.off")
        {
            CanShow = Noticeable.IsRegular,
            Rule = "the node sends something regularly",
        },
        new("address set twice", "node.duplicate-address", Minutes(10), (_, node) => [new DuplicateAddress(node) { Start = Begin }], "node.restarted", "node.errors", "bus.error-burst", "bus.error-rate", "node.replaced", "node.reports-fault")
        {
            CanShow = (_, module) => Noticeable.OwnRate(module) > 0,
            Rule = "the node sends something by a timer of its own",
        },
        new("watchdog restarts", "node.restarted", Minutes(15), (_, node) => [new WatchdogRestarts(node) { Start = Begin }], "node.unstable"),
        new("node comes and goes", "node.unstable", Minutes(20), (_, node) => [new NodeComesAndGoes(node) { Start = Begin }], "node.silent", "node.restarted", "node.errors"),
        new("supply dip of two nodes", "node.restarted", Minutes(5), (site, node) => [new SupplyDip([node, site.Modules[0].Address == node ? site.Modules[1].Address : site.Modules[0].Address]) { Start = Begin }], "bus.restarted"),
        new("site without power", "bus.no-traffic", Minutes(8), (_, _) => [new SiteWithoutPower { Start = Begin, End = Begin + Outage }], "bus.restarted")
        {
            CanShow = Noticeable.AnyRegular,
            Rule = "something on the bus is regular",
        },
        new("power comes back", "bus.restarted", Minutes(8), (_, _) => [new SiteWithoutPower { Start = Begin, End = Begin + Outage }], "bus.no-traffic"),
        new("bad drop", "node.errors", Minutes(30), (_, node) => [new BadDrop(node, BadDropRatio) { Start = Begin }], "bus.error-rate", "bus.error-burst")
        {
            CanShow = (site, module) => Noticeable.SpoiledFrames(site, module, BadDropRatio, Minutes(28)) >= PlainlySpoiled && Noticeable.MakesLessThanHalf(site, module),
            Rule = "15 of its regular frames are spoiled on average, and it makes less than half of the traffic",
        },
        new("noise on the bus", "bus.error-rate", Minutes(20), (_, _) => [new BusNoise(5e-5) { Start = Begin }], "bus.error-burst")
        {
            CanShow = (site, _) => Noticeable.BusRate(site) * 1080 * 75 * 5e-5 >= PlainlySpoiled,
            Rule = "15 regular frames are spoiled on average",
        },
        new("bursts of interference", "bus.error-burst", Minutes(15), (_, _) => [new BurstInterference { Start = Begin, End = Begin + Minutes(5) }], "bus.error-rate", "node.silent", "bus.off", "bus.bit-rate-mismatch", "node.reports-fault", "node.unstable", "node.restarted", "node.errors")
        {
            // 15 ms in each 300 ms (IEC 61000-4-4): a twentieth of the frames meets a burst.
            CanShow = (site, _) => Noticeable.BusRate(site) * 300 / 20 >= 2 * PlainlySpoiled,
            Rule = "30 regular frames meet a burst on average",
        },
        new("intermittent drop, noticed", "bus.error-rate", Minutes(20), (_, node) => [new IntermittentDrop(node) { Start = Begin }], "node.errors", "bus.error-burst", "node.silent", "bus.off", "node.unstable", "node.reports-fault")
        {
            CanShow = (site, module) => Noticeable.CutFrames(site, module, 0.06, Minutes(18)) >= PlainlySpoiled,
            Rule = "15 of its regular frames are cut on average",
        },
        new("intermittent drop, node named", "node.errors", Minutes(20), (_, node) => [new IntermittentDrop(node) { Start = Begin }], "bus.error-rate", "bus.error-burst", "node.silent", "bus.off", "node.unstable", "node.reports-fault")
        {
            CanShow = (site, module) => Noticeable.CutFramesHeard(site, module, 0.06, Minutes(18)) >= EnoughToName && Noticeable.MakesLessThanHalf(site, module),
            Rule = "ten of the frames that it sends by a timer of its own are cut on average, and it makes less than half of the traffic",
        },
        new("sender alone", "bus.no-acknowledge", Minutes(4), (_, node) => [new SenderAlone(node) { Start = Begin }], "node.silent", "bus.error-rate", "bus.flood", "bus.load-high", "bus.error-burst", "node.errors", "bus.no-traffic")
        {
            CanShow = (_, module) => Noticeable.OwnRate(module) > 0,
            Rule = "the node sends something by a timer of its own",
        },
        new("wrong bit rate at one node", "bus.bit-rate-mismatch", Minutes(6), (site, node) => [new WrongBitRate(node, site.BitRate == 125_000 ? 250_000 : 125_000) { Start = Begin }], "node.silent", "bus.error-rate", "bus.error-burst", "bus.off", "bus.no-traffic", "node.reports-fault", "node.restarted", "node.errors", "bus.restarted", "node.unstable"),
        new("babbling sender", "bus.flood", Minutes(5), (site, node) => [new Babbler(node, 0x180u + (uint)node) { Start = Begin, Gap = TimeSpan.FromSeconds(150.0 / site.BitRate) }], "bus.load-high", "node.silent", "node.reports-fault", "node.unstable"),
        new("high load", "bus.load-high", Minutes(5), (_, _) => [new HighLoad(0.8) { Start = Begin }], "bus.flood", "node.silent"),
        new("node damaged until it cuts itself off", "bus.off", Minutes(5), (_, node) => [new BadDrop(node, Shorted) { Start = Begin }], "node.silent", "node.errors", "bus.error-rate", "bus.error-burst", "bus.bit-rate-mismatch")
        {
            Adapt = (site, node) => site with { Modules = [.. site.Modules.Select(module => module.Address == node ? module with { RestartsAfterBusOff = false } : module)] },
            CanShow = Noticeable.IsSupervised,
            Rule = "the node sends heartbeats or is guarded",
        },
        new("our adapter takes part and sends into a short", "bus.off", Minutes(4), (_, _) => [new BusNoise(Shorted) { Start = Begin, End = Begin + Short }, new OwnProgramSends(0x7F0)], OfAShort)
        {
            Adapt = TakingPart,
            IsOurs = true,
        },
        new("our adapter takes part and hears noise", "bus.error-passive", Minutes(4), (_, _) => [new BusNoise(0.05) { Start = Begin, End = Begin + Short }], OfAShort)
        {
            Adapt = TakingPart,
            IsOurs = true,
            CanShow = (site, _) => Noticeable.BusRate(site) * Short.TotalSeconds >= PlainlySpoiled,
            Rule = "15 regular frames are spoiled on average",
        },
        new("frames lost on our side", "bus.not-seen", Minutes(10), (_, _) => [new LostFrames(0.3) { Start = Begin }]),
        new("module exchanged", "node.replaced", Minutes(8), (_, node) => [Exchange(node)], "node.silent", "node.restarted", "node.firmware-differs") { Adapt = SwitchedOn },
        new("module exchanged for one of other firmware", "node.firmware-differs", Minutes(8), (_, node) => [Exchange(node)], "node.silent", "node.restarted", "node.replaced")
        {
            Adapt = SwitchedOn,
            CanShow = (site, module) => site.Modules.Count(other => other.Product == module.Product) >= 3,
            Rule = "two equal modules and more are beside it",
        },
        new("emergency message", "node.reports-fault", Minutes(4), (_, node) => [new EmergencyReport(node) { Start = Begin }]),
        new("worn contact", "input.chatter", Minutes(240), (site, node) => [new WornContact(node, Button(site, node), 2) { Start = Begin }])
        {
            // The module's filter lets one bounce in eight uses through, and three are needed: 15 uses would bring two.
            CanShow = (_, module) => Noticeable.IsUsed(module, 30, Minutes(238)),
            Rule = "a button of the node is used 30 times on average",
        },
        new("leaky input", "input.flapping", Minutes(40), (site, node) => [new FlappingInput(node, Button(site, node)) { Start = Begin }], "input.chatter")
        {
            CanShow = (_, module) => Noticeable.BusiestButton(module) is not null,
            Rule = "the node has a button",
        },
        new("held button", "input.stuck", Minutes(150), (site, node) => [new StuckInput(node, Button(site, node)) { Start = Minutes(120) }])
        {
            CanShow = (_, module) => Noticeable.IsUsed(module, 10, Minutes(120)),
            Rule = "a button of the node is used ten times before on average",
        },
    ];

    public static readonly IReadOnlyList<Scenario> Clean =
    [
        new("nothing", null, Minutes(60), (_, _) => []),
        new("module replaced", null, Minutes(6), (_, node) => [new ModuleReplaced(node, 77_123) { Start = Begin, End = Begin + TimeSpan.FromSeconds(50) }], "node.silent", "node.replaced", "node.restarted"),
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

    /// <summary>T5: a ratio in each class, each four times and more away from its edges (3.1e-9 and 2.6e-7) but the lowest, which no hour could tell from nothing.</summary>
    public static readonly IReadOnlyList<(double Ratio, string? Severity)> Grades = [(1e-9, null), (6e-8, "warning"), (5e-6, "fault")];

    /// <summary>So full that an hour holds enough bits to grade: about 4e8 at 250 kbit/s.</summary>
    public const double GradedLoad = 0.45;

    /// <summary>Switched on while we listen, so that the controller's reading of every identity is heard.</summary>
    private static Site SwitchedOn(Site site, int node) => site with { WarmUp = TimeSpan.Zero };

    private static Site TakingPart(Site site, int node) => site with { Observer = site.Observer with { ListenOnly = false, ReportsCounters = true } };

    private static ModuleReplaced Exchange(int node) => new(node, 77_123) { Firmware = "2.3.9", Start = 2 * Begin, End = (2 * Begin) + TimeSpan.FromSeconds(50) };

    private static TimeSpan Minutes(double minutes) => TimeSpan.FromMinutes(minutes);

    private static int Button(Site site, int node) =>
        Noticeable.BusiestButton(site.Modules.Single(module => module.Address == node))?.Input ?? 1;
}
