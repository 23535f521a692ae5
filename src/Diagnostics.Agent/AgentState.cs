using System.Collections.Concurrent;
using System.Collections.Immutable;
using System.Diagnostics.CodeAnalysis;
using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Agent.Walks;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent;

/// <summary>A part of the agent that doesn't work, or had to help itself; the analysis goes on. Shown on the page.</summary>
/// <param name="Part">log or page.</param>
/// <param name="Since">When it was noticed.</param>
/// <param name="Text">One sentence.</param>
internal sealed record Trouble(string Part, Instant Since, Sentence Text)
{
    /// <summary>The log can't be opened or written.</summary>
    public const string OfLog = "log";

    /// <summary>Frames around a finding or a mark could not be kept; the log goes on.</summary>
    public const string OfFrames = "frames";
}

/// <summary>What was known before the service started this time.</summary>
/// <param name="Started">When it started this time.</param>
/// <param name="Findings">Faults and warnings of earlier runs, the latest first.</param>
/// <param name="Remarks">How the log was found, as whole sentences.</param>
internal sealed record EarlierRuns(Instant Started, IReadOnlyList<FindingReport> Findings, IReadOnlyList<Sentence> Remarks);

/// <summary>What the parts of the service show each other. The analysis swaps in whole, immutable values; readers take no lock.</summary>
internal sealed class AgentState
{
    private readonly ConcurrentQueue<(string Note, Sentence? Wording)> _marks = new();
    private readonly ConcurrentQueue<SoakRequest?> _soakWishes = new();
    private readonly Lock _rowsLock = new();
    private readonly ConcurrentQueue<(BoardEventKind Kind, bool IsOver, Sentence Text)> _boardNews = new();
    private ImmutableArray<BoardEvent> _boardEvents = [];
    private volatile BoardReading? _board;
    private ImmutableSortedDictionary<BoardEventKind, SensorState> _sensors = ImmutableSortedDictionary<BoardEventKind, SensorState>.Empty;
    private SoakRecord? _openSoak;
    private ImmutableArray<SoakRecord> _soaks = [];
    private readonly ConcurrentQueue<(string Key, string Note)> _acknowledgeWishes = new();
    private ImmutableArray<Acknowledgement> _acknowledgements = [];
    private ImmutableArray<NodeEvent> _nodeEvents = [];
    private volatile AsBuiltRecord? _built;
    private NamesWish? _namesWish;
    private volatile Report? _report;
    private volatile EarlierRuns? _earlier;
    private ImmutableArray<TrafficRow> _rows = [];
    private ImmutableArray<TrafficRow> _earlierRows = [];
    private ImmutableArray<MeasuredRow> _measured = [];
    private ImmutableArray<Trouble> _troubles = [];
    private ImmutableArray<Capture> _captures = [];

    /// <summary>The latest snapshot; null until there is one.</summary>
    public Report? Report
    {
        get => _report;
        set => _report = value;
    }

    /// <summary>Minute rows for the chart, oldest first.</summary>
    public ImmutableArray<TrafficRow> Rows
    {
        get
        {
            lock (_rowsLock)
            {
                Instant? first = _rows.IsEmpty ? null : _rows[0].Start;
                return [.. _earlierRows.Where(row => first is null || row.Start < first).Concat(_rows).TakeLast(Limits.MinuteRowsInMemory)];
            }
        }
    }

    public ImmutableArray<Trouble> Troubles => ImmutableInterlocked.InterlockedCompareExchange(ref _troubles, [], []);

    /// <summary>Marks, and frames that were kept, oldest first.</summary>
    public ImmutableArray<Capture> Captures => ImmutableInterlocked.InterlockedCompareExchange(ref _captures, [], []);

    /// <summary>What the log remembers of the runs before this one; null until it was opened.</summary>
    public EarlierRuns? Earlier
    {
        get => _earlier;
        set => _earlier = value;
    }

    /// <summary>What happens on the buses, as it happens.</summary>
    public BusActivity Activity { get; } = new();

    public WalkTest Walk { get; } = new();

