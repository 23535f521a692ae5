using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization.Metadata;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.History;

/// <summary>
/// The log: what is written goes to the append-only store, from which the index is fed once an hour; queries read the index and, behind it, what
/// came since, which is kept in memory. Findings and what happened to nodes are on the disk when <see cref="Write"/> returns; rows within five seconds.
/// </summary>
internal sealed class StoredHistory : IHistory
{
    /// <summary>
    /// How long before a power cut what was heard may be missing: a row that waits for its flush, and the second that it is about, which the record before it doesn't cover.
    /// </summary>
    public static readonly TimeSpan LongestUnkept = RecordStore.FlushInterval + TimeSpan.FromSeconds(1);

    /// <summary>What came since is at most a few thousand rows; more often would write LiteDB's pages for little.</summary>
    private static readonly TimeSpan FeedInterval = TimeSpan.FromHours(1);

    /// <summary>
    /// Rows come once a second, so half a second less is the fifth of them whether it comes a little early or late. That counts on ext4 with its usual settings: a flush five seconds after
    /// another still falls into the same transaction of its journal (it ends after five seconds, at the next full one), so two flushes cost one; a sixth second would cost as many
    /// transactions as flushes, three blocks each.
    /// </summary>
    private static readonly TimeSpan FlushDue = RecordStore.FlushInterval - TimeSpan.FromSeconds(0.5);

    /// <summary>A disk that failed is left alone for a while.</summary>
    private static readonly TimeSpan RetryInterval = TimeSpan.FromSeconds(10);

    /// <summary>Longer for the index: it is made anew then, which writes twice the store.</summary>
    private static readonly TimeSpan IndexRetryInterval = TimeSpan.FromMinutes(10);

    /// <summary>The demo's seconds are five minutes long.</summary>
    private static readonly TimeSpan LongestSecond = TimeSpan.FromMinutes(10);

    /// <summary>Held while a log is open: two services would write over each other.</summary>
    private const string LockName = "lock";

    /// <summary>EAGAIN: another process holds the lock.</summary>
    private const int HeldByAnother = 11;

    private readonly RecordStore _store;
    private readonly HistoryIndex _index;
    private readonly CaptureFiles _captures;
    private readonly TimeProvider _clock;
    private readonly FileStream _lock;
    private readonly TimeSpan _inputs;

    /// <summary>Changes of inputs before this aren't shown, even where their file is still there.</summary>
    private Instant _inputsSince = Instant.MinValue;
    private Instant _wall;

    /// <summary>Records behind the index, in order of sequence.</summary>
    private readonly List<StoreRecord> _recent = [];

    /// <summary>Sequences at which runs of the service began, rising. Within a run time rises with the sequence; from one to the next the board's clock may have gone anywhere.</summary>
    private readonly List<long> _runs = [];

    /// <summary>What to add to the times of a run, by its place in <see cref="_runs"/>.</summary>
    private readonly Dictionary<int, TimeSpan> _corrections = [];
    private Instant _lastTime;
    private TimeSpan _feedDue = FeedInterval;
    private long _flushed;
    private long _fed;
    private (long At, string Told)? _failed;

    private StoredHistory(RecordStore store, HistoryIndex index, CaptureFiles captures, TimeProvider clock, FileStream held, TimeSpan inputs)
    {
        _lock = held;
        _inputs = inputs;
        _store = store;
        _index = index;
        _captures = captures;
        _clock = clock;
        _flushed = _fed = clock.GetTimestamp();
    }

    /// <summary>What a person should know about how the log was found, as whole sentences.</summary>
    public IReadOnlyList<string> Remarks { get; private set; } = [];

    /// <summary>Sequence of the latest record.</summary>
    public long LastSequence => _store.LastSequence;

    /// <summary>Every record up to this sequence is on the disk.</summary>
    public long KeptUpTo => _store.KeptUpTo;

