namespace Diagnostics.Simulation;

/// <summary>
/// Something that happens to the site. It acts on bits, oscillators, contacts, supplies or software, never on what the observer makes of it
/// (but for the last group, which concerns our own side). Times count from the visible start; no <see cref="End"/> = it lasts.
/// </summary>
public abstract record Fault
{
    public TimeSpan Start { get; init; }

    public TimeSpan? End { get; init; }
}

// ---- the cable ---------------------------------------------------------------------------------------------------

/// <summary>Noise on every bit of the busy bus.</summary>
public sealed record BusNoise(double BitErrorRatio) : Fault;

/// <summary>A bad drop cable: what this node sends reaches the others with bit errors.</summary>
public sealed record BadDrop(int Node, double BitErrorRatio) : Fault;

/// <summary>Fast transients in bursts as in IEC 61000-4-4; each pulse spoils its bit with the given probability.</summary>
public sealed record BurstInterference(double PulseHitRatio = 0.5) : Fault;

/// <summary>The node's drop is open.</summary>
public sealed record OpenDrop(int Node) : Fault;

/// <summary>A contact in the node's drop is loose: it chatters in episodes at random.</summary>
public sealed record IntermittentDrop(int Node) : Fault
{
    public TimeSpan MeanBetween { get; init; } = TimeSpan.FromMilliseconds(800);

    /// <summary>Of one episode.</summary>
    public TimeSpan MeanOpen { get; init; } = TimeSpan.FromMilliseconds(50);
}

/// <summary>A joint of the trunk behind this node is loose: all further nodes leave together. The observer sits at the cable's beginning.</summary>
public sealed record IntermittentTrunk(int AfterNode) : Fault
{
    public TimeSpan MeanBetween { get; init; } = TimeSpan.FromSeconds(5);

    public TimeSpan MeanOpen { get; init; } = TimeSpan.FromMilliseconds(200);
}

/// <summary>All but one node are cut off, the controller too, so nobody acknowledges.</summary>
public sealed record SenderAlone(int Node) : Fault;

// ---- devices -----------------------------------------------------------------------------------------------------

/// <summary>The node is restarted with a wrong bit rate and is right again at the end.</summary>
public sealed record WrongBitRate(int Node, int BitRate) : Fault;

/// <summary>The node's software hangs; its controller still acknowledges.</summary>
public sealed record NodeHang(int Node) : Fault;

/// <summary>The node loses its supply until the end.</summary>
public sealed record NodeWithoutPower(int Node) : Fault;

/// <summary>The node's watchdog restarts it at random.</summary>
public sealed record WatchdogRestarts(int Node) : Fault
{
    public TimeSpan MeanBetween { get; init; } = TimeSpan.FromMinutes(3);
}

/// <summary>The node's supply comes and goes.</summary>
public sealed record NodeComesAndGoes(int Node) : Fault
{
    public TimeSpan MeanOn { get; init; } = TimeSpan.FromSeconds(40);

    public TimeSpan MeanOff { get; init; } = TimeSpan.FromSeconds(15);
}

/// <summary>A short dip of the supply restarts these nodes at one moment.</summary>
public sealed record SupplyDip(IReadOnlyList<int> Nodes) : Fault
{
    public TimeSpan Length { get; init; } = TimeSpan.FromMilliseconds(60);
}

/// <summary>The whole site is without power until the end.</summary>
public sealed record SiteWithoutPower : Fault;

/// <summary>A second module with an address that is taken is powered until the end.</summary>
public sealed record DuplicateAddress(int Node) : Fault
{
    public OscillatorPlan Oscillator { get; init; } = new(-21);

    /// <summary>Null = the same as the module that was there.</summary>
    public int? HeartbeatMilliseconds { get; init; }

    public uint Serial { get; init; } = 99_001;

    public string? Firmware { get; init; }

    public bool StartsItself { get; init; }
}

/// <summary>The node sends one identifier again and again.</summary>
public sealed record Babbler(int Node, uint Id) : Fault
{
    public TimeSpan Gap { get; init; } = TimeSpan.FromMilliseconds(2);
}

/// <summary>A further device without an address fills the bus to about this share.</summary>
public sealed record HighLoad(double LoadRatio) : Fault;

/// <summary>The node says that it is faulty (emergency message), and takes it back at the end.</summary>
public sealed record EmergencyReport(int Node, ushort Code = 0x2310, byte Register = 0x03) : Fault;

