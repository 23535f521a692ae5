using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core;

/// <summary>
/// The one door into the analysis: frames and time go in, the report document comes out. One owner, no locks, no clock, no I/O.
/// The same sequence of calls gives the same report, whatever the batch sizes.
/// </summary>
public sealed class Analyzer(AnalyzerOptions options) : IFrameSink
{
    private const long Second = 1_000_000_000;

    private readonly Bus?[] _buses = new Bus?[Limits.Interfaces];
    private readonly FindingBook _book = new();
    private readonly NotSeenLedger _ledger = new();
    private readonly EventTape _tape = new();
    private readonly MeasurementQueue _waiting = new();
    private readonly Board _board = new(options.Measuring);
    private AsBuiltRecord? _named = options.Site;
    private Instant? _start;
    private Instant _now = Instant.MinValue;
    private long _nextSecond = long.MaxValue;
    private Instant _lastFrame = Instant.MinValue;

    public void OnInterface(byte index, InterfaceFacts facts)
    {
        if (index < Limits.Interfaces)
        {
            BusOf(index).OnFacts(facts);
        }
    }

    public void OnFrame(in CanFrame frame)
    {
        if (frame.Interface >= Limits.Interfaces)
        {
            return;
        }

        MoveTo(frame.Time);
        if (_nextSecond - _now.Nanoseconds > Second)
        {
            // Traffic is back after a long silence: every second counts again.
            _nextSecond = ((_now.Nanoseconds / Second) + 1) * Second;
        }

        _lastFrame = _now;
        Bus bus = BusOf(frame.Interface);
        bus.OnFrame(frame);
        _board.OnFrame(frame, bus);
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
        // Told first: the seconds that lie inside the gap must not be taken for silence.
        _ledger.Add(notSeen);
        MoveTo(Instant.Max(notSeen.End, _now));
    }

    /// <summary>
    /// A sensor on the board gave a value. Of one quantity they come in the order of their windows; frames of the window may come before or behind. Time doesn't go on
    /// by it: a value is used once frames or <see cref="Advance"/> have gone past its window.
    /// </summary>
    public void OnMeasurement(in Measurement measurement) => _waiting.Add(measurement);

    /// <summary>Time went on without a frame: a live source says so once a second.</summary>
    public void Advance(Instant now) => MoveTo(now);

    /// <summary>
    /// Another as-built record gives the names from now on, between two frames. What was found before keeps its words; the bit rate, the protocol and what PDOs
    /// carry stay as they were at the beginning, because a change of those in mid-traffic would look like a change of the bus.
    /// </summary>
    public void UseNames(AsBuiltRecord? record)
    {
        _named = record;
        foreach (Bus? bus in _buses)
        {
            bus?.UseNames(record);
        }
    }

    /// <summary>The report of this moment; building it changes nothing.</summary>
    public Report Snapshot() => ReportBuilder.Build(options, _start, _now, [.. _buses.OfType<Bus>()], _book, _ledger, _board, _waiting.Refused);

    /// <summary>Events so far; those of the last minutes are at hand.</summary>
    public long EventCount => _tape.Count;

    /// <summary>Events from a place on, as far as they are still at hand, oldest first.</summary>
    /// <param name="place">An earlier <see cref="EventCount"/>.</param>
    public IEnumerable<BusEvent> EventsFrom(long place)
    {
        for (long at = Math.Max(place, _tape.First); at < _tape.Count; at++)
        {
            EventTape.Entry entry = _tape[at];
            Bus bus = BusOf(entry.Bus);
            yield return new(entry.Time, bus.Name, entry.Kind, entry.Node, entry.Number, EventWords.Of(entry.Kind, entry.Node, entry.Number, bus.Names));
        }
    }

    /// <summary>Whose supply and lines the board measures; null = not heard of yet.</summary>
    private Bus? MeasuredBus()
    {
        foreach (Bus? bus in _buses)
        {
            if (bus is not null && _board.IsFor(bus))
            {
                return bus;
            }
        }

        return null;
    }

    private Bus BusOf(byte index)
    {
        if (_buses[index] is not { } bus)
        {
            bus = _buses[index] = new(index, options, _book, _ledger, _tape, _start ?? _now);
            bus.UseNames(_named);
        }

        return bus;
    }

    /// <summary>
    /// Ends every whole second that lies before <paramref name="time"/>; in a long silence fewer (<see cref="NextTick"/>).
    /// </summary>
    private void MoveTo(Instant time)
    {
        if (_start is null)
        {
            _start = time;
            _now = time;
            _lastFrame = time;
            _nextSecond = ((time.Nanoseconds / Second) + 1) * Second;
            foreach (Bus? bus in _buses)
            {
                bus?.StartAt(time);
            }

            return;
        }

        while (time.Nanoseconds >= Math.Min(_nextSecond, _waiting.NextDue))
        {
            if (_waiting.NextDue < _nextSecond)
            {
                _board.OnMeasurement(_waiting.Take(), MeasuredBus());
                continue;
            }

            Instant tick = new(_nextSecond);
            foreach (Bus? bus in _buses)
            {
                bus?.OnSecond(tick);
            }

            _book.OnTick(tick);
            _nextSecond = NextTick(_nextSecond, tick - _lastFrame);
        }

        _now = Instant.Max(_now, time);
    }

    /// <summary>
    /// The moment to look at after <paramref name="tick"/> (nanoseconds). The longer no frame has come, the slower anything can change: after ten minutes
    /// every 60th second, after a day every hour, after 30 days every day, so that a trace whose stamps leap by centuries still reads in seconds.
    /// </summary>
    internal static long NextTick(long tick, TimeSpan silence)
    {
        long step = Second * (silence > Limits.HourlyTicks ? 86_400 : silence > Limits.MinuteTicks ? 3_600 : silence > Limits.FineTicks ? 60 : 1);
        return ((tick / step) + 1) * step;
    }
}