    /// <summary>Opens the log of a directory, or begins one.</summary>
    /// <param name="directory">Made where it is missing.</param>
    /// <param name="capBytes">Largest size of all files together.</param>
    /// <param name="now">The board's time at the start of this run.</param>
    /// <param name="clock">For the time between flushes.</param>
    /// <param name="inputs">How long changes of inputs are kept; zero = none are. <see cref="StoreBudget.InputsKept"/> unless told otherwise.</param>
    /// <exception cref="HistoryException">The directory can't be used, another service uses it, or a file is of a newer program.</exception>
    public static StoredHistory Open(string directory, long capBytes, Instant now, TimeProvider clock, TimeSpan? inputs = null)
    {
        FileStream? held = null;
        RecordStore? store = null;
        HistoryIndex? index = null;
        try
        {
            DiskStoreFiles files = new(directory);
            held = new(Path.Combine(directory, LockName), FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
            store = RecordStore.Open(files, StoreBudget.Of(capBytes));
            index = HistoryIndex.Open(directory, files);
            StoredHistory history = new(store, index, CapturesOf(directory, capBytes), clock, held, inputs ?? StoreBudget.InputsKept);
            history.Begin(now);
            return history;
        }
        catch (Exception problem)
        {
            index?.Dispose();
            store?.Dispose();
            held?.Dispose();
            if (!IsDiskTrouble(problem))
            {
                throw;
            }

            if (held is null && problem.HResult == HeldByAnother)
            {
                throw new HistoryException($"The log in '{directory}' is in use by another service: end that one, or name another directory with --log.", problem);
            }

            throw new HistoryException($"The log in '{directory}' can't be opened ({problem.Message.TrimEnd('.')}).", problem);
        }
    }

    /// <summary>The frames that are kept beside a log.</summary>
    public static CaptureFiles CapturesOf(string directory, long capBytes) => new(Path.Combine(directory, "captures"), StoreBudget.Captures(capBytes));

    public void Write(HistoryBatch batch)
    {
        // The file first: a record that names a file which isn't there would be a promise that nobody keeps.
        Exception? failed = null;
        foreach ((CaptureRequest request, byte[]? frames) in batch.Captures)
        {
            Capture capture = new(request.Time, request.Why, request.IsMark, null, 0);
            try
            {
                capture = _captures.Write(request, frames);
            }
            catch (Exception problem) when (IsDiskTrouble(problem))
            {
                failed = problem;
            }

            Append(StoreSeries.Events, RecordKind.Capture, capture.Time, capture, HistoryJson.Default.Capture);
        }

        foreach (FindingReport finding in batch.Findings)
        {
            Append(StoreSeries.Events, RecordKind.Finding, Instant.Max(finding.Raised, batch.Time), finding, HistoryJson.Default.FindingReport);
        }

        foreach (NodeEvent happened in batch.NodeEvents)
        {
            Append(StoreSeries.Events, RecordKind.NodeEvent, happened.Time, happened, HistoryJson.Default.NodeEvent);
        }

        if (batch.WallMinusLine is { } correction)
        {
            Append(StoreSeries.Events, RecordKind.ClockCorrection, batch.Time, new ClockCorrection(correction.TotalSeconds), HistoryJson.Default.ClockCorrection);
            _corrections[RunOf(_store.LastSequence)] = correction;
        }

        if (batch.Inputs.Count > 0 && _inputs > TimeSpan.Zero)
        {
            Append(StoreSeries.Inputs, RecordKind.InputEvents, batch.Inputs[0].Time, batch.Inputs, HistoryJson.Default.IReadOnlyListInputEvent);
        }

        foreach (SoakRecord soak in batch.Soaks)
        {
            Append(StoreSeries.Events, RecordKind.Soak, batch.Time, soak, HistoryJson.Default.SoakRecord);
        }

        foreach ((StoreSeries tier, TrafficRow row) in batch.Rows)
        {
            if (tier == StoreSeries.Seconds)
            {
                Add(tier, RecordKind.Traffic, row.Start, SecondRowFormat.Write(row));
            }
            else
            {
                Append(tier, RecordKind.Traffic, row.Start, row, HistoryJson.Default.TrafficRow);
            }
        }

        _wall = batch.Time + CorrectionAt(_store.LastSequence);
        Flush(batch.IsUrgent);
        if (failed is not null)
        {
            throw new HistoryException($"Frames can't be kept ({failed.Message.TrimEnd('.')}).", failed);
        }
    }

    public void OnIdle() => Flush(isUrgent: false);

    public IReadOnlyList<TrafficRow> ReadRows(StoreSeries tier, Instant from, Instant to) =>
        [.. Within(tier, from, to).Select(row => Row(row) is { } read ? read with { Start = Wall(row, read.Start) } : null).OfType<TrafficRow>().OrderBy(row => row.Start)];

    public IReadOnlyList<FindingReport> ReadFindings()
    {
        Dictionary<(int Run, string Key, int Count), FindingReport> last = [];
        foreach (StoreRecord record in Events(RecordKind.Finding))
        {
            if (Payload(record, HistoryJson.Default.FindingReport) is { } finding)
            {
                last[(RunOf(record.Sequence), finding.Key, finding.Count)] = finding.Moved(CorrectionAt(record.Sequence));
            }
        }

        return [.. last.Values.OrderBy(finding => finding.Start)];
    }

    public IReadOnlyList<Capture> ReadCaptures() =>
        [.. Events(RecordKind.Capture).Select(record => Payload(record, HistoryJson.Default.Capture) is { } read ? Moved(read, CorrectionAt(record.Sequence)) : null).OfType<Capture>()
            .Select(capture => capture.File is { } file && _captures.PathOf(file) is null ? capture with { File = null } : capture).OrderBy(capture => capture.Time)];

    public IReadOnlyList<InputEvent> ReadInputEvents(Instant from, Instant to) =>
    [
        // A record holds what one second brought; the demo's seconds are minutes long.
        .. Within(StoreSeries.Inputs, from - LongestSecond, to)
            .SelectMany(record => (Payload(record, HistoryJson.Default.IReadOnlyListInputEvent) ?? []).Select(change => change with { Time = Wall(record, change.Time) }))
            .Where(change => change.Time >= from && change.Time <= to && change.Time >= _inputsSince)
            .OrderBy(change => change.Time),
    ];

    public IReadOnlyList<SoakRecord> ReadSoaks()
    {
        // In order of the sequence: nothing else orders what a board without a clock wrote.
        Dictionary<string, SoakRecord> last = new(StringComparer.Ordinal);
        List<string> order = [];
        foreach (StoreRecord record in Events(RecordKind.Soak))
        {
            if (Payload(record, HistoryJson.Default.SoakRecord) is { } soak)
            {
                if (last.TryAdd(soak.Id, soak))
                {
                    order.Add(soak.Id);
                }

                last[soak.Id] = soak;
            }
        }

        return [.. order.Select(id => last[id])];
    }

    public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) =>
        [.. Events(RecordKind.NodeEvent)
            .Where(record => Wall(record, record.Time) is var time && time >= from && time <= to)
            .Select(record => Payload(record, HistoryJson.Default.NodeEvent) is { } read ? read with { Time = Wall(record, read.Time) } : null).OfType<NodeEvent>().OrderBy(happened => happened.Time)];

