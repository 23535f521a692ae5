namespace Diagnostics.Core.AsBuilt;

/// <summary>Every bound of the as-built record, with its reason.</summary>
public static class AsBuiltLimits
{
    /// <summary>1 MB: 127 nodes with 16 named inputs and outputs each take less than half of it.</summary>
    public const int Bytes = 1_000_000;

    /// <summary>CANopen addresses are 1–127 (CiA 301).</summary>
    public const int HighestAddress = 127;

    /// <summary>Inputs or outputs of a board: eight in each of 254 sub-indices (CiA 401).</summary>
    public const int HighestInput = 8 * 254;

    /// <summary>Entries of the trunk: every node, and more clips than anyone would look for.</summary>
    public const int TrunkEntries = 1000;

    /// <summary>Inputs that switch one output: every node may.</summary>
    public const int SwitchedBy = HighestAddress;

    /// <summary>Objects of 8 bits that fit into a PDO of 8 bytes.</summary>
    public const int MappedObjects = 8;

    /// <summary>Characters of a name: what a line of the report can show.</summary>
    public const int TextCharacters = 100;

    /// <summary>Metres of cable between two entries; twice the 5,000 m of a whole trunk at 10 kbit/s, the slowest rate of CiA 301 (from memory).</summary>
    public const double Metres = 10_000;

    /// <summary>Ohms of a terminator; above this it is none.</summary>
    public const double Ohms = 100_000;

    /// <summary>bit/s. The first is half the slowest rate of CiA 301 (common practice, no source); the second is the most classic CAN allows.</summary>
    public const int LowestBitRate = 5_000;

    public const int HighestBitRate = 1_000_000;

    /// <summary>Remarks told; more would hide the first ones.</summary>
    public const int Remarks = 100;
}
