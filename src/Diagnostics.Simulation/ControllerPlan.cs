namespace Diagnostics.Simulation;

/// <summary>The site's master. It commands and asks; it has no address of its own.</summary>
public sealed record ControllerPlan
{
    /// <summary>From power-on to its first frame.</summary>
    public int BootMilliseconds { get; init; } = 1500;

    /// <summary>Reads 1000h, 1018h, 1008h and 100Ah of a node that booted up.</summary>
    public bool ReadsIdentities { get; init; } = true;

    /// <summary>Writes 1017h of a node that booted up, ms; null = leaves what is stored.</summary>
    public int? WritesHeartbeatMilliseconds { get; init; }

    /// <summary>SYNC period, ms; 0 = none.</summary>
    public int SyncMilliseconds { get; init; }

    /// <summary>Node guarding period for each node, ms; 0 = none.</summary>
    public int GuardMilliseconds { get; init; }

    /// <summary>Sends every RPDO1 again this often, ms; 0 = only on change.</summary>
    public int RefreshMilliseconds { get; init; }

    public OscillatorPlan Oscillator { get; init; } = new(3);

    /// <summary>From a press to the command.</summary>
    public double ReactionMilliseconds { get; init; } = 4;
}
