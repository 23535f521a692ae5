namespace Diagnostics.Simulation;

/// <summary>Draws faults for a site from a seed, to measure how often the analysis is right.</summary>
public static class RandomFault
{
    /// <summary>Findings of the catalogue that <see cref="Create"/> can cause.</summary>
    public static IReadOnlyList<string> Findings { get; } =
    [
        "bus.error-rate", "bus.error-burst", "bus.no-acknowledge", "bus.bit-rate-mismatch", "bus.no-traffic", "bus.restarted", "bus.flood", "bus.load-high",
        "bus.not-seen", "node.silent", "node.restarted", "node.unstable", "node.duplicate-address", "node.errors", "node.reports-fault", "cable.intermittent",
        "input.chatter", "input.flapping", "input.stuck", "input.unanswered", "output.refused", "output.unexplained", "output.contested",
    ];

    /// <summary>A fault that should lead to <paramref name="finding"/>; null where this site has nothing it could befall
    /// (no button, no output read back) or where it could show in nothing (nodes that never speak by themselves).</summary>
    /// <exception cref="ArgumentOutOfRangeException">The finding isn't in <see cref="Findings"/>.</exception>
    public static Fault? Create(Site site, string finding, ulong seed, TimeSpan start, TimeSpan? end = null)
    {
        Randomness chance = new(seed, "fault " + finding);
        ModulePlan[] running = [.. site.Modules.Where(module => module.IsPoweredAtStart && module.PoweredBy is null)];
        if (finding is "bus.no-acknowledge" or "bus.no-traffic" or "node.silent" or "node.errors" or "cable.intermittent")
        {
            // Who never speaks by himself can't be missed, nor does he repeat anything. Guarding makes him speak as long as he is asked.
            bool guarded = site.Controller is { GuardMilliseconds: > 0 } && finding != "bus.no-acknowledge";
            running = [.. running.Where(module => guarded || module.HeartbeatMilliseconds > 0 || module.EventTimerMilliseconds > 0)];
        }

        if (running.Length == 0)
        {
            return null;
        }

        int node = running[chance.Below(running.Length)].Address;
        Fault? fault = finding switch
        {
            "bus.error-rate" => new BusNoise(Math.Pow(10, chance.Between(-5.5, -4))),
            "bus.error-burst" => new BurstInterference(chance.Between(0.3, 0.9)),
            "bus.no-acknowledge" => new SenderAlone(node),
            "bus.bit-rate-mismatch" => new WrongBitRate(node, WrongRate(site.BitRate, chance)),
            "bus.no-traffic" => chance.Chance(0.5) ? new AdapterUnplugged() : new SiteWithoutPower(),
            "bus.restarted" => new SupplyDip([.. running.Select(module => module.Address)]),
            "bus.flood" => new Babbler(node, 0x180u + (uint)node) { Gap = TimeSpan.FromSeconds(chance.Between(250, 600) / site.BitRate) },
            "bus.load-high" => new HighLoad(chance.Between(0.8, 0.95)),
            "bus.not-seen" => new LostFrames(chance.Between(0.02, 0.3)),
            "node.silent" => chance.Below(3) switch
            {
                0 => new NodeHang(node),
                1 => new NodeWithoutPower(node),
                _ => new OpenDrop(node),
            },
            "node.restarted" => new WatchdogRestarts(node) { MeanBetween = TimeSpan.FromMinutes(chance.Between(4, 15)) },
            "node.unstable" => new NodeComesAndGoes(node),
            "node.duplicate-address" => new DuplicateAddress(node)
            {
                Oscillator = new(Math.Clamp(20 * chance.Gaussian(), -50, 50)),
                Serial = 90_000u + (uint)chance.Below(9_000),
                StartsItself = chance.Chance(0.5),
            },
            "node.errors" => new BadDrop(node, Math.Pow(10, chance.Between(-3.3, -2.5))),
            "node.reports-fault" => new EmergencyReport(node, new ushort[] { 0x2310, 0x2320, 0x3120, 0x4210, 0x5030, 0x8110 }[chance.Below(6)], 0x01),
            "cable.intermittent" => chance.Chance(0.6) || running.Length < 4
                ? new IntermittentDrop(node)
                : new IntermittentTrunk(running[1 + chance.Below(running.Length - 3)].Address),
            _ => CreateAtTerminal(site, running, finding, chance),
        };
        return fault is null ? null : fault with { Start = start, End = end };
    }

