using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.History;

/// <summary>What one snapshot adds to the log.</summary>
internal sealed record HistoryBatch(
    IReadOnlyList<FindingReport> Findings, IReadOnlyList<(StoreSeries Tier, TrafficRow Row)> Rows, IReadOnlyList<NodeEvent> NodeEvents)
{
    public static readonly HistoryBatch Nothing = new([], [], []);

    /// <summary>The snapshot's end.</summary>
    public Instant Time { get; init; }

    /// <summary>Frames to be kept, each as a pcapng file, null where nothing was heard.</summary>
    public IReadOnlyList<(CaptureRequest Request, byte[]? Frames)> Captures { get; init; } = [];

    /// <summary>The board's clock was set: what the wall says since then, less the line of this run. Null = as before.</summary>
    public TimeSpan? WallMinusLine { get; init; }

    /// <summary>How soak tests stand.</summary>
    public IReadOnlyList<SoakRecord> Soaks { get; init; } = [];

    /// <summary>What happened to the board itself.</summary>
    public IReadOnlyList<BoardEvent> Board { get; init; } = [];

    /// <summary>Changes of inputs.</summary>
    public IReadOnlyList<InputEvent> Inputs { get; init; } = [];

    /// <summary>What people took note of.</summary>
    public IReadOnlyList<Acknowledgement> Acknowledgements { get; init; } = [];

    /// <summary>What sensors measured, by the minute.</summary>
    public IReadOnlyList<MeasuredRow> Measured { get; init; } = [];

    /// <summary>Bytes that the frames take.</summary>
    public long FrameBytes => Captures.Sum(capture => (long)(capture.Frames?.Length ?? 0));

    public bool IsEmpty => Findings.Count == 0 && Rows.Count == 0 && NodeEvents.Count == 0 && Captures.Count == 0 && WallMinusLine is null && Soaks.Count == 0 && Inputs.Count == 0 && Board.Count == 0 && Acknowledgements.Count == 0 && Measured.Count == 0;

    /// <summary>Something that must be on the disk at once.</summary>
    public bool IsUrgent => Findings.Count > 0 || NodeEvents.Count > 0 || Captures.Count > 0 || WallMinusLine is not null || Soaks.Count > 0 || Board.Count > 0 || Acknowledgements.Count > 0;

    /// <summary>Those that the chart shows.</summary>
    public IReadOnlyList<TrafficRow> Minutes => [.. Rows.Where(row => row.Tier == StoreSeries.Minutes).Select(row => row.Row)];
}
