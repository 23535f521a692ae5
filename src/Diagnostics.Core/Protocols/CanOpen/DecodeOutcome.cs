namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>
/// What became of one frame. Everything but the first two is counted and shown: undecodable traffic is a symptom, not an exception.
/// Sources of the rules: reference values of CiA 301 (NMT, SDO, EMCY lengths), read in secondary texts.
/// </summary>
internal enum DecodeOutcome : byte
{
    Understood,

    /// <summary>
    /// 29-bit and reserved identifiers, FD frames, error messages, remote frames that ask for nothing CANopen knows, and identifiers for PDOs that no
    /// node uses any more since its PDO was moved.
    /// </summary>
    NotCanOpen,

    /// <summary>A network command has exactly 2 bytes.</summary>
    NmtWrongLength,

    UnknownNmtCommand,

    /// <summary>A network command to an address above 127.</summary>
    NmtAddressOutOfRange,

    /// <summary>SYNC has no byte or one (the counter).</summary>
    SyncWrongLength,

    /// <summary>TIME has 6 bytes.</summary>
    TimeTooShort,

    /// <summary>An emergency needs 3 bytes at least: code and error register.</summary>
    EmergencyTooShort,

    ErrorControlEmpty,

    /// <summary>An error control byte that names no NMT state.</summary>
    UnknownState,

    /// <summary>Fewer bytes than the command in the first byte needs.</summary>
    SdoTooShort,

    /// <summary>A command byte that CiA 301 doesn't define.</summary>
    SdoUnknownCommand,

    /// <summary>A request that continues a transfer which wasn't heard to begin.</summary>
    SdoUnexpectedRequest,

    /// <summary>An answer that nobody was heard asking for, or to another object than was asked for.</summary>
    SdoUnexpectedAnswer,

    /// <summary>A segment whose toggle bit doesn't alternate: one was lost or came twice.</summary>
    SdoToggleWrong,

    /// <summary>A segment of a block transfer out of sequence.</summary>
    SdoSequenceWrong,

    /// <summary>Fewer bytes than the mapping that was heard or recorded needs, or none at all; the content isn't used.</summary>
    PdoTooShort,

    LssEmpty,
}
