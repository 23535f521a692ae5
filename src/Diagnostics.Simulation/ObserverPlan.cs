namespace Diagnostics.Simulation;

/// <summary>Our own adapter on the cable: what it is and how it reports.</summary>
public sealed record ObserverPlan
{
    public string InterfaceName { get; init; } = "can0";

    public byte Interface { get; init; }

    /// <summary>Listen-only is how the agent works; otherwise the adapter acknowledges and sends error flags.</summary>
    public bool ListenOnly { get; init; } = true;

    /// <summary>Each bus error gives a message (CAN_CTRLMODE_BERR_REPORTING).</summary>
    public bool ReportsErrors { get; init; } = true;

    /// <summary>Error messages say where in the frame it happened; many controllers don't.</summary>
    public bool ReportsErrorPositions { get; init; } = true;

    /// <summary>Error messages carry both counters.</summary>
    public bool ReportsCounters { get; init; }

    /// <summary>In listen-only some controllers call themselves error-passive for good (FlexCAN register text).</summary>
    public bool CallsItselfPassive { get; init; }

    /// <summary>The clock that stamps.</summary>
    public double PartsPerMillion { get; init; } = 12;

    /// <summary>Standard deviation of a stamp.</summary>
    public TimeSpan StampJitter { get; init; } = TimeSpan.FromMicroseconds(10);
}