    /// <summary>One of each kind of event that must never be called a fault, spread evenly over the time from start to end.</summary>
    public static IReadOnlyList<Fault> Benign(Site site, ulong seed, TimeSpan start, TimeSpan end)
    {
        Randomness chance = new(seed, "benign");
        ModulePlan[] modules = [.. site.Modules.Where(module => module.IsPoweredAtStart && module.PoweredBy is null)];
        int Node() => modules[chance.Below(modules.Length)].Address;
        ModulePlan replaced = modules[chance.Below(modules.Length)];
        ModulePlan rewritten = modules[chance.Below(modules.Length)];
        List<Fault> faults =
        [
            new CommandedReset(Node()),
            new FirmwareDownload(Node()),
            new ChildrenPlay([.. modules.Where(module => module.Inputs.Count > 0).Take(2).Select(module => module.Address)]),
            new ModuleReplaced(replaced.Address, replaced.Serial + 1),
            new CommandedReset(0),
        ];
        if (rewritten.HeartbeatMilliseconds > 0)
        {
            faults.Add(new HeartbeatWritten(rewritten.Address, rewritten.HeartbeatMilliseconds * 2));
        }

        TimeSpan step = (end - start) / faults.Count;
        return [.. faults.Select((fault, index) => fault with
        {
            Start = start + (step * index),
            End = fault is ChildrenPlay or ModuleReplaced ? start + (step * index) + (step * 0.6) : null,
        })];
    }

    private static int WrongRate(int bitRate, Randomness chance)
    {
        int[] rates = [.. new[] { 20_000, 50_000, 100_000, 125_000, 250_000, 500_000 }.Where(rate => rate != bitRate && rate < bitRate * 5 && rate * 5 > bitRate)];
        return rates[chance.Below(rates.Length)];
    }

    private static Fault? CreateAtTerminal(Site site, ModulePlan[] running, string finding, Randomness chance)
    {
        (int Node, int Input)[] buttons = [.. running.SelectMany(module => module.Inputs.Where(input => input.Kind == ContactKind.PushButton).Select(input => (module.Address, input.Input)))];
        (int Node, int Output)[] outputs = [.. running.Where(module => module.ReadsOutputsBack).SelectMany(module => module.Outputs.Select(output => (module.Address, output.Output)))];
        (int Node, int Output)[] commanded = [.. outputs.Where(output => site.Rules.Any(rule => rule.ToNode == output.Node && rule.ToOutput == output.Output))];
        (int Node, int Input)[] ruled = [.. buttons.Where(button => site.Rules.Any(rule => rule.FromNode == button.Node && rule.FromInput == button.Input))];
        return finding switch
        {
            "input.chatter" => Pick(buttons, chance) is var (node, input) ? new WornContact(node, input, chance.Between(1, 3)) : null,
            "input.flapping" => Pick(buttons, chance) is var (node, input) ? new FlappingInput(node, input) : null,
            "input.stuck" => Pick(buttons, chance) is var (node, input) ? new StuckInput(node, input) : null,
            "input.unanswered" => Pick(ruled, chance) is var (node, input) ? new InputUnanswered(node, input) : null,
            "output.refused" => Pick(commanded, chance) is var (node, output) ? new OutputRefuses(node, output) : null,
            "output.unexplained" => Pick(outputs, chance) is var (node, output) ? new OutputMovesByItself(node, output) : null,
            "output.contested" => Pick(outputs, chance) is var (node, output) ? new OutputContested(node, output) : null,
            _ => throw new ArgumentOutOfRangeException(nameof(finding), finding, "No fault is known that causes this finding."),
        };
    }

    private static (int Node, int Number)? Pick((int Node, int Number)[] from, Randomness chance) =>
        from.Length == 0 ? null : from[chance.Below(from.Length)];
}
