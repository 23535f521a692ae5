namespace Diagnostics.Can;

/// <summary>Classes of a SocketCAN error message; several may be set at once. linux/can/error.h, CAN_ERR_*.</summary>
[Flags]
public enum ErrorClasses : uint
{
    None = 0,
    TransmitTimeout = 0x001,
    ArbitrationLost = 0x002,
    Controller = 0x004,
    Protocol = 0x008,
    Transceiver = 0x010,
    NoAcknowledge = 0x020,
    BusOff = 0x040,
    BusError = 0x080,
    Restarted = 0x100,
    Counters = 0x200,
}

/// <summary>State changes of the controller, byte 1. linux/can/error.h, CAN_ERR_CRTL_*.</summary>
[Flags]
public enum ControllerProblems : byte
{
    Unspecified = 0,
    ReceiveOverflow = 0x01,
    TransmitOverflow = 0x02,
    ReceiveWarning = 0x04,
    TransmitWarning = 0x08,
    ReceivePassive = 0x10,
    TransmitPassive = 0x20,
    BackToActive = 0x40,
}

/// <summary>What was wrong on the wire, byte 2. linux/can/error.h, CAN_ERR_PROT_*.</summary>
[Flags]
public enum ProtocolViolations : byte
{
    Unspecified = 0,
    Bit = 0x01,
    Form = 0x02,
    Stuff = 0x04,

    /// <summary>Unable to send a dominant bit.</summary>
    BitDominant = 0x08,

    /// <summary>Unable to send a recessive bit.</summary>
    BitRecessive = 0x10,
    Overload = 0x20,

    /// <summary>Announces an active error flag, no violation by itself.</summary>
    ActiveFlag = 0x40,

    /// <summary>It happened while our own controller was transmitting.</summary>
    OnTransmission = 0x80,
}

/// <summary>Where in the frame it happened, byte 3. linux/can/error.h, CAN_ERR_PROT_LOC_*.</summary>
public enum ErrorLocation : byte
{
    Unspecified = 0x00,
    IdentifierBits28To21 = 0x02,
    StartOfFrame = 0x03,
    SubstituteRemoteRequest = 0x04,
    IdentifierExtension = 0x05,
    IdentifierBits20To18 = 0x06,
    IdentifierBits17To13 = 0x07,
    CrcSequence = 0x08,
    ReservedBit0 = 0x09,
    Data = 0x0A,
    DataLengthCode = 0x0B,
    RemoteRequest = 0x0C,
    ReservedBit1 = 0x0D,
    IdentifierBits4To0 = 0x0E,
    IdentifierBits12To5 = 0x0F,
    Intermission = 0x12,
    CrcDelimiter = 0x18,
    AcknowledgeSlot = 0x19,
    EndOfFrame = 0x1A,
    AcknowledgeDelimiter = 0x1B,
}

/// <summary>
/// A SocketCAN error message read into flags. One message may carry several at once, so nothing here is "the" error.
/// Layout: linux/can/error.h (byte 1 controller, 2 kind of violation, 3 location, 4 transceiver, 6 and 7 counters).
/// </summary>
public readonly record struct ErrorMessage(
    ErrorClasses Classes,
    ControllerProblems Controller,
    ProtocolViolations Violations,
    ErrorLocation Location,
    byte Transceiver,
    byte CounterByte6,
    byte CounterByte7)
{
    /// <summary>The caller guarantees <see cref="CanFrame.IsError"/>.</summary>
    public static ErrorMessage From(in CanFrame frame)
    {
        ReadOnlySpan<byte> detail = frame.Data;
        return new(
            (ErrorClasses)frame.ErrorClassBits,
            (ControllerProblems)detail[1],
            (ProtocolViolations)detail[2],
            (ErrorLocation)detail[3],
            detail[4],
            detail[6],
            detail[7]);
    }

    private bool Has(ErrorClasses classes) => (Classes & classes) != 0;

    /// <summary>
    /// Kernels before 6.0 filled bytes 6 and 7 without setting the flag, so a value that isn't 0 counts as well.
    /// </summary>
    private bool HasCounters => Has(ErrorClasses.Counters) || (Has(ErrorClasses.BusError | ErrorClasses.Controller) && (CounterByte6 | CounterByte7) != 0);

    /// <summary>TEC as reported, or null where this message carries none.</summary>
    public int? TransmitErrorCounter => HasCounters ? CounterByte6 : null;

    /// <summary>REC as reported, or null where this message carries none.</summary>
    public int? ReceiveErrorCounter => HasCounters ? CounterByte7 : null;

    public bool IsBusOff => Has(ErrorClasses.BusOff);

    public bool IsRestarted => Has(ErrorClasses.Restarted);

    /// <summary>The controller lost received frames: what follows is a lower bound.</summary>
    public bool IsReceiveOverflow => Has(ErrorClasses.Controller) && (Controller & ControllerProblems.ReceiveOverflow) != 0;

    public bool IsBitError => Has(ErrorClasses.Protocol) && (Violations & (ProtocolViolations.Bit | ProtocolViolations.BitDominant | ProtocolViolations.BitRecessive)) != 0;

    public bool IsStuffError => Has(ErrorClasses.Protocol) && (Violations & ProtocolViolations.Stuff) != 0;

    public bool IsFormError => Has(ErrorClasses.Protocol) && (Violations & ProtocolViolations.Form) != 0;

    public bool IsCrcError => Has(ErrorClasses.Protocol) && Location is ErrorLocation.CrcSequence or ErrorLocation.CrcDelimiter && !IsBitError && !IsStuffError && !IsFormError;

    public bool IsAcknowledgeError => Has(ErrorClasses.NoAcknowledge);

    /// <summary>
    /// An error on the wire, as opposed to a state change, a lost arbitration or an overflow of our own.
    /// Overload frames and the bare announcement of an active flag are no errors.
    /// </summary>
    public bool IsWireError =>
        IsAcknowledgeError
        || Has(ErrorClasses.BusError)
        || (Has(ErrorClasses.Protocol) && (Violations & ~(ProtocolViolations.Overload | ProtocolViolations.ActiveFlag | ProtocolViolations.OnTransmission)) != 0)
        || IsCrcError;

    /// <summary>A wire error of a kind that the message does not tell.</summary>
    public bool IsOtherWireError => IsWireError && !IsBitError && !IsStuffError && !IsFormError && !IsCrcError && !IsAcknowledgeError;
}
