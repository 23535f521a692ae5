namespace Diagnostics.Simulation;

/// <summary>How a device spaces its cyclic frames.</summary>
public enum HeartbeatSchedule
{
    /// <summary>next = start + n · period: a timer that never shifts.</summary>
    Grid,

    /// <summary>next = last sent + period: each delay shifts all that follow.</summary>
    Walk,
}

/// <summary>One CANopen input/output module of the site (CiA 301, CiA 401), as built.</summary>
public sealed record ModulePlan
{
    /// <summary>Node identifier, 1–127.</summary>
    public required int Address { get; init; }

    public required string Name { get; init; }

    /// <summary>Object 1008h.</summary>
    public string ProductName { get; init; } = "IO module";

    /// <summary>Object 100Ah.</summary>
    public string Firmware { get; init; } = "2.4.1";

    public uint Vendor { get; init; } = 0x0000_0FA0;

    public uint Product { get; init; } = 0x0000_0101;

    public uint Revision { get; init; } = 0x0002_0004;

    public uint Serial { get; init; } = 1;

    public IReadOnlyList<InputPlan> Inputs { get; init; } = [];

    public IReadOnlyList<OutputPlan> Outputs { get; init; } = [];

    public OscillatorPlan Oscillator { get; init; } = new(0);

    /// <summary>Object 1017h as stored in the device, ms; 0 = none.</summary>
    public int HeartbeatMilliseconds { get; init; } = 1000;

    public HeartbeatSchedule Schedule { get; init; } = HeartbeatSchedule.Grid;

    /// <summary>How late its software sends cyclic frames, standard deviation.</summary>
    public TimeSpan SoftwareJitter { get; init; } = TimeSpan.FromMicroseconds(200);

    /// <summary>Object 1800h sub 5: TPDO1 is sent when nothing changed for this long; 0 = only on change.</summary>
    public int EventTimerMilliseconds { get; init; }

    /// <summary>Least time between two TPDO1, ms (1800h sub 3).</summary>
    public int InhibitMilliseconds { get; init; }

    /// <summary>An input counts as changed once its level has stood still for this long; 0 = each level seen by the scan counts.</summary>
    public double InputFilterMilliseconds { get; init; } = 5;

    /// <summary>TPDO2 carries the outputs back when they change.</summary>
    public bool ReadsOutputsBack { get; init; }

    /// <summary>Goes operational by itself after boot-up.</summary>
    public bool StartsItself { get; init; }

    public bool RestartsAfterBusOff { get; init; } = true;

    /// <summary>From power-on to the boot-up message.</summary>
    public int BootMilliseconds { get; init; } = 300;

    /// <summary>Also sends TPDO1 at every n-th SYNC; 0 = never.</summary>
    public int SynchronousEvery { get; init; }

    /// <summary>False for a device that is carried in later.</summary>
    public bool IsPoweredAtStart { get; init; } = true;

    /// <summary>Its supply hangs on this output of another module.</summary>
    public OutputReference? PoweredBy { get; init; }

    /// <summary>Cable from the module before, metres.</summary>
    public double Metres { get; init; } = 6;
}

/// <summary>What hangs on an input.</summary>
public enum ContactKind
{
    PushButton,
    Switch,
    Contact,
    Motion,
}

/// <summary>Input numbers count from 1: 8 · (sub-index − 1) + bit + 1 of 6000h. <paramref name="PressesPerHour"/> = at the busiest time of day.</summary>
public sealed record InputPlan(int Input, string Name, ContactKind Kind = ContactKind.PushButton, double PressesPerHour = 6);

/// <summary>Output numbers count from 1: 8 · (sub-index − 1) + bit + 1 of 6200h.</summary>
public sealed record OutputPlan(int Output, string Name, bool IsDimmer = false);

public readonly record struct OutputReference(int Node, int Output);

/// <summary>What the site's controller does when an input is pressed: a short or a long press (0.5 s and more) toggles an output.</summary>
public sealed record SwitchRule(int FromNode, int FromInput, int ToNode, int ToOutput, bool LongPress = false);