    /// <summary>Who took note of which findings, oldest first, with people's times.</summary>
    public ImmutableArray<Acknowledgement> Acknowledgements => ImmutableInterlocked.InterlockedCompareExchange(ref _acknowledgements, [], []);

    /// <summary>A person takes note of a finding; the analysis takes it with its next tick.</summary>
    public bool TryAcknowledge(string key, string note, [NotNullWhen(false)] out Sentence? why)
    {
        why = Report?.Findings.Any(finding => finding.Key == key) != true ? Say($"There is no such finding now.")
            : _acknowledgeWishes.Count >= Limits.WaitingMarks ? Say($"Too many at once; try again in a second.")
            : null;
        if (why is null)
        {
            _acknowledgeWishes.Enqueue((key, note));
        }

        return why is null;
    }

    /// <summary>What was taken note of since the last call, of findings that are in the report.</summary>
    public IReadOnlyList<Acknowledgement> TakeAcknowledgements(Report report)
    {
        List<Acknowledgement> taken = [];
        while (_acknowledgeWishes.TryDequeue(out (string Key, string Note) wish))
        {
            if (report.Source.End is { } now && report.Findings.FirstOrDefault(finding => finding.Key == wish.Key) is { } finding)
            {
                taken.Add(new(now, finding.Key, finding.Start, finding.Count, wish.Note));
            }
        }

        return taken;
    }

    public void AddAcknowledgements(IEnumerable<Acknowledgement> added) => ImmutableInterlocked.Update(
        ref _acknowledgements,
        (before, more) => [.. before.AddRange(more).OrderBy(known => known.Time).TakeLast(Limits.Acknowledgements)],
        added);

    /// <summary>The as-built record that holds; null where there is none.</summary>
    public AsBuiltRecord? Built
    {
        get => _built;
        set => _built = value;
    }

    /// <summary>Another record holds: pages read it at once, the analysis takes its names with its next tick.</summary>
    public void UseRecord(AsBuiltRecord? record)
    {
        Built = record;
        Volatile.Write(ref _namesWish, new(record));
    }

    public bool TryTakeNames(out AsBuiltRecord? record)
    {
        NamesWish? wish = Interlocked.Exchange(ref _namesWish, null);
        record = wish?.Record;
        return wish is not null;
    }

    /// <summary>Events in the lives of nodes, oldest first, as far back as is kept in memory.</summary>
    public ImmutableArray<NodeEvent> NodeEvents => ImmutableInterlocked.InterlockedCompareExchange(ref _nodeEvents, [], []);

    public void AddNodeEvents(IEnumerable<NodeEvent> events) => ImmutableInterlocked.Update(
        ref _nodeEvents,
        (before, added) => [.. before.AddRange(added).OrderBy(happened => happened.Time).TakeLast(Limits.NodeEventsInMemory)],
        events);

    /// <summary>There is a log, so marks and frames can be kept.</summary>
    public bool KeepsLog { get; init; }

    /// <summary>What all this was read from; null where a service is listening.</summary>
    public ReadFrom? ReadFrom { get; init; }

    /// <summary>A person says "it just happened": the analysis takes it with its next tick.</summary>
    /// <param name="note">Short and clean.</param>
    /// <param name="why">Where it isn't taken: a sentence.</param>
    /// <param name="wording">What the note is made from, where the program sets the mark: readers may have several languages.</param>
    public bool TryMark(string note, [NotNullWhen(false)] out Sentence? why, Sentence? wording = null)
    {
        why = !KeepsLog ? Say($"No log is kept, so a mark could not be. Start the tool with --log DIR.")
            : Troubles.Any(trouble => trouble.Part == Trouble.OfLog) ? Say($"The log does not work now, so a mark could not be kept; the page says why.")
            : _marks.Count >= Limits.WaitingMarks ? Say($"Too many marks at once; try again in a second.")
            : null;
        if (why is null)
        {
            _marks.Enqueue((note, wording));
        }

        return why is null;
    }