/// <summary>A commanded output doesn't follow.</summary>
public sealed record OutputRefuses(int Node, int Output) : Fault;

/// <summary>An output changes although nothing on the bus asks for it, at random.</summary>
public sealed record OutputMovesByItself(int Node, int Output) : Fault
{
    public TimeSpan MeanBetween { get; init; } = TimeSpan.FromMinutes(4);
}

/// <summary>A second program commands an output back and forth against the controller.</summary>
public sealed record OutputContested(int Node, int Output) : Fault
{
    public TimeSpan Gap { get; init; } = TimeSpan.FromSeconds(2);
}

// ---- supply and lines --------------------------------------------------------------------------------------------

/// <summary>A joint between source and clip that has so much resistance.</summary>
public sealed record SupplyJoint(double Ohms) : Fault;

/// <summary>The source gives another voltage until the end.</summary>
public sealed record SupplyLowered(double Volts) : Fault;

/// <summary>The node stops below this voltage at its terminals, earlier than the others, and doesn't start again by itself until the end.</summary>
public sealed record BrownOutForGood(int Node, double Volts) : Fault;

/// <summary>So many terminators instead of the site's.</summary>
public sealed record TerminatorsChanged(int Terminators) : Fault;

/// <summary>What the node drives comes to this part of what it was.</summary>
public sealed record DriverChanged(int Node, double Ratio) : Fault;

/// <summary>The ground at our clip lies this much below that of the modules.</summary>
public sealed record GroundShifted(double Volts) : Fault;

// ---- contacts ----------------------------------------------------------------------------------------------------

/// <summary>A worn contact: it bounces for tens to hundreds of milliseconds. Severity 1 = about a third of the operations, 3 = most.</summary>
public sealed record WornContact(int Node, int Input, double Severity = 1) : Fault;

/// <summary>Moisture or leakage: the input toggles at random.</summary>
public sealed record FlappingInput(int Node, int Input) : Fault
{
    public TimeSpan MeanBetween { get; init; } = TimeSpan.FromSeconds(4);
}

/// <summary>The contact stays closed.</summary>
public sealed record StuckInput(int Node, int Input) : Fault;

/// <summary>The controller no longer acts on this input.</summary>
public sealed record InputUnanswered(int Node, int Input) : Fault;

// ---- things that are no fault ------------------------------------------------------------------------------------

/// <summary>A module is exchanged for another one: off at the start, the new one on at the end.</summary>
public sealed record ModuleReplaced(int Node, uint Serial) : Fault
{
    public string? Firmware { get; init; }
}

/// <summary>The controller resets a node (0 = all).</summary>
public sealed record CommandedReset(int Node) : Fault;

/// <summary>The controller commands a node (0 = all) into another state: 1 operational, 2 stopped, 128 pre-operational (CiA 301).</summary>
public sealed record CommandedState(int Node, byte Command) : Fault;

/// <summary>The controller stops sending SYNC until the end.</summary>
public sealed record SyncStops : Fault;

/// <summary>The controller writes another heartbeat time.</summary>
public sealed record HeartbeatWritten(int Node, int Milliseconds) : Fault;

public sealed record FirmwareDownload(int Node, int Bytes = 4096) : Fault;

/// <summary>Children play with the buttons of these nodes.</summary>
public sealed record ChildrenPlay(IReadOnlyList<int> Nodes) : Fault;

// ---- our own side ------------------------------------------------------------------------------------------------

/// <summary>Our clip came off the cable.</summary>
public sealed record AdapterUnplugged : Fault;

/// <summary>Our sensors give nothing until the end.</summary>
public sealed record GaugesStop : Fault;

/// <summary>The observer's clock steps forwards.</summary>
public sealed record ClockStep(TimeSpan By) : Fault;

/// <summary>Stamps are shuffled within this span and sorted, so frames close together may change places.</summary>
public sealed record ShuffledStamps(TimeSpan Span) : Fault;

/// <summary>Our side loses this share of the frames, and says so or not.</summary>
public sealed record LostFrames(double Ratio, bool Reported = true) : Fault;

/// <summary>A program on our own board sends through the adapter that listens; only an adapter that takes part can.</summary>
public sealed record OwnProgramSends(uint Id) : Fault
{
    public TimeSpan Gap { get; init; } = TimeSpan.FromMilliseconds(200);
}
