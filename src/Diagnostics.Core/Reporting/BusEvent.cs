using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Reporting;

/// <summary>What a <see cref="BusEvent"/> is. Names are stored in logs and never renamed.</summary>
public enum BusEventKind : byte
{
    /// <summary>An input became active; the number is the input's.</summary>
    InputOn,

    /// <summary>An input became inactive.</summary>
    InputOff,

    /// <summary>An output was commanded on; the number is the output's.</summary>
    OutputOn,

    /// <summary>An output was commanded off.</summary>
    OutputOff,

    /// <summary>A node reports that its output is on.</summary>
    OutputReportedOn,

    /// <summary>A node reports that its output is off.</summary>
    OutputReportedOff,

    /// <summary>A node started (boot-up).</summary>
    Started,

    /// <summary>A node's state changed; the number is the new one as CiA 301 codes it.</summary>
    State,

    /// <summary>A network command; the number is its code, node 0 = all.</summary>
    Command,

    /// <summary>An emergency message; the number is its error code.</summary>
    Emergency,

    /// <summary>An error on the wire, the first for 50 ms; no node.</summary>
    Error,
}

/// <summary>Something that happened on a bus and that a person would tell another: no frame, and no finding.</summary>
/// <param name="Time">On the line.</param>
/// <param name="Interface">Name of the interface.</param>
/// <param name="Kind">What.</param>
/// <param name="Node">Whose; 0 = nobody's or everybody's.</param>
/// <param name="Number">See <see cref="BusEventKind"/>.</param>
/// <param name="Text">In words, by the names of the site.</param>
public sealed record BusEvent(Instant Time, string Interface, BusEventKind Kind, int Node, int Number, Sentence Text);
