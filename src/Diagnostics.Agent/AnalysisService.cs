using System.Globalization;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent;

/// <summary>
/// The one consumer: owns the analysis, takes what the source heard, lets time go on once a second, and swaps in a new snapshot.
/// Everything else only reads snapshots, and nothing that fails elsewhere reaches this loop.
/// </summary>
internal sealed partial class AnalysisService : BackgroundService
{
    private const long NanosecondsPerMinute = 60_000_000_000;

    private static readonly TimeSpan TickInterval = TimeSpan.FromSeconds(1);

    private readonly IBusSource _source;
    private readonly Analyzer _analyzer;
    private readonly FrameRing? _ring;
    private readonly CapturePlan _captures = new();
    private readonly AgentState _state;
    private readonly HistoryWriter? _history;
    private readonly Watchdog _watchdog;
    private readonly TimeProvider _clock;
    private readonly ILogger<AnalysisService> _logger;
    private readonly FindingJournal _journal;
    private readonly HistoryRecorder _recorder = new();
    private readonly InputRecorder _inputs = new();
    private readonly SoakRunner _soak;
    private long _eventsTaken;
    private Instant? _lastTick;
    private TimeSpan _wallMinusLine;

    public AnalysisService(
        IBusSource source, AgentSettings settings, AgentState state, HistoryWriter? history, Watchdog watchdog, TimeProvider clock, ILogger<AnalysisService> logger)
    {
        _source = source;
        source.Attach(state.Measurements);
        _analyzer = new(AnalyzerOptionsFor(settings, source));
        _ring = history is null ? null : new(_analyzer);
        _state = state;
        _history = history;
        _watchdog = watchdog;
        _clock = clock;
        _logger = logger;
        _journal = new(logger);
        _soak = new(state);
    }

    public static AnalyzerOptions AnalyzerOptionsFor(AgentSettings settings, IBusSource source) => new()
    {
        SourceKind = source.Kind,
        SourceName = source.Name,
        BitRate = settings.BitRate,
        Protocol = settings.Protocol,
        Site = settings.Site ?? source.Site,
        DataSheets = settings.DataSheets,
        Measuring = source.Measuring ?? settings.Board.Limits,
    };

    /// <summary>On a thread of its own: reading blocks.</summary>
    protected override Task ExecuteAsync(CancellationToken stoppingToken) =>
        Task.Factory.StartNew(() => Run(stoppingToken), stoppingToken, TaskCreationOptions.LongRunning, TaskScheduler.Default);

    private void Run(CancellationToken stopping)
    {
        Listening(_source.Kind, SettingException.OneLine(_source.Name));
        try
        {
            Tick();
            long lastTick = _clock.GetTimestamp();
            bool more = true;
            while (!stopping.IsCancellationRequested)
            {
                if (more)
                {
                    more = _source.Read((IFrameSink?)_ring ?? _analyzer, Limits.SourcePatience, stopping);
                    if (!more)
                    {
                        SourceEnded(SettingException.OneLine(_source.Name));
                    }
                }
                else
                {
                    stopping.WaitHandle.WaitOne(Limits.SourcePatience);
                }

                TakeMeasurements();
                if (_clock.GetElapsedTime(lastTick) >= TickInterval || IsMomentDue())
                {
                    lastTick = _clock.GetTimestamp();
                    Tick();
                }
            }
        }
        catch (OperationCanceledException) when (stopping.IsCancellationRequested)
        {
        }

        Tick();
    }

    /// <summary>
    /// The log keeps rows that end with minutes of the source's line, and a soak test ends when its time is full; the demo plays several minutes in a second.
    /// </summary>
    private bool IsMomentDue() =>
        _source.Now is { } now && (now >= _soak.Due || (_lastTick is { } last && now.Nanoseconds / NanosecondsPerMinute != last.Nanoseconds / NanosecondsPerMinute));

    /// <summary>Sensors have threads of their own; the analysis has one owner.</summary>
    private void TakeMeasurements()
    {
        while (_state.Measurements.TryTake(out Measurement measurement))
        {
            _analyzer.OnMeasurement(measurement);
        }
    }

