using Diagnostics.Core.Wording;
using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization.Metadata;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Buses;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using static Diagnostics.Core.Wording.Wordings;

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

    /// <summary>Frames or errors of one row: beyond what any bus carries in years, and so few that a million of them still add up.</summary>
    private const long MostInARow = 1_000_000_000_000;

    /// <summary>EROFS.</summary>
    private const int ReadOnlyFileSystem = 30;

    /// <summary>EAGAIN: another process holds the lock.</summary>
    private const int HeldByAnother = 11;

    /// <summary>Farther than any clock goes, and far enough from the ends that times can be added to: from here to <see cref="Latest"/> is all of a log.</summary>
    public static readonly Instant Earliest = new(long.MinValue / 2);
    public static readonly Instant Latest = new(long.MaxValue / 2);

    private readonly IStoreFiles _files;
    private readonly RecordStore _store;
    private readonly HistoryIndex _index;
    private readonly CaptureFiles _captures;
    private readonly TimeProvider _clock;
    private readonly FileStream? _lock;

    /// <summary>Where the index of a log that is only read lies for as long; null for a log that is written.</summary>
    private readonly string? _scratch;

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
    private (long At, Sentence Told)? _failed;

    private StoredHistory(IStoreFiles files, RecordStore store, HistoryIndex index, CaptureFiles captures, TimeProvider clock, TimeSpan inputs, FileStream? held = null, string? scratch = null)
    {
        _lock = held;
        _scratch = scratch;
        _inputs = inputs;
        _files = files;
        _store = store;
        _index = index;
        _captures = captures;
        _clock = clock;
        _flushed = _fed = clock.GetTimestamp();
    }

    /// <summary>What a person should know about how the log was found, as whole sentences.</summary>
    public IReadOnlyList<Sentence> Remarks { get; private set; } = [];

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
            StoredHistory history = new(files, store, index, CapturesOf(directory, capBytes), clock, inputs ?? StoreBudget.InputsKept, held);
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
                throw new HistoryException(Say($"The log in '{directory}' is in use by another service: end that one, or name another directory with --log."), problem);
            }

            throw new HistoryException(Say($"The log in '{directory}' can't be opened ({problem.Message.TrimEnd('.')})."), problem);
        }
    }

    /// <summary>
    /// Opens a log to read it, and changes nothing in its directory: no run begins, nothing is repaired, and the index is made elsewhere for as long as it is needed.
    /// A service may be writing it meanwhile; what comes after the opening isn't seen.
    /// </summary>
    /// <param name="directory">A log's directory, or an unpacked bundle.</param>
    /// <param name="clock">For the time between flushes, of which there are none.</param>
    /// <param name="isLive">It is the copy of a log that was being written, so it is no wonder that its run has no end.</param>
    /// <exception cref="HistoryException">There is no log, it can't be read, or a file is of a newer program.</exception>
    public static StoredHistory OpenReadOnly(string directory, TimeProvider clock, bool isLive = false)
    {
        if (!Directory.Exists(directory))
        {
            throw new HistoryException(Say($"There is no log in '{directory}', not even that directory."));
        }

        RecordStore? store = null;
        HistoryIndex? index = null;
        string? scratch = null;
        try
        {
            scratch = Directory.CreateTempSubdirectory("diagnostics-index-").FullName;
            ReadOnlyStoreFiles files = new(new DiskStoreFiles(directory));
            store = RecordStore.Open(files, Enum.GetValues<StoreSeries>().ToDictionary(series => series, _ => long.MaxValue));
            index = HistoryIndex.Open(scratch, new DiskStoreFiles(scratch));
            StoredHistory history = new(files, store, index, CapturesOf(directory, long.MaxValue), clock, StoreBudget.InputsKept, scratch: scratch);
            history.Load();
            history.Remarks = [.. Damage(store.Recovery), .. isLive || store.Recovery is not { IsCutOff: true, LastTime: { } end } ? [] : (Sentence[])[
                Say($"The log ends at {Said(end + history._corrections.GetValueOrDefault(history._runs.Count))} without the end of a run: it was cut off there, or the service was still writing it.")]];
            return history;
        }
        catch (Exception problem)
        {
            index?.Dispose();
            store?.Dispose();
            Remove(scratch);
            if (!IsDiskTrouble(problem))
            {
                throw;
            }

            throw new HistoryException(Say($"The log in '{directory}' can't be read ({problem.Message.TrimEnd('.')})."), problem);
        }
    }

    /// <summary>The frames that are kept beside a log.</summary>
    public static CaptureFiles CapturesOf(string directory, long capBytes) => new(Path.Combine(directory, CaptureFiles.Folder), StoreBudget.Captures(capBytes));

    public void Write(HistoryBatch batch)
    {
        // The file first: a record that names a file which isn't there would be a promise that nobody keeps.
        Exception? failed = null;
        foreach ((CaptureRequest request, byte[]? frames) in batch.Captures)
        {
            Capture capture = Capture.Of(request, null, 0);
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

        foreach (BoardEvent happened in batch.Board)
        {
            Append(StoreSeries.Events, RecordKind.Board, happened.Time, happened, HistoryJson.Default.BoardEvent);
        }

        foreach (SoakRecord soak in batch.Soaks)
        {
            Append(StoreSeries.Events, RecordKind.Soak, batch.Time, soak, HistoryJson.Default.SoakRecord);
        }

        foreach (Acknowledgement known in batch.Acknowledgements)
        {
            Append(StoreSeries.Events, RecordKind.Acknowledgement, known.Time, known, HistoryJson.Default.Acknowledgement);
        }

        foreach (MeasuredRow row in batch.Measured)
        {
            Append(StoreSeries.Measured, RecordKind.Measured, row.Start, row, HistoryJson.Default.MeasuredRow);
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
            throw new HistoryException(Say($"Frames can't be kept ({failed.Message.TrimEnd('.')})."), failed) { IsOfFrames = true };
        }
    }

    public void OnIdle() => Flush(isUrgent: false);

    public StoreSnapshot Snapshot()
    {
        try
        {
            _store.Flush();
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            // What is on the disk is worth a copy all the more.
        }

        (Instant? first, Instant? last) = ReadReach();
        return new(_store.Extents(), first, last);
    }

    public (Instant? First, Instant? Last) ReadReach()
    {
        try
        {
            // The beginning of a run bears the board's time and not that of the bus, and a row the time at which it began.
            StoreSeries[] all = Enum.GetValues<StoreSeries>();
            StoreRecord[] oldest =
            [
                .. all.Where(series => series != StoreSeries.Events).Select(series => _index.FirstFrom(series, _store.FirstSequence(series))).OfType<StoreRecord>(),
                .. _recent.Where(record => record.Kind != RecordKind.Started).Take(1),
            ];
            StoreRecord[] latest =
            [
                .. all.Select(series => _index.FirstFrom(series, _store.LastSequence - RecordStore.RecordsAtTheEnd)).OfType<StoreRecord>().Where(record => record.Kind != RecordKind.Started),
                .. _recent.TakeLast(RecordStore.RecordsAtTheEnd).Where(record => record.Kind != RecordKind.Started),
            ];
            return (
                oldest.Length > 0 && oldest.MinBy(record => record.Sequence) is var from ? Wall(from, from.Time) : null,
                latest.Length > 0 ? latest.Max(record => Wall(record, record.Time)) : null);
        }
        catch (HistoryException)
        {
            // The index is damaged; the store isn't, and only the dates are missing then.
            return (null, null);
        }
    }

    public void Keep(string document, byte[]? content)
    {
        try
        {
            byte[]? before = _files.List().Contains(document) ? _files.Read(document) : null;
            if (content is null)
            {
                if (before is not null)
                {
                    _files.Delete(document);
                }
            }
            else if (before is null || !content.AsSpan().SequenceEqual(before))
            {
                // Cards wear by what is written.
                _files.Replace(document, content);
            }
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
            throw new HistoryException(Say($"'{document}' can't be kept beside the log ({problem.Message.TrimEnd('.')})."), problem);
        }
    }

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

    /// <summary>All runs in their order, each with what became of its findings: what stood at a moment, and how often something began in a span, is found from these.</summary>
    public IReadOnlyList<LogRun> ReadRuns()
    {
        (List<(Instant, FindingReport)> Findings, List<NodeEvent> Nodes)[] runs = [.. Enumerable.Range(0, _runs.Count + 1).Select(_ => (new List<(Instant, FindingReport)>(), new List<NodeEvent>()))];
        foreach (StoreRecord record in Events(RecordKind.Finding))
        {
            if (Payload(record, HistoryJson.Default.FindingReport) is { } finding)
            {
                runs[RunOf(record.Sequence)].Findings.Add((Wall(record, record.Time), finding.Moved(CorrectionAt(record.Sequence))));
            }
        }

        foreach (StoreRecord record in Events(RecordKind.NodeEvent))
        {
            if (Payload(record, HistoryJson.Default.NodeEvent) is { } happened)
            {
                runs[RunOf(record.Sequence)].Nodes.Add(happened with { Time = Wall(record, happened.Time) });
            }
        }

        Dictionary<long, Instant> starts = Events(RecordKind.Started).ToDictionary(record => record.Sequence, record => Wall(record, record.Time));
        return [.. runs.Select((run, place) => new LogRun(place > 0 && starts.TryGetValue(_runs[place - 1], out Instant start) ? start : null, run.Findings, run.Nodes))];
    }

    public IReadOnlyList<Capture> ReadCaptures() =>
        [.. Events(RecordKind.Capture).Select(record => Payload(record, HistoryJson.Default.Capture) is { } read ? Moved(read, CorrectionAt(record.Sequence)) : null).OfType<Capture>()
            .Select(capture => capture.File is { } file && _captures.PathOf(file) is null ? capture with { File = null } : capture).OrderBy(capture => capture.Time)];

    public IReadOnlyList<BoardEvent> ReadBoardEvents() =>
        [.. Events(RecordKind.Board).Select(record => Payload(record, HistoryJson.Default.BoardEvent) is { } read ? read with { Time = Wall(record, read.Time) } : null).OfType<BoardEvent>()];

    public IReadOnlyList<InputEvent> ReadInputEvents(Instant from, Instant to) =>
    [
        // A record holds what one second brought; the demo's seconds are minutes long.
        .. Within(StoreSeries.Inputs, from - LongestSecond, to)
            .SelectMany(record => (Payload(record, HistoryJson.Default.IReadOnlyListInputEvent) ?? []).Select(change => change with { Time = Wall(record, change.Time) }))
            .Where(change => change.Time >= from && change.Time <= to && change.Time >= _inputsSince)
            .OrderBy(change => change.Time),
    ];

    public IReadOnlyList<MeasuredRow> ReadMeasured(Instant from, Instant to) =>
        [.. Within(StoreSeries.Measured, from, to)
            .Select(record => Payload(record, HistoryJson.Default.MeasuredRow) is { Values: not null } read ? read with { Start = Wall(record, read.Start) } : null)
            .OfType<MeasuredRow>().OrderBy(row => row.Start)];

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

    public IReadOnlyList<Acknowledgement> ReadAcknowledgements() =>
        [.. Events(RecordKind.Acknowledgement)
            .Select(record => Payload(record, HistoryJson.Default.Acknowledgement) is { } read ? read with { Time = Wall(record, read.Time), Start = Wall(record, read.Start) } : null)
            .OfType<Acknowledgement>()];

    public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) =>
        [.. Events(RecordKind.NodeEvent)
            .Where(record => Wall(record, record.Time) is var time && time >= from && time <= to)
            .Select(record => Payload(record, HistoryJson.Default.NodeEvent) is { } read ? read with { Time = Wall(record, read.Time) } : null).OfType<NodeEvent>().OrderBy(happened => happened.Time)];

    /// <summary>Says that the run ended as it should, and brings the index up to date. A disk that fails now is left alone.</summary>
    public void Dispose()
    {
        try
        {
            if (_scratch is null)
            {
                End();
            }
        }
        catch (HistoryException)
        {
        }

        _index.Dispose();
        _store.Dispose();
        _lock?.Dispose();
        Remove(_scratch);
    }

    private static bool IsReadOnly(Exception problem) => ((problem as SystemCallException)?.ErrorNumber ?? problem.HResult) == ReadOnlyFileSystem;

    private static bool IsDiskTrouble(Exception problem) => problem is IOException or UnauthorizedAccessException;

    private static void Remove(string? scratch)
    {
        try
        {
            if (scratch is not null)
            {
                Directory.Delete(scratch, recursive: true);
            }
        }
        catch (Exception problem) when (IsDiskTrouble(problem))
        {
        }
    }

    private static IEnumerable<Sentence> Damage(StoreRecovery found) => found.Damaged.Select(damage => Say($"In the log, {damage}: what stood there is missing."));

    private static string Said(Instant time) => time.WholeSecond.ToString().TrimEnd('Z').Replace('T', ' ') + " UTC";

    private void End()
    {
        Add(StoreSeries.Events, RecordKind.Stopped, _lastTime, []);
        _failed = null;
        Flush(isUrgent: true);
        Feed();
    }

    private void Begin(Instant now)
    {
        StoreRecovery found = _store.Recovery;
        List<Sentence> remarks = [.. Damage(found)];
        if (_index.Sequence > _store.LastSequence)
        {
            _index.Discard(Say($"the store beside it is older"));
        }

        if (_index.MadeAnewBecause is { } because)
        {
            remarks.Add(Say($"The index of the log was made anew from its store, because {because}; nothing is missing for that."));
        }

        Add(StoreSeries.Events, RecordKind.Started, now, []);
        Flush(isUrgent: true);
        Load();
        if (found is { IsCutOff: true, LastTime: { } cut })
        {
            // The run that was cut off is the one before this.
            remarks.Insert(found.Damaged.Count, Say(
                $"The last run was cut off, at {Said(cut + _corrections.GetValueOrDefault(_runs.Count - 1))} or up to {LongestUnkept.TotalSeconds:0} s later. What was found until then is all there; of those last seconds the load may be missing."));
        }

        Remarks = remarks;
        _wall = now;
        DropOldInputs();
    }

    /// <summary>Takes what is behind the index into memory, or into the index where that is too much.</summary>
    private void Load()
    {
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
            Sentence told = Join(
                Say($"The log can't be written ({problem.Message.TrimEnd('.')}). What comes is held in memory and written when the disk works again; {_store.Lost} records had to be given up so far."),
                IsReadOnly(problem) ? Say($"The kernel keeps a disk read-only after an error on it: start the board again, and put in another card if that comes back.") : Sentence.Empty);
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
            throw new HistoryException(Say($"The log can't be written ({problem.Message.TrimEnd('.')})."), problem);
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
            // Once for all runs: each run of a board without a clock has a correction of its own.
            TimeSpan[] corrections = [.. _corrections.Values, TimeSpan.Zero];
            return _store.ReadWithin(series, from - corrections.Max(), to - corrections.Min()).Where(record => Wall(record, record.Time) is var time && time >= from && time <= to);
        }

        return WithinIndex(series, from, to);
    }

    /// <summary>Run by run: within a run time rises with the sequence, so the ends are found by halves.</summary>
    private IEnumerable<StoreRecord> WithinIndex(StoreSeries series, Instant from, Instant to)
    {
        // The first record of the series at or behind the beginning of a run.
        long next = -1;
        for (int run = 0; run <= _runs.Count; run++)
        {
            // What the store let go since the last feeding is still in the index.
            long begin = Math.Max(run == 0 ? 0 : _runs[run - 1], _store.FirstSequence(series));
            long end = Math.Min(run < _runs.Count ? _runs[run] : long.MaxValue, _index.Sequence + 1);
            if (begin >= end)
            {
                continue;
            }

            // A board that starts again and again leaves runs without rows, and to search each of them takes minutes.
            if (next < begin)
            {
                next = _index.FirstFrom(series, begin)?.Sequence ?? long.MaxValue;
            }

            if (next >= end)
            {
                continue;
            }

            TimeSpan correction = _corrections.GetValueOrDefault(run);

            // Whoever asks for all of it needs no search through each run.
            long first = from <= Earliest ? begin : FirstAt(series, begin, end, from - correction);
            foreach (StoreRecord record in _index.Read(series, series == StoreSeries.Inputs ? RecordKind.InputEvents : RecordKind.Traffic, first, to >= Latest ? end : FirstAt(series, first, end, to - correction + TimeSpan.FromTicks(1))))
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
        WallMinusLine = by,
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

    /// <summary>A payload of a later version may hold what this one can't read, and a bundle may come from anybody: it is passed over.</summary>
    private static T? Payload<T>(StoreRecord record, JsonTypeInfo<T> type)
        where T : class
    {
        try
        {
            return JsonSerializer.Deserialize(record.Payload.Span, type) is { } value && IsWhole(value) ? value : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    private static bool IsWhole(object payload) => payload switch
    {
        FindingReport finding => WholeReport.Is(finding),
        TrafficRow row => row is
        {
            Interface: not null,
            Seconds: >= 0 and < 1e9,
            Frames: >= -MostInARow and <= MostInARow,
            Errors: >= -MostInARow and <= MostInARow,
            Bits: null or (>= -1e15 and <= 1e15),
            HeardSeconds: null or (>= -1e9 and <= 1e9),
            LoadMean: null or (>= -1e3 and <= 1e3),
            LoadPeak: null or (>= -1e3 and <= 1e3),
        },
        Capture capture => capture.Why is not null && (capture.Story is not { } story || (story is { Summary: not null, Events: not null } && story.Events.All(happened => happened?.Text is not null))),
        IReadOnlyList<InputEvent> changes => changes.All(change => change?.Interface is not null),
        SoakRecord soak => WholeSoak.Is(soak),
        NodeEvent happened => happened.Interface is not null,
        ClockCorrection correction => Math.Abs(correction.Seconds) < 4e9,
        _ => true,
    };
}
