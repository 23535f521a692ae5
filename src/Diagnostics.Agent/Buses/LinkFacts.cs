using Diagnostics.Can;

namespace Diagnostics.Agent.Buses;

/// <summary>Modes of a CAN controller. linux/can/netlink.h, CAN_CTRLMODE_*.</summary>
[Flags]
public enum ControlModes : uint
{
    None = 0,
    Loopback = 0x1,
    ListenOnly = 0x2,
    ThreeSamples = 0x4,
    OneShot = 0x8,
    ErrorReporting = 0x10,
    Flexible = 0x20,
    PresumeAcknowledge = 0x40,
    FlexibleNonIso = 0x80,
}

/// <summary>
/// What the kernel says of one network interface, as it says it: a state that contradicts the counters is passed on, never "corrected",
/// because which of the two a driver gets wrong differs from driver to driver. Null = not said.
/// </summary>
public sealed record LinkFacts(int Index, string Name)
{
    /// <summary>ARPHRD_CAN (linux/if_arp.h).</summary>
    internal const ushort CanHardware = 280;

    /// <summary>Of the kind of link: "can", "vcan", "vxcan"; null for a plain one. An adapter on a serial line is of the kind "can".</summary>
    public string? Kind { get; init; }

    /// <summary>Whether it is a CAN interface at all.</summary>
    public bool IsCan { get; init; }

    /// <summary>Somebody set it up (IFF_UP).</summary>
    public bool IsUp { get; init; }

    /// <summary>It works (IFF_RUNNING); a controller that is bus-off is up and doesn't run.</summary>
    public bool IsRunning { get; init; }

    /// <summary>The message was about its removal.</summary>
    public bool IsRemoved { get; init; }

    /// <summary>Nominal bit rate, bit/s.</summary>
    public int? BitRate { get; init; }

    /// <summary>Bit rate of the data phase, bit/s.</summary>
    public int? DataBitRate { get; init; }

    /// <summary>Where in a bit it is sampled, 0–1.</summary>
    public double? SamplePointRatio { get; init; }

    public ControlModes? Modes { get; init; }

    public ControllerState? State { get; init; }

    public int? TransmitErrorCounter { get; init; }

    public int? ReceiveErrorCounter { get; init; }

    /// <summary>How long after bus-off the controller starts again by itself, 0 = never.</summary>
    public int? RestartMilliseconds { get; init; }

    /// <summary>The switchable terminator, ohms, 0 = off.</summary>
    public int? TerminationOhms { get; init; }

    public ControllerCounts? Counts { get; init; }

    /// <summary>Frames that this host has sent by this interface: a listener's stays as it is.</summary>
    public long? FramesTransmitted { get; init; }

    public long? FramesReceived { get; init; }

    /// <summary>The part that the analysis uses.</summary>
    public InterfaceFacts ToInterfaceFacts() => new(Name)
    {
        BitRate = BitRate,
        DataBitRate = DataBitRate,
        ListenOnly = Modes is { } modes ? (modes & ControlModes.ListenOnly) != 0 : null,
        ErrorReporting = Modes is { } reporting ? (reporting & ControlModes.ErrorReporting) != 0 : null,
        State = State,
        TransmitErrorCounter = TransmitErrorCounter,
        ReceiveErrorCounter = ReceiveErrorCounter,
    };
}
