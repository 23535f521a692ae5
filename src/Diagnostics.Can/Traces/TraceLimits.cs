namespace Diagnostics.Can.Traces;

/// <summary>What a trace may ask of this process's memory. Beyond a limit a record is damaged, never an error of the program.</summary>
public static class TraceLimits
{
    /// <summary>Interfaces of all traces of one run. A board has one to four; a frame's index is a byte.</summary>
    public const int Interfaces = 64;

    /// <summary>Captured bytes of one record: the usual upper limit of capture tools (a snapshot length of 262,144).</summary>
    public const int RecordBytes = 256 * 1024;

    /// <summary>A pcapng block that has to be in memory at once: the largest record and 4 KiB of options.</summary>
    public const int BlockBytes = RecordBytes + 4096;

    /// <summary>A pcapng block of a type that isn't needed is skipped up to this length; name tables and secrets stay far below.</summary>
    public const int SkippedBlockBytes = 16 * 1024 * 1024;

    /// <summary>A line of a text log: an FD frame with 64 bytes takes about 180.</summary>
    public const int LineBytes = 4096;

    /// <summary>Lines that are tried before text is called no trace: a log may start in the middle of a line, or with a heading.</summary>
    public const int LinesBeforeGivingUp = 100;

    /// <summary>Length of an interface name; the kernel's own limit is 15 (IFNAMSIZ), other recorders write longer ones.</summary>
    public const int InterfaceNameBytes = 64;

    /// <summary>Remarks kept.</summary>
    public const int Remarks = 32;

    /// <summary>Records held back until the byte order of their identifiers is clear.</summary>
    public const int UndecidedRecords = 64;

    /// <summary>Bytes of the largest CAN record (CAN XL: 12 and 2048), for the search behind damage.</summary>
    public const int CanRecordBytes = 12 + 2048;

    /// <summary>bit/s; slower than any that CiA 301 names (10 kbit/s), for old sites.</summary>
    public const int SlowestBitRate = 5_000;

    /// <summary>bit/s, ISO 11898-2 without FD.</summary>
    public const int FastestBitRate = 1_000_000;
}