    public bool TryTakeMark([NotNullWhen(true)] out string? note, out Sentence? wording)
    {
        bool isThere = _marks.TryDequeue(out (string Note, Sentence? Wording) mark);
        (note, wording) = mark;
        return isThere;
    }

    /// <summary>The board at its last look; null where nobody looks.</summary>
    public BoardReading? Board
    {
        get => _board;
        set => _board = value;
    }

    /// <summary>What sensors gave, on its way to the analysis.</summary>
    public SensorQueue Measurements { get; } = new();

    /// <summary>What they measured in this run, by the minute, for who keeps no log.</summary>
    public ImmutableArray<MeasuredRow> Measured
    {
        get
        {
            lock (_rowsLock)
            {
                return _measured;
            }
        }
    }

    /// <summary>How each sensor that is fitted stands.</summary>
    public IReadOnlyList<SensorState> Sensors => [.. Volatile.Read(ref _sensors).Values];

    public void SetSensor(SensorState sensor) => ImmutableInterlocked.Update(ref _sensors, (before, one) => before.SetItem(one.Kind, one), sensor);

    /// <summary>What happened to the board, oldest first, as far back as the log knows.</summary>
    public ImmutableArray<BoardEvent> BoardEvents => ImmutableInterlocked.InterlockedCompareExchange(ref _boardEvents, [], []);

    /// <summary>Something happened to the board; the analysis gives it a time on its line with its next tick. Any thread.</summary>
    public void TellBoard(BoardEventKind kind, bool isOver, Sentence text)
    {
        if (_boardNews.Count < Limits.BoardEventsInMemory)
        {
            _boardNews.Enqueue((kind, isOver, text));
        }
    }

    /// <summary>What was told since the last call.</summary>
    public IReadOnlyList<BoardEvent> TakeBoardNews(Instant now)
    {
        List<BoardEvent> news = [];
        while (_boardNews.TryDequeue(out (BoardEventKind Kind, bool IsOver, Sentence Text) told))
        {
            news.Add(BoardEvent.Of(now, told.Kind, told.IsOver, told.Text));
        }

        return news;
    }

    public void AddBoardEvents(IEnumerable<BoardEvent> events) => ImmutableInterlocked.Update(
        ref _boardEvents,
        (before, added) => [.. before.AddRange(added).TakeLast(Limits.BoardEventsInMemory)],
        events);

    /// <summary>What the log has, with the times that hold now.</summary>
    public void SetBoardEvents(IReadOnlyList<BoardEvent> events) =>
        ImmutableInterlocked.InterlockedExchange(ref _boardEvents, [.. events.TakeLast(Limits.BoardEventsInMemory)]);

    /// <summary>Soak tests, the one that goes on included, oldest first.</summary>
    public ImmutableArray<SoakRecord> Soaks => ImmutableInterlocked.InterlockedCompareExchange(ref _soaks, [], []);

    /// <summary>A soak test is to begin; the analysis takes it with its next tick.</summary>
    /// <param name="wish">Which.</param>
    /// <param name="why">Where it isn't taken: a sentence.</param>
    /// <param name="replaces">It ends one that goes on; otherwise that one is in the way.</param>
    public bool TryStartSoak(SoakRequest wish, [NotNullWhen(false)] out Sentence? why, bool replaces = false)
    {
        why = replaces ? null
            : Soaks.LastOrDefault(soak => soak.End is null) is { } running ? Say($"The soak test '{running.Name}' goes on. End it first.")
            : !_soakWishes.IsEmpty ? Say($"A soak test is just being begun.")
            : null;
        return why is null && TryWish(wish, out why);
    }

    /// <summary>The soak test that goes on is to end.</summary>
    public bool TryStopSoak([NotNullWhen(false)] out Sentence? why)
    {
        why = Soaks.Any(soak => soak.End is null) ? null : Say($"No soak test goes on.");
        return why is null && TryWish(null, out why);
    }

    /// <summary>A wish that is null is the one to stop.</summary>
    public bool TryTakeSoakWish(out SoakRequest? wish) => _soakWishes.TryDequeue(out wish);

