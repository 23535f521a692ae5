namespace Diagnostics.Simulation;

/// <summary>The invented "Wrenfield community library": reading room, workshop, café and plant room, 14 CANopen modules on one cable at 125 kbit/s.</summary>
public static class WrenfieldLibrary
{
    /// <summary>Fed in the plant room's cabinet, ten metres before the first module.</summary>
    public static SupplyPlan Supply { get; } = new();

    /// <summary>A sensor for the supply.</summary>
    public static IReadOnlyList<GaugePlan> SupplyGauges { get; } =
        [new(Gauge.SupplyVolts) { Period = TimeSpan.FromMilliseconds(10), Window = TimeSpan.FromMilliseconds(8.2), Noise = 0.01 }];

    /// <summary>Sensors for the lines, one after the other.</summary>
    public static IReadOnlyList<GaugePlan> LineGauges { get; } = [new(Gauge.LineHighVolts), new(Gauge.LineLowVolts), new(Gauge.LineDifferenceVolts)];

    public static IReadOnlyList<GaugePlan> AirGauges { get; } =
    [
        new(Gauge.AirCelsius) { Period = TimeSpan.FromSeconds(10), Window = TimeSpan.FromMilliseconds(10), Noise = 0.02 },
        new(Gauge.AirHumidityRatio) { Period = TimeSpan.FromSeconds(10), Window = TimeSpan.FromMilliseconds(10), Noise = 0.002 },
    ];

    public static Site Create(ulong seed = 1)
    {
        Randomness chance = new(seed, "Wrenfield");
        List<ModulePlan> modules = [];
        void Add(int address, string name, string product, uint productCode, double metres, InputPlan[] inputs, OutputPlan[] outputs, bool readsBack = true) =>
            modules.Add(new()
            {
                Address = address,
                Name = name,
                ProductName = product,
                Product = productCode,
                Serial = 26_000 + ((uint)address * 37),
                Metres = metres,
                Inputs = inputs,
                Outputs = outputs,
                ReadsOutputsBack = readsBack && outputs.Length > 0,
                Oscillator = new(Math.Clamp(20 * chance.Gaussian(), -50, 50)) { WanderPartsPerMillion = chance.Between(0.3, 2), WanderPhase = chance.Between(0, 6.28) },
            });

        const uint Buttons = 0x101;
        const uint Relays = 0x201;
        const uint Dimmers = 0x301;
        const uint Mixed = 0x401;

        // Reading room
        Add(1, "reading room buttons", "Push-button panel 8", Buttons, 0,
            [new(1, "door, upper", PressesPerHour: 14), new(2, "door, lower", PressesPerHour: 10), new(3, "window row", PressesPerHour: 6), new(4, "desk lamps", PressesPerHour: 6)], []);
        Add(2, "reading room dimmers", "Dimmer 4", Dimmers, 9,
            [], [new(1, "ceiling front", true), new(2, "ceiling back", true), new(3, "window row", true), new(4, "desk lamps", true)]);
        Add(3, "reading room sensors", "Input module 8", Buttons, 7,
            [new(1, "motion, entrance", ContactKind.Motion, 12), new(2, "motion, shelves", ContactKind.Motion, 10), new(3, "window contact", ContactKind.Contact, 1)], []);
        Add(4, "reading room blinds", "Relay module 8", Relays, 5,
            [], [new(1, "blind 1 up"), new(2, "blind 1 down"), new(3, "blind 2 up"), new(4, "blind 2 down")]);

        // Workshop
        Add(5, "workshop buttons", "Push-button panel 8", Buttons, 12.5,
            [new(1, "door, upper", PressesPerHour: 12), new(2, "door, lower", PressesPerHour: 6), new(3, "bench left", PressesPerHour: 8), new(4, "bench right", PressesPerHour: 8)], []);
        Add(6, "workshop relays", "Relay module 8", Relays, 4,
            [], [new(1, "bench lights"), new(2, "ceiling"), new(3, "extraction fan"), new(4, "bench sockets")]);
        Add(7, "workshop tool panel", "Mixed module 8/8", Mixed, 8,
            [new(1, "tool release", ContactKind.Switch, 3), new(2, "dust lid", ContactKind.Contact, 3)], [new(1, "release lamp"), new(2, "horn")]);

        // Café
        Add(8, "café buttons", "Push-button panel 8", Buttons, 14,
            [new(1, "counter", PressesPerHour: 16), new(2, "tables", PressesPerHour: 10), new(3, "terrace", PressesPerHour: 5), new(4, "menu board", PressesPerHour: 3)], []);
        Add(9, "café dimmers", "Dimmer 4", Dimmers, 6,
            [], [new(1, "counter", true), new(2, "tables", true), new(3, "terrace", true)]);
        Add(10, "café relays", "Relay module 8", Relays, 3,
            [], [new(1, "menu board"), new(2, "dish washer valve"), new(3, "terrace heater")]);
        Add(11, "café door", "Input module 8", Buttons, 11,
            [new(1, "door contact", ContactKind.Contact, 20), new(2, "motion", ContactKind.Motion, 14)], []);

        // Plant room
        Add(12, "plant room pumps", "Mixed module 8/8", Mixed, 18,
            [new(1, "pump 1 running", ContactKind.Contact, 2), new(2, "pump 2 running", ContactKind.Contact, 2)], [new(1, "pump 1"), new(2, "pump 2")]);
        Add(13, "plant room ventilation", "Relay module 8", Relays, 3,
            [], [new(1, "supply fan"), new(2, "exhaust fan"), new(3, "damper")]);
        Add(14, "plant room alarms", "Input module 8", Buttons, 6,
            [new(1, "filter", ContactKind.Contact, 0.2), new(2, "door", ContactKind.Contact, 2), new(3, "test button", ContactKind.PushButton, 0.5)], []);

        return new()
        {
            Name = "Wrenfield community library",
            BitRate = 125_000,
            Seed = seed,
            Modules = modules,
            Rules =
            [
                new(1, 1, 2, 1), new(1, 1, 2, 4, LongPress: true), new(1, 2, 2, 2), new(1, 3, 2, 3), new(1, 4, 2, 4),
                new(5, 1, 6, 2), new(5, 2, 6, 3), new(5, 3, 6, 1), new(5, 4, 6, 4), new(7, 1, 7, 1),
                new(8, 1, 9, 1), new(8, 2, 9, 2), new(8, 3, 9, 3), new(8, 4, 10, 1),
                new(14, 3, 7, 2),
            ],
        };
    }
}
