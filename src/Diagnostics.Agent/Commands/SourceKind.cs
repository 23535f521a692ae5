namespace Diagnostics.Agent.Commands;

/// <summary>What a record is that a command was given.</summary>
internal enum SourceKind
{
    /// <summary>Recorded traffic.</summary>
    Trace,

    /// <summary>The directory of a log.</summary>
    Log,

    /// <summary>A log as one file.</summary>
    Bundle,

    /// <summary>A saved report document.</summary>
    Report,
}