    /// <summary>What the log has; the last one is gone on with if it was open when that was written.</summary>
    public void SetEarlierSoaks(IReadOnlyList<SoakRecord> soaks)
    {
        foreach (SoakRecord soak in soaks)
        {
            SetSoak(soak);
        }

        if (soaks is [.., { End: null } open])
        {
            Volatile.Write(ref _openSoak, open);
        }
    }

    public SoakRecord? TakeOpenSoak() => Interlocked.Exchange(ref _openSoak, null);

    public void SetSoak(SoakRecord record) => ImmutableInterlocked.Update(
        ref _soaks,
        before =>
        {
            int place = -1;
            for (int index = 0; index < before.Length; index++)
            {
                place = before[index].Id == record.Id ? index : place;
            }

            ImmutableArray<SoakRecord> after = place >= 0 ? before.SetItem(place, record) : before.Add(record);
            return after.RemoveRange(0, Math.Max(0, after.Length - Limits.SoaksShown));
        });

    private bool TryWish(SoakRequest? wish, [NotNullWhen(false)] out Sentence? why)
    {
        why = _soakWishes.Count >= Limits.WaitingMarks ? Say($"Too many requests at once; try again in a second.") : null;
        if (why is null)
        {
            _soakWishes.Enqueue(wish);
        }

        return why is null;
    }

    public void SetCaptures(IReadOnlyList<Capture> captures) => ImmutableInterlocked.InterlockedExchange(ref _captures, [.. captures.TakeLast(Limits.CapturesShown)]);

    /// <summary>Adds rows that are later than all before.</summary>
    public void AddRows(IReadOnlyList<TrafficRow> rows)
    {
        if (rows.Count > 0)
        {
            lock (_rowsLock)
            {
                _rows = _rows.AddRange(rows);
                _rows = _rows.RemoveRange(0, Math.Max(0, _rows.Length - Limits.MinuteRowsInMemory));
            }
        }
    }

    /// <summary>Adds minutes that are later than all before.</summary>
    public void AddMeasured(IReadOnlyList<MeasuredRow> rows)
    {
        if (rows.Count > 0)
        {
            lock (_rowsLock)
            {
                _measured = _measured.AddRange(rows);
                _measured = _measured.RemoveRange(0, Math.Max(0, _measured.Length - Limits.MeasuredRowsInMemory));
            }
        }
    }

    /// <summary>The board was told the time: what it heard in this run gets other labels.</summary>
    /// <param name="by">How far.</param>
    /// <param name="since">When this run began, by the labels that held so far.</param>
    public void MoveRun(TimeSpan by, Instant since)
    {
        ImmutableInterlocked.Update(ref _acknowledgements, before => [.. before.Select(known => known.Start < since ? known : known with { Time = known.Time + by, Start = known.Start + by })]);
        ImmutableInterlocked.Update(ref _nodeEvents, before => [.. before.Select(happened => happened.Time < since ? happened : happened with { Time = happened.Time + by })]);
        lock (_rowsLock)
        {
            _rows = [.. _rows.Select(row => row with { Start = row.Start + by })];
            _measured = [.. _measured.Select(row => row with { Start = row.Start + by })];
        }
    }

    /// <summary>Rows that the log remembers; those before this run are shown.</summary>
    public void SetEarlierRows(IReadOnlyList<TrafficRow> rows)
    {
        lock (_rowsLock)
        {
            _earlierRows = [.. rows];
        }
    }

    /// <summary>Says that a part is in trouble; null = it works again. What was said already stands since then.</summary>
    public void SetTrouble(string part, Instant now, Sentence? text) => ImmutableInterlocked.Update(
        ref _troubles,
        before =>
        {
            ImmutableArray<Trouble> others = before.RemoveAll(trouble => trouble.Part == part);
            return text is null ? others : others.Add(before.FirstOrDefault(trouble => trouble.Part == part && trouble.Text.Equals(text)) ?? new(part, now, text));
        });

    /// <summary>A record that is none is a wish, too.</summary>
    private sealed record NamesWish(AsBuiltRecord? Record);
}
