namespace Diagnostics.Core.Protocols.CanOpen;

/// <summary>Every bound of the CANopen decoder, with its reason.</summary>
internal static class CanOpenLimits
{
    /// <summary>Addresses are 1–127 (CiA 301, 7 bits of the identifier).</summary>
    public const int HighestNode = 127;

    /// <summary>PDOs of the predefined connection set (CiA 301): higher numbers have no identifier by default.</summary>
    public const int PdosPerDirection = 4;

    /// <summary>A PDO maps at most 64 objects (1 bit each, CiA 301).</summary>
    public const int MappedObjects = 64;

    /// <summary>Whole bytes that fit into a classic frame, so the most fields of 8 bits a PDO can carry.</summary>
    public const int FieldsPerPdo = 8;

    /// <summary>Sub-indices that hold data: 1–254 (CiA 301).</summary>
    public const int HighestSubIndex = 254;

    /// <summary>Bytes kept of one SDO value. Names and identity are far shorter; longer ones (files) are counted, not kept.</summary>
    public const int SdoValueBytes = 256;

    /// <summary>Characters kept of a text object (names, versions): what a line of the report can show.</summary>
    public const int TextCharacters = 64;

    /// <summary>Consumer heartbeat entries kept of one node: every address can be watched once.</summary>
    public const int HeartbeatConsumers = HighestNode;

    /// <summary>
    /// How long after a guarding request an error control byte counts as its answer. Common practice, no source: answers come within
    /// a few milliseconds, guard times start at 100 ms.
    /// </summary>
    public static readonly TimeSpan GuardAnswer = TimeSpan.FromMilliseconds(100);

    /// <summary>
    /// Silence after which an unfinished block transfer is given up: only then may its segments be read as new commands.
    /// Common practice, no source: clients time out after about one second.
    /// </summary>
    public static readonly TimeSpan SdoSilence = TimeSpan.FromSeconds(1);

    /// <summary>Longest data sheet that is read, bytes: those of drives with thousands of objects take one to two million (common practice, no source).</summary>
    public const int DataSheetBytes = 4 * 1024 * 1024;

    /// <summary>Longest line of a data sheet that is read, characters; CiA 306-1 allows 255 (from memory), and what is longer is no value that is used here.</summary>
    public const int DataSheetLine = 1024;

    /// <summary>Remarks told on one data sheet; more would hide the first ones.</summary>
    public const int DataSheetRemarks = 20;

    /// <summary>Data sheets that hold for kinds of modules; a site has a dozen kinds, and one bit of a word stands for each.</summary>
    public const int DataSheetsOfKinds = 64;
}