    /// <summary>Says that the run ended as it should, and brings the index up to date. A disk that fails now is left alone.</summary>
    public void Dispose()
    {
        try
        {
            Add(StoreSeries.Events, RecordKind.Stopped, _lastTime, []);
            _failed = null;
            Flush(isUrgent: true);
            Feed();
        }
        catch (HistoryException)
        {
        }

        _index.Dispose();
        _store.Dispose();
        _lock.Dispose();
    }

    private static bool IsDiskTrouble(Exception problem) => problem is IOException or UnauthorizedAccessException;

    private void Begin(Instant now)
    {
        StoreRecovery found = _store.Recovery;
        List<string> remarks = [.. found.Damaged.Select(damage => $"In the log, {damage}: what stood there is missing.")];
        if (_index.Sequence > _store.LastSequence)
        {
            _index.Discard("the store beside it is older");
        }

        if (_index.MadeAnewBecause is { } because)
        {
            remarks.Add($"The index of the log was made anew from its store, because {because}; nothing is missing for that.");
        }

        Add(StoreSeries.Events, RecordKind.Started, now, []);
        Flush(isUrgent: true);
        _recent.Clear();
        int behind = 0;
        foreach (StoreRecord record in _store.ReadAfter(_index.Sequence, HistoryIndex.Holds))
        {
            // A whole store is not held in memory.
            if (++behind > StoreBudget.MostRecent)
            {
                _recent.Clear();
                Feed();
                break;
            }

            _recent.Add(record);
        }

        _runs.Clear();
        _runs.AddRange(Events(RecordKind.Started).Select(record => record.Sequence));
        _corrections.Clear();
        foreach (StoreRecord record in Events(RecordKind.ClockCorrection))
        {
            if (Payload(record, HistoryJson.Default.ClockCorrection) is { } read)
            {
                _corrections[RunOf(record.Sequence)] = TimeSpan.FromSeconds(read.Seconds);
            }
        }

        if (found.IsCutOff)
        {
            TimeSpan correction = _corrections.GetValueOrDefault(_runs.Count - 1);
            remarks.Insert(found.Damaged.Count, string.Create(
                CultureInfo.InvariantCulture,
                $"The last run was cut off, at {(found.LastTime!.Value + correction).WholeSecond.ToString().TrimEnd('Z').Replace('T', ' ')} UTC or up to {LongestUnkept.TotalSeconds:0} s later. What was found until then is all there; of those last seconds the load may be missing."));
        }

        Remarks = remarks;
        _wall = now;
        DropOldInputs();
    }

