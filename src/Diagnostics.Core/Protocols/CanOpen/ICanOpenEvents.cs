using Diagnostics.Can;

namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>NMT commands, CiA 301.</summary>
public enum NmtCommand : byte
{
    Start = 1,
    Stop = 2,
    EnterPreOperational = 128,
    ResetNode = 129,
    ResetCommunication = 130,
}

/// <summary>NMT states as error control reports them, CiA 301.</summary>
public enum NodeState : byte
{
    Initialising = 0,
    Stopped = 4,
    Operational = 5,
    PreOperational = 127,
}

/// <summary>
/// What CANopen traffic means, one call for one event; detectors see these and never bytes. Spans are valid during the call only.
/// </summary>
internal interface ICanOpenEvents
{
    /// <summary><paramref name="node"/> 0 = all nodes.</summary>
    void OnNetworkCommand(Instant time, NmtCommand command, byte node);

    void OnBootUp(Instant time, byte node);

    /// <summary>Error control: a heartbeat, or the answer to a guarding request (then <paramref name="isGuardAnswer"/>).</summary>
    void OnErrorControl(Instant time, byte node, NodeState state, bool isGuardAnswer);

    void OnGuardRequest(Instant time, byte node);

    void OnSync(Instant time);

    void OnTime(Instant time);

    void OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer);

    /// <summary>Any frame from a client to the server in <paramref name="node"/>.</summary>
    void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data);

    /// <summary>Any frame from the server in <paramref name="node"/> to a client.</summary>
    void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data);

    /// <summary>A finished SDO transfer: what <paramref name="node"/>'s object holds (read) or was given and confirmed (write).</summary>
    void OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite);

    void OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer);

    /// <summary><paramref name="number"/> 1–4; <paramref name="isTransmit"/> = sent by <paramref name="node"/>, otherwise addressed to it.</summary>
    void OnPdo(Instant time, byte node, int number, bool isTransmit);

    /// <summary>State of a digital input as a TPDO reports it; called when it changed, and once with <paramref name="isFirst"/> when first known.</summary>
    void OnInput(Instant time, byte node, int input, bool active, bool isFirst);

    /// <summary>State of a digital output as an RPDO or an SDO write commands it; called when it changed, and once when first known.</summary>
    void OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst);

    /// <summary>State of a digital output as the node reports it back; called when it changed, and once when first known.</summary>
    void OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst);

    void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data);
}
