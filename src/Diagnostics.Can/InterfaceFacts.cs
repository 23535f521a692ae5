namespace Diagnostics.Can;

/// <summary>
/// What a source knows of one of its interfaces; null = it doesn't know. Live sources read these from netlink and may say them again when they change.
/// </summary>
public sealed record InterfaceFacts(string Name)
{
    /// <summary>Nominal bit rate, bit/s.</summary>
    public int? BitRate { get; init; }

    /// <summary>Bit rate of the data phase, CAN FD, bit/s.</summary>
    public int? DataBitRate { get; init; }

    public bool? ListenOnly { get; init; }

    /// <summary>Whether the driver reports each bus error (CAN_CTRLMODE_BERR_REPORTING), so that error positions can be seen.</summary>
    public bool? ErrorReporting { get; init; }

    public ControllerState? State { get; init; }

    public int? TransmitErrorCounter { get; init; }

    public int? ReceiveErrorCounter { get; init; }
}

/// <summary>enum can_state of linux/can/netlink.h.</summary>
public enum ControllerState
{
    ErrorActive = 0,
    ErrorWarning = 1,
    ErrorPassive = 2,
    BusOff = 3,
    Stopped = 4,
    Sleeping = 5,
}