    private void Append<T>(StoreSeries series, RecordKind kind, Instant time, T value, JsonTypeInfo<T> type) =>
        Add(series, kind, time, JsonSerializer.SerializeToUtf8Bytes(value, type));

    private void Add(StoreSeries series, RecordKind kind, Instant time, byte[] payload)
    {
        // A text of the site may be as long as it likes; the store isn't.
        if (payload.Length > RecordStore.LongestPayload)
        {
            return;
        }

        long sequence = _store.Append(series, kind, time, payload);
        _lastTime = time;
        if (!HistoryIndex.Holds(series))
        {
            return;
        }

        _recent.Add(new(series, kind, sequence, time, payload));

        // Where the index can't be fed, the oldest of these aren't found until it can.
        if (_recent.Count >= 2 * StoreBudget.MostRecent)
        {
            _recent.RemoveRange(0, StoreBudget.MostRecent);
        }
    }

    private void Flush(bool isUrgent)
    {
        // What is held isn't safe for that.
        if (_failed is { } failed && _clock.GetElapsedTime(failed.At) < RetryInterval)
        {
            throw new HistoryException(failed.Told);
        }

        try
        {
            if (_failed is not null || _clock.GetElapsedTime(_flushed) >= FlushDue)
            {
                _store.Flush();
                _flushed = _clock.GetTimestamp();
                _failed = null;
            }
            else if (isUrgent)
            {
                _store.Flush(StoreSeries.Events);
            }
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            string told = string.Create(
                CultureInfo.InvariantCulture,
                $"The log can't be written ({problem.Message.TrimEnd('.')}). What comes is held in memory and written when the disk works again; {_store.Lost} records had to be given up so far.");
            _failed = (_clock.GetTimestamp(), told);
            throw new HistoryException(told, problem);
        }

        if (_clock.GetElapsedTime(_fed) >= _feedDue || (_feedDue == FeedInterval && _recent.Count >= StoreBudget.MostRecent))
        {
            Feed();
        }
    }

    /// <summary>Only what is on the disk goes into the index: it must never know more than the store.</summary>
    private void Feed()
    {
        _fed = _clock.GetTimestamp();
        _feedDue = RetryInterval;
        try
        {
            DropOldInputs();
            _store.Flush();
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            throw new HistoryException($"The log can't be written ({problem.Message.TrimEnd('.')}).", problem);
        }

        _feedDue = IndexRetryInterval;
        long upTo = _store.LastSequence;
        _index.Feed(_store.ReadAfter(_index.Sequence, HistoryIndex.Holds), _store.FirstSequence);
        _recent.RemoveAll(record => record.Sequence <= upTo);
        _feedDue = FeedInterval;
    }

