using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Core;

/// <summary>What the analysis is told before the first frame.</summary>
public sealed record AnalyzerOptions
{
    /// <summary>live, trace or simulated: how the report names its source.</summary>
    public required string SourceKind { get; init; }

    public required string SourceName { get; init; }

    /// <summary>Bit rate given by the user, bit/s; wins over what the interface or the as-built record says. Null = not given.</summary>
    public int? BitRate { get; init; }

    /// <summary><c>auto</c>, <c>canopen</c> or <c>none</c>.</summary>
    public string Protocol { get; init; } = "auto";

    public AsBuiltRecord? Site { get; init; }

    /// <summary>How CANopen devices are built; at most one DCF for a node.</summary>
    public IReadOnlyList<DataSheet> DataSheets { get; init; } = [];

    /// <summary>What the settings say of what the board measures.</summary>
    public MeasuringLimits Measuring { get; init; } = new();
}