    private void Tick()
    {
        // A live source says once a second that time goes on, traffic or not. Where it no longer does, its reader is dead, and so is the watchdog's food.
        bool isFlowing = _source.Kind != "live";
        if (_source.Now is { } now)
        {
            isFlowing |= now != _lastTick;

            // If the process itself was starved or suspended, silence in that time is not the bus's fault.
            if (_source.Kind == "live" && _lastTick is { } last && now - last > Limits.AgentLate)
            {
                _analyzer.OnNotSeen(new(NotSeenKind.AgentLate, NotSeen.AllInterfaces, last, now, 0, Say($"this program did not get to run").English));
                _state.TellBoard(BoardEventKind.AgentLate, isOver: true, Say($"This program did not get to run for {(now - last).TotalSeconds:0.0} s: the board slept, or was too busy."));
            }

            _lastTick = now;
            _analyzer.Advance(now);
        }

        if (_state.TryTakeNames(out AsBuiltRecord? record))
        {
            _analyzer.UseNames(record);
        }

        Report report = _analyzer.Snapshot();
        TimeSpan? set = ClockSet(report);
        Report moved = report.Moved(_wallMinusLine);
        _state.Report = moved;
        _journal.OnSnapshot(report);
        BusEvent[] events = [.. _analyzer.EventsFrom(_eventsTaken)];
        _state.Activity.Add(events, _wallMinusLine);
        _state.Walk.OnEvents(moved, events.Select(happened => happened with { Time = happened.Time + _wallMinusLine }));
        HistoryBatch batch = _recorder.OnSnapshot(report) with { WallMinusLine = set, Soaks = _soak.OnSnapshot(report, _wallMinusLine), Inputs = _inputs.OnEvents(events) };
        _eventsTaken = _analyzer.EventCount;
        if (report.Source.End is { } end && _state.TakeBoardNews(end) is [_, ..] board)
        {
            batch = batch with { Board = board };
            _state.AddBoardEvents(board.Select(happened => happened with { Time = happened.Time + _wallMinusLine }));
        }

        if (_state.TakeAcknowledgements(report) is [_, ..] acknowledged)
        {
            batch = batch with { Acknowledgements = acknowledged };
            _state.AddAcknowledgements(acknowledged.Select(known => known with { Time = known.Time + _wallMinusLine, Start = known.Start + _wallMinusLine }));
        }

        if (batch.NodeEvents.Count > 0)
        {
            _state.AddNodeEvents(batch.NodeEvents.Select(happened => happened with { Time = happened.Time + _wallMinusLine }));
        }

        _state.AddRows([.. batch.Minutes.Select(row => row with { Start = row.Start + _wallMinusLine })]);
        _state.AddMeasured([.. batch.Measured.Select(row => row with { Start = row.Start + _wallMinusLine })]);
        if (_ring is not null && _history is not null)
        {
            batch = batch with { Captures = Captures(report, _ring, _history.RoomForFrames) };
        }

        if (!batch.IsEmpty)
        {
            _history?.Enqueue(batch);
        }

        if (isFlowing)
        {
            _watchdog.OnTick();
        }
    }

    /// <summary>
    /// How the wall clock stands to the line, where that changed by enough to matter. The log and the analysis stay on the line, on which nothing ever jumps; people read the wall.
    /// </summary>
    private TimeSpan? ClockSet(Report report)
    {
        TimeSpan now = _source.WallMinusLine;
        if ((now - _wallMinusLine).Duration() < Limits.ClockSet)
        {
            return null;
        }

        _state.MoveRun(now - _wallMinusLine, (report.Source.Start ?? default) + _wallMinusLine);
        _wallMinusLine = now;
        return now;
    }

    private List<(CaptureRequest Request, byte[]? Frames)> Captures(Report report, FrameRing ring, int room)
    {
        while (_state.TryTakeMark(out string? note, out Sentence? wording))
        {
            if (report.Source.End is { } now)
            {
                _captures.OnMark(now, note, wording);
            }
        }

        List<(CaptureRequest, byte[]?)> taken = [];
        foreach (CaptureRequest request in _captures.OnSnapshot(report))
        {
            byte[]? frames = ring.Take(request.From, request.Time + CapturePlan.After, Math.Min(_captures.RoomFor(request), room));
            room -= frames?.Length ?? 0;
            _captures.OnTaken(request, frames?.Length ?? 0);
            taken.Add((request.IsMark ? request with { Story = StoryOf(request, report) } : request, frames));
        }

        return taken;
    }

    private Story StoryOf(CaptureRequest request, Report report)
    {
        BusEvent[] atHand = [.. _analyzer.EventsFrom(0)];
        bool isWhole = atHand.LongLength == _analyzer.EventCount || atHand[0].Time <= request.From;
        return Story.Of(request, [.. atHand.Where(happened => happened.Time >= request.From && happened.Time <= request.Time + CapturePlan.After)], isWhole, report);
    }

    [LoggerMessage(10, LogLevel.Information, "listening: {Kind} {Source}")]
    private partial void Listening(string kind, string source);

    [LoggerMessage(11, LogLevel.Warning, "the source {Source} has ended; the report stays as it is")]
    private partial void SourceEnded(string source);
}