    /// <summary>What is older than it may be goes, file by file; so a file gets a day at most, and the last of it goes a day late.</summary>
    private void DropOldInputs()
    {
        _inputsSince = _wall - _inputs;
        _store.DropOld(
            StoreSeries.Inputs,
            record => Wall(record, record.Time) < _inputsSince,
            begin => _wall - Wall(begin, begin.Time) >= TimeSpan.FromDays(1));
    }

    private IEnumerable<StoreRecord> Events(RecordKind kind) =>
        _index.Read(StoreSeries.Events, kind, _store.FirstSequence(StoreSeries.Events)).Concat(_recent.Where(record => record.Kind == kind));

    private IEnumerable<StoreRecord> Within(StoreSeries series, Instant from, Instant to)
    {
        if (!HistoryIndex.Holds(series))
        {
            return _corrections.Values.Append(TimeSpan.Zero).Distinct()
                .SelectMany(correction => _store.ReadWithin(series, from - correction, to - correction).Where(record => CorrectionAt(record.Sequence) == correction));
        }

        return WithinIndex(series, from, to);
    }

    /// <summary>Run by run: within a run time rises with the sequence, so the ends are found by halves.</summary>
    private IEnumerable<StoreRecord> WithinIndex(StoreSeries series, Instant from, Instant to)
    {
        for (int run = 0; run <= _runs.Count; run++)
        {
            // What the store let go since the last feeding is still in the index.
            long begin = Math.Max(run == 0 ? 0 : _runs[run - 1], _store.FirstSequence(series));
            long end = Math.Min(run < _runs.Count ? _runs[run] : long.MaxValue, _index.Sequence + 1);
            if (begin >= end)
            {
                continue;
            }

            TimeSpan correction = _corrections.GetValueOrDefault(run);
            long first = FirstAt(series, begin, end, from - correction);
            foreach (StoreRecord record in _index.Read(series, series == StoreSeries.Inputs ? RecordKind.InputEvents : RecordKind.Traffic, first, FirstAt(series, first, end, to - correction + TimeSpan.FromTicks(1))))
            {
                yield return record;
            }
        }

        foreach (StoreRecord record in _recent.Where(record => record.Series == series && Wall(record, record.Time) is var time && time >= from && time <= to))
        {
            yield return record;
        }
    }

    /// <summary>The sequence from which on records of a run are at or behind a time.</summary>
    private long FirstAt(StoreSeries series, long begin, long end, Instant time)
    {
        while (begin < end)
        {
            long middle = begin + ((end - begin) / 2);
            StoreRecord? found = _index.FirstFrom(series, middle);
            if (found is not { } record || record.Sequence >= end || record.Time >= time)
            {
                end = middle;
            }
            else
            {
                begin = record.Sequence + 1;
            }
        }

        return begin;
    }

    private static Capture Moved(Capture capture, TimeSpan by) => capture with
    {
        Time = capture.Time + by,
        Story = capture.Story is { } story ? story with { Events = [.. story.Events.Select(happened => happened with { Time = happened.Time + by })] } : null,
    };

    private TimeSpan CorrectionAt(long sequence) => _corrections.GetValueOrDefault(RunOf(sequence));

    /// <summary>A time of a record as the wall clock says it.</summary>
    private Instant Wall(StoreRecord record, Instant line) => line + CorrectionAt(record.Sequence);

    private int RunOf(long sequence)
    {
        int place = _runs.BinarySearch(sequence);
        return place >= 0 ? place + 1 : ~place;
    }

    private static TrafficRow? Row(StoreRecord record) =>
        record.Series == StoreSeries.Seconds && SecondRowFormat.Read(record.Payload.Span, record.Time) is { } row ? row : Payload(record, HistoryJson.Default.TrafficRow);

    /// <summary>A payload of a later version may hold what this one can't read: it is passed over.</summary>
    private static T? Payload<T>(StoreRecord record, JsonTypeInfo<T> type)
        where T : class
    {
        try
        {
            return JsonSerializer.Deserialize(record.Payload.Span, type);
        }
        catch (JsonException)
        {
            return null;
        }
    }
}
