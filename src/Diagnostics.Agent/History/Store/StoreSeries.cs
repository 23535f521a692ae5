namespace Diagnostics.Agent.History.Store;

/// <summary>
/// What is kept apart in the store because it is kept for different times: each series has files and a budget of its own. Numbers and names stand in files and
/// file names, so none is ever changed or used again.
/// </summary>
internal enum StoreSeries : byte
{
    /// <summary>Findings, marks, what happened to nodes, starts and ends: the last to go.</summary>
    Events = 1,

    /// <summary>A traffic row a second.</summary>
    Seconds = 2,

    /// <summary>A traffic row a minute.</summary>
    Minutes = 3,

    /// <summary>A traffic row a quarter of an hour.</summary>
    Quarters = 4,

    /// <summary>A traffic row an hour.</summary>
    Hours = 5,

    /// <summary>Changes of inputs, which show when people are present: kept for a time of their own, and left out of a bundle on request.</summary>
    Inputs = 6,

    /// <summary>What sensors on the board measured, by the minute.</summary>
    Measured = 7,
}

/// <summary>What a record's payload is. Stored, so never changed or used again.</summary>
internal enum RecordKind : ushort
{
    /// <summary>A finding as the report has it; a later one of the same key and episode takes its place.</summary>
    Finding = 1,

    /// <summary>What happened to a node.</summary>
    NodeEvent = 2,

    /// <summary>What one interface carried in one stretch of time.</summary>
    Traffic = 3,

    /// <summary>The service began; what follows belongs to this run.</summary>
    Started = 4,

    /// <summary>The service ended as it should. A run without it was cut off.</summary>
    Stopped = 5,

    /// <summary>Covers bytes of writes that a power cut tore, so that they aren't taken for damage later. Never read.</summary>
    Void = 6,

    /// <summary>A mark that a person set, or a finding, and the file with the frames around it.</summary>
    Capture = 7,

    /// <summary>The health of the board that this program runs on.</summary>
    Board = 8,

    /// <summary>How far the wall clock was from the line of the run that wrote it.</summary>
    ClockCorrection = 9,

    /// <summary>How a soak test stands.</summary>
    Soak = 10,

    /// <summary>Changes of inputs within one second.</summary>
    InputEvents = 11,

    /// <summary>A person took note of a finding.</summary>
    Acknowledgement = 12,

    /// <summary>What sensors measured in one minute: lowest, mean and highest of each quantity.</summary>
    Measured = 13,
}

/// <summary>One entry of the store.</summary>
/// <param name="Series">Where it is kept.</param>
/// <param name="Kind">What the payload is.</param>
/// <param name="Sequence">Rises by one with each record of the whole store, whatever a clock says.</param>
/// <param name="Time">On the line of the run that wrote it.</param>
/// <param name="Payload">UTF-8 JSON.</param>
internal readonly record struct StoreRecord(StoreSeries Series, RecordKind Kind, long Sequence, Can.Instant Time, ReadOnlyMemory<byte> Payload);
