using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Walks;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages;

/// <summary>All that the page is made from: the report document, rows for the chart, and what doesn't work in the agent itself.</summary>
internal sealed record PageModel(Report Report)
{
    /// <summary>Copied out of what goes on only where a page shows them: there may be thousands.</summary>
    private Lazy<IReadOnlyList<PointState>> _points = new([]);

    public Language Language { get; init; } = Language.English;

    public IReadOnlyList<TrafficRow> Rows { get; init; } = [];

    /// <summary>Usual length of a row, seconds.</summary>
    public double RowSeconds { get; init; } = 60;

    public IReadOnlyList<Trouble> Troubles { get; init; } = [];

    /// <summary>Where the reader is: the board's zone, or that of the machine that replays.</summary>
    public TimeZoneInfo Zone { get; init; } = TimeZoneInfo.Utc;

    /// <summary>Name of the site, where the as-built record tells.</summary>
    public string? Site => Built?.Site;

    /// <summary>What was odd in what this program was given (the as-built record, the trace), one sentence a line.</summary>
    public IReadOnlyList<Sentence> Remarks { get; init; } = [];

    /// <summary>Marks, and frames that were kept around findings, oldest first.</summary>
    public IReadOnlyList<Capture> Captures { get; init; } = [];

    /// <summary>What the log remembers of the runs before this one.</summary>
    public EarlierRuns? Earlier { get; init; }

    /// <summary>Marks can be set: the page is served, and there is a log to keep them.</summary>
    public bool CanMark { get; init; }

    /// <summary>Soak tests, oldest first; the one that goes on is the last.</summary>
    public IReadOnlyList<SoakRecord> Soaks { get; init; } = [];

    /// <summary>A soak test can be begun and ended: the page is served by the service.</summary>
    public bool CanAct { get; init; }

    /// <summary>A bundle can be made: the page is served, and there is a log.</summary>
    public bool CanBundle { get; init; }

    /// <summary>The reader signed in from another device, and can sign out.</summary>
    public bool IsSignedIn { get; init; }

    /// <summary>What the page is read from; null where it is live, or drawn from a trace.</summary>
    public ReadFrom? ReadFrom { get; init; }

    /// <summary>The board at its last look; null where nobody looks, as in a replay.</summary>
    public BoardReading? Board { get; init; }

    /// <summary>What happened to the board, oldest first.</summary>
    public IReadOnlyList<BoardEvent> BoardEvents { get; init; } = [];

    /// <summary>The as-built record; null where there is none.</summary>
    public AsBuiltRecord? Built { get; init; }

    /// <summary>Inputs and outputs that were heard, in order.</summary>
    public IReadOnlyList<PointState> Points
    {
        get => _points.Value;
        init => _points = new(value);
    }

    /// <summary>Events in the lives of nodes, oldest first.</summary>
    public IReadOnlyList<NodeEvent> NodeEvents { get; init; } = [];

    /// <summary>The walk test that goes on, or the last one; null where none was begun.</summary>
    public WalkRecord? Walk { get; init; }

    /// <summary>What people took note of, oldest first.</summary>
    public IReadOnlyList<Acknowledgement> Acknowledgements { get; init; } = [];

    /// <summary>What a person noted of this finding as it stands; null where it wasn't taken note of, or came back since.</summary>
    public Acknowledgement? AcknowledgementOf(FindingReport finding) =>
        Acknowledgements.LastOrDefault(known => known.Key == finding.Key && known.Start == finding.Start && known.Count == finding.Count);

    /// <summary>It is served, so that other pages are there to lead to.</summary>
    public bool IsServed => Asked is not null;

    /// <summary>The end of the report is the reader's now: the page of a service. A file, a bundle, a sheet of paper is read on any day.</summary>
    public bool IsReadNow { get; init; }

    public Times Times => new(Report.Source, Zone, ReadFrom is { IsReadersZone: true }, IsReadNow);

    /// <summary>The agent's own clock when the page was asked for; null for a page in a file.</summary>
    public Instant? Asked { get; init; }

    /// <summary>As a service has it at this moment.</summary>
    public static PageModel Of(AgentState state, TimeProvider clock) => (state.Report is { } report ? new PageModel(report) : PageRenderer.Empty) with
    {
        Rows = state.Rows,
        Troubles = state.Troubles,
        Board = state.Board,
        BoardEvents = state.BoardEvents,
        Built = state.Built,
        _points = new(state.Activity.Points),
        NodeEvents = state.NodeEvents,
        Walk = state.Walk.Record,
        Acknowledgements = state.Acknowledgements,
        Captures = state.Captures,
        Earlier = state.Earlier,
        CanMark = state.KeepsLog,
        CanAct = state.ReadFrom is null,
        Soaks = state.Soaks,
        ReadFrom = state.ReadFrom,
        Zone = state.ReadFrom?.Zone ?? clock.LocalTimeZone,
        Asked = Instant.FromDateTime(clock.GetUtcNow()),
        IsReadNow = state.ReadFrom is null,
    };
}
