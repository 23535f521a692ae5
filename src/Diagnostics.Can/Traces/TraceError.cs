namespace Diagnostics.Can.Traces;

/// <summary>Why something isn't a trace at all, so that nothing of it can be analysed.</summary>
public enum TraceProblem
{
    /// <summary>Nothing in it: no bytes, or only comments.</summary>
    Empty,

    /// <summary>None of the formats.</summary>
    NotATrace,

    /// <summary>Text that shows frames, but not when they came.</summary>
    TextWithoutTimeStamps,

    /// <summary>A capture of something else than CAN.</summary>
    NoCan,

    /// <summary>A version of the format that isn't known.</summary>
    UnsupportedVersion,
}

/// <summary>
/// Why the input is no trace: <see cref="Place"/> is where, in the file's own terms ("line 1", "byte 20"); <see cref="Message"/> is a whole sentence with the place.
/// </summary>
public sealed record TraceError(TraceProblem Problem, string Place, string Message);
