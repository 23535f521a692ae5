using Diagnostics.Agent.Access;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Languages;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent;

/// <summary>What the service is told, checked. <see cref="AgentSettingsReader"/> makes it.</summary>
internal sealed record AgentSettings
{
    public const int DefaultPort = 8480;

    /// <summary>Names of SocketCAN interfaces; empty = every CAN interface that is there or comes later.</summary>
    public IReadOnlyList<string> Interfaces { get; init; } = [];

    /// <summary>bit/s; null = what the interface says.</summary>
    public int? BitRate { get; init; }

    /// <summary><c>auto</c> or the name of a protocol.</summary>
    public string Protocol { get; init; } = "auto";

    /// <summary>How CANopen devices are built; with any, <see cref="Protocol"/> is <c>canopen</c>.</summary>
    public IReadOnlyList<DataSheet> DataSheets { get; init; } = [];

    public AsBuiltRecord? Site { get; init; }

    /// <summary>The as-built record as it stands in its file, UTF-8.</summary>
    public byte[]? SiteText { get; init; }

    /// <summary>What the authors of the as-built record and of data sheets may not have meant, as whole sentences.</summary>
    public IReadOnlyList<Sentence> FileRemarks { get; init; } = [];

    /// <summary>TCP port of the report page on the loopback addresses; 0 = any free one.</summary>
    public int Port { get; init; } = DefaultPort;

    /// <summary>Where the page answers besides this board.</summary>
    public AccessSettings Access { get; init; } = new();

    /// <summary>Of the page, for a reader who chose none; null = as the browser asks.</summary>
    public Language? Language { get; init; }

    /// <summary>Directory of the log; null = none is kept.</summary>
    public string? LogDirectory { get; init; }

    /// <summary>How long changes of inputs are kept, days; 0 = none are.</summary>
    public int InputDays { get; init; } = (int)History.Store.StoreBudget.InputsKept.TotalDays;

    /// <summary>Size of the log file, megabytes.</summary>
    public int LogMegabytes { get; init; } = Limits.DefaultLogMegabytes;

    /// <summary>What is fitted to the board besides its CAN interface.</summary>
    public BoardSettings Board { get; init; } = new();
}
