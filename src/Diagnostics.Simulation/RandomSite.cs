namespace Diagnostics.Simulation;

/// <summary>How the nodes of a random site show that they are alive.</summary>
public enum Supervision
{
    Heartbeat,

    /// <summary>The controller asks by remote frames (CiA 301 node guarding).</summary>
    Guarding,

    /// <summary>Neither; only event timers may tell.</summary>
    None,
}

/// <summary>What is drawn at random is null.</summary>
public sealed record RandomSiteOptions
{
    /// <summary>5–60.</summary>
    public int? Nodes { get; init; }

    /// <summary>bit/s.</summary>
    public int? BitRate { get; init; }

    public Supervision? Supervision { get; init; }

    /// <summary>Modules with inputs send them again when nothing changed.</summary>
    public bool? EventTimers { get; init; }

    /// <summary>Modules with outputs read them back by TPDO2.</summary>
    public bool? ReadsOutputsBack { get; init; }

    public bool? Synchronous { get; init; }

    /// <summary>Resonators instead of crystals.</summary>
    public bool? Resonators { get; init; }
}

/// <summary>A site drawn from a seed, to measure how often the analysis is right on sites it was not made for.</summary>
public static class RandomSite
{
    private const int LeastNodes = 5;
    private const int MostNodes = 60;
    private static readonly int[] BitRates = [20_000, 50_000, 100_000, 125_000, 250_000];

    public static Site Create(ulong seed, RandomSiteOptions? options = null)
    {
        options ??= new();
        Randomness chance = new(seed, "random site");
        int bitRate = options.BitRate ?? BitRates[chance.Below(BitRates.Length)];

        // A slow bus carries few nodes; 60 heartbeats a second and their TPDOs would fill 20 kbit/s.
        int most = bitRate <= 20_000 ? 20 : bitRate <= 50_000 ? 40 : MostNodes;
        int count = Math.Clamp(options.Nodes ?? (LeastNodes + chance.Below(most - LeastNodes + 1)), LeastNodes, MostNodes);
        Supervision supervision = options.Supervision ?? (chance.Chance(0.7) ? Supervision.Heartbeat : chance.Chance(0.6) ? Supervision.Guarding : Supervision.None);
        bool eventTimers = options.EventTimers ?? chance.Chance(0.4);
        bool readsBack = options.ReadsOutputsBack ?? chance.Chance(0.6);
        bool synchronous = options.Synchronous ?? chance.Chance(0.15);
        bool resonators = options.Resonators ?? chance.Chance(0.15);
        int heartbeat = new[] { 500, 1000, 1000, 2000, 5000 }[chance.Below(5)] * (bitRate <= 20_000 ? 2 : 1);
        HeartbeatSchedule schedule = chance.Chance(0.7) ? HeartbeatSchedule.Grid : HeartbeatSchedule.Walk;

        List<int> addresses = [.. Enumerable.Range(1, 127)];
        List<ModulePlan> modules = [];
        for (int i = 0; i < count; i++)
        {
            int address = addresses[chance.Below(addresses.Count)];
            addresses.Remove(address);
            int kind = chance.Below(3);
            bool hasInputs = kind != 1;
            bool hasOutputs = kind != 0;
            modules.Add(new()
            {
                Address = address,
                Name = $"module {address}",
                ProductName = kind == 0 ? "Input module" : kind == 1 ? "Output module" : "Mixed module",
                Product = 0x500u + (uint)kind,
                Serial = 40_000u + (uint)chance.Below(1_000_000),
                Metres = Math.Round(chance.Between(1, 25), 1),
                Inputs = hasInputs ? DrawInputs(chance) : [],
                Outputs = hasOutputs ? [.. Enumerable.Range(1, 2 + chance.Below(6)).Select(output => new OutputPlan(output, $"output {output}", chance.Chance(0.3)))] : [],
                Oscillator = DrawOscillator(chance, resonators),
                HeartbeatMilliseconds = supervision == Supervision.Heartbeat ? heartbeat : 0,
                Schedule = schedule,
                SoftwareJitter = TimeSpan.FromMicroseconds(chance.Between(50, 800)),
                EventTimerMilliseconds = eventTimers && hasInputs ? 1000 * (1 + chance.Below(10)) * (bitRate <= 20_000 ? 2 : 1) : 0,
                ReadsOutputsBack = readsBack && hasOutputs,
                SynchronousEvery = synchronous && hasInputs ? 1 + chance.Below(5) : 0,
                BootMilliseconds = 150 + chance.Below(600),
            });
        }

        return new()
        {
            Name = $"site {seed}",
            BitRate = bitRate,
            Seed = seed,
            Modules = modules,
            Rules = DrawRules(modules, chance),
            Controller = new()
            {
                Oscillator = DrawOscillator(chance, false),
                SyncMilliseconds = synchronous ? 1000 : 0,
                GuardMilliseconds = supervision == Supervision.Guarding ? 2000 * (bitRate <= 20_000 ? 2 : 1) : 0,
            },
            Observer = new() { PartsPerMillion = 20 * chance.Gaussian() },
            Start = new Site { Name = string.Empty, BitRate = bitRate, Modules = [] }.Start + TimeSpan.FromHours(chance.Below(14)),

            // Slow buses take longer until the controller has read every identity.
            WarmUp = TimeSpan.FromSeconds(bitRate <= 50_000 ? 90 : 45),
        };
    }

    private static InputPlan[] DrawInputs(Randomness chance)
    {
        InputPlan[] inputs = new InputPlan[2 + chance.Below(6)];
        for (int i = 0; i < inputs.Length; i++)
        {
            double draw = chance.Unit();
            ContactKind kind = draw < 0.6 ? ContactKind.PushButton : draw < 0.75 ? ContactKind.Switch : draw < 0.9 ? ContactKind.Contact : ContactKind.Motion;
            inputs[i] = new(i + 1, $"input {i + 1}", kind, chance.Between(0.5, 15));
        }

        return inputs;
    }

    /// <summary>Crystals within ±50 ppm, ceramic resonators within ±0.3 % (common practice, no source).</summary>
    private static OscillatorPlan DrawOscillator(Randomness chance, bool resonator) =>
        new(resonator ? chance.Between(-3000, 3000) : Math.Clamp(20 * chance.Gaussian(), -50, 50))
        {
            WanderPartsPerMillion = resonator ? chance.Between(20, 200) : chance.Between(0.2, 3),
            WanderPhase = chance.Between(0, 2 * Math.PI),
        };

    private static List<SwitchRule> DrawRules(List<ModulePlan> modules, Randomness chance)
    {
        (int Node, int Output)[] outputs = [.. modules.SelectMany(module => module.Outputs.Select(output => (module.Address, output.Output)))];
        List<SwitchRule> rules = [];
        if (outputs.Length == 0)
        {
            return rules;
        }

        foreach (ModulePlan module in modules)
        {
            foreach (InputPlan input in module.Inputs.Where(input => input.Kind is ContactKind.PushButton or ContactKind.Switch))
            {
                (int node, int output) = outputs[chance.Below(outputs.Length)];
                rules.Add(new(module.Address, input.Input, node, output));
                if (input.Kind == ContactKind.PushButton && chance.Chance(0.2))
                {
                    (node, output) = outputs[chance.Below(outputs.Length)];
                    rules.Add(new(module.Address, input.Input, node, output, LongPress: true));
                }
            }
        }

        return rules;
    }
}
