using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Agent;

/// <summary>What the service is told, checked. <see cref="AgentSettingsReader"/> makes it.</summary>
internal sealed record AgentSettings
{
    public const int DefaultPort = 8480;

    /// <summary>Names of SocketCAN interfaces; empty = every CAN interface that is there.</summary>
    public IReadOnlyList<string> Interfaces { get; init; } = [];

    /// <summary>bit/s; null = what the interface says.</summary>
    public int? BitRate { get; init; }

    /// <summary><c>auto</c> or the name of a protocol.</summary>
    public string Protocol { get; init; } = "auto";

    public AsBuiltRecord? Site { get; init; }

    /// <summary>The as-built record as it stands in its file, UTF-8.</summary>
    public byte[]? SiteText { get; init; }

    /// <summary>What the author of the as-built record may not have meant, as whole sentences.</summary>
    public IReadOnlyList<string> SiteRemarks { get; init; } = [];

    /// <summary>TCP port of the report page on the loopback addresses; 0 = any free one.</summary>
    public int Port { get; init; } = DefaultPort;

    /// <summary>Directory of the log; null = none is kept.</summary>
    public string? LogDirectory { get; init; }

    /// <summary>Size of the log file, megabytes.</summary>
    public int LogMegabytes { get; init; } = Limits.DefaultLogMegabytes;
}
