namespace Diagnostics.Can.Traces;

/// <summary>Why a record of a trace could not be read. Each reason is counted.</summary>
public enum TraceDamage
{
    None,

    /// <summary>A block or record claims a length that can't be, or is beyond <see cref="TraceLimits"/>.</summary>
    Length,

    /// <summary>The two lengths of a pcapng block differ.</summary>
    LengthsDiffer,

    /// <summary>A pcapng block is too short for what its type holds.</summary>
    BlockTooShort,

    /// <summary>A record names an interface that the trace hasn't described.</summary>
    UnknownInterface,

    /// <summary>More interfaces than <see cref="TraceLimits.Interfaces"/>.</summary>
    InterfaceLimit,

    /// <summary>A record carries no time stamp (pcapng simple packet block).</summary>
    NoTimeStamp,

    /// <summary>A time stamp that no calendar holds, or a fraction of a second above one.</summary>
    TimeStamp,

    /// <summary>Options of a block that overrun it.</summary>
    Options,

    /// <summary>Fewer bytes than the frame says it has.</summary>
    RecordTooShort,

    /// <summary>A payload length that no frame of its kind can have.</summary>
    PayloadLength,

    /// <summary>An 11-bit identifier with more than 11 bits, or a 29-bit one with more than 29.</summary>
    Identifier,

    /// <summary>A frame of a kind that is not analysed (CAN XL).</summary>
    UnsupportedFrame,

    /// <summary>A line of a text log that is none.</summary>
    LineSyntax,

    /// <summary>A line longer than <see cref="TraceLimits.LineBytes"/>.</summary>
    LineTooLong,
}
