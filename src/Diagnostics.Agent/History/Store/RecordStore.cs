using Diagnostics.Core.Wording;
using System.Globalization;
using Diagnostics.Can;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.History.Store;

/// <summary>
/// The truth of the log: records are appended to segment files and never rewritten, so a power cut can only tear what was being written.
/// Each series has segments of its own, filled with zeros beforehand; the oldest segment goes when a series is over its budget.
/// What was appended is on the disk once <see cref="Flush"/> returned. After a failed write or flush the segment isn't used any more, because nobody can say what it
/// holds (Rebello et al., ATC 2020): everything since the last good flush is written again into a new one, and a record that stands twice is read once.
/// One owner.
/// </summary>
internal sealed class RecordStore : IDisposable
{
    /// <summary>No record waits longer than this for the disk.</summary>
    public static readonly TimeSpan FlushInterval = TimeSpan.FromSeconds(5);

    /// <summary>Small enough that the oldest part of a series to go is a small part; large enough that a new file is rare.</summary>
    public const int UsualSegmentBytes = 1 << 20;

    /// <summary>A segment goes as a whole, and changes of inputs must go when their time is over: theirs are short, and a day long at most.</summary>
    public const int InputSegmentBytes = 64 << 10;

    /// <summary>The longest record is a finding with eight rows of evidence, some kilobytes.</summary>
    public const int LongestPayload = 256 * 1024;

    /// <summary>Of the name of a segment file.</summary>
    public const string Suffix = ".seg";

    /// <summary>Among so many of the last records one bears a time near the end: several rows and events of one second.</summary>
    public const int RecordsAtTheEnd = 32;

    /// <summary>What waits for a disk that fails, bytes for each series; beyond it the oldest is lost, and counted.</summary>
    private const int MostWaiting = 4 << 20;

    private const string DamagedSuffix = ".damaged";

    /// <summary>Files that can't be read are kept for whoever wants to try, but not without end.</summary>
    private const int MostSetAside = 4;

    /// <summary>Damage that is told one by one; a card that dies damages everything.</summary>
    private const int MostTold = 4;

    /// <summary>A thousand records a second for thirty years.</summary>
    private const long RoomForSequences = 1_000_000_000_000;

    /// <summary>EIO: a sector of the card is gone.</summary>
    private const int InputOutputError = 5;

    private readonly IStoreFiles _files;
    private readonly Dictionary<StoreSeries, Track> _tracks = [];
    private long _sequence;

    private RecordStore(IStoreFiles files, IReadOnlyDictionary<StoreSeries, long> budgets, int segmentBytes)
    {
        _files = files;
        foreach ((StoreSeries series, long bytes) in budgets)
        {
            int length = series == StoreSeries.Inputs ? Math.Min(segmentBytes, InputSegmentBytes) : segmentBytes;
            _tracks[series] = new(series, Math.Max(2, bytes / length), length);
        }
    }

    public StoreRecovery Recovery { get; private set; } = new(null, false, 0, []);

    /// <summary>Sequence of the latest record, 0 before the first.</summary>
    public long LastSequence => _sequence;

    /// <summary>Every record up to this sequence is on the disk.</summary>
    public long KeptUpTo => _tracks.Values.Where(track => track.Waiting.Count > 0).Select(track => track.Waiting.Peek().Sequence - 1).DefaultIfEmpty(_sequence).Min();

    /// <summary>Records that a failing disk made this store give up.</summary>
    public long Lost { get; private set; }

    /// <summary>The oldest record that is still kept of a series; above <see cref="LastSequence"/> where none is.</summary>
    public long FirstSequence(StoreSeries series) => _tracks[series].Segments is [{ } first, ..] ? first.FirstSequence : _sequence + 1;

    /// <summary>Lets go of what is too old in a series, segment by segment: one goes when all of it is too old. The one that is written is ended when it has got old enough.</summary>
    /// <param name="series">The series.</param>
    /// <param name="isTooOld">Whether a record must go.</param>
    /// <param name="isOldEnough">Whether a segment that begins with this record is ended.</param>
    /// <exception cref="IOException">A file can't be removed.</exception>
    public void DropOld(StoreSeries series, Func<StoreRecord, bool> isTooOld, Func<StoreRecord, bool> isOldEnough)
    {
        Track track = _tracks[series];
        while (track.Segments is [{ } first, ..] && RecordsOf(first) is [_, ..] records && records.TrueForAll(record => isTooOld(record)))
        {
            if (track.Segments.Count == 1)
            {
                track.Close();
            }

            _files.Delete(first.Name);
            track.Segments.RemoveAt(0);
        }

        if (track.File is not null && RecordsOf(track.Segments[^1]) is [{ } begin, ..] && isOldEnough(begin))
        {
            track.Close();
        }
    }

    /// <summary>Opens what is there and goes on where it ends: a torn tail is cut off, a file that can't be read at all is set aside.</summary>
    /// <param name="files">The directory.</param>
    /// <param name="budgets">Bytes for each series, at least two segments.</param>
    /// <param name="segmentBytes">Length of a segment file.</param>
    /// <exception cref="HistoryException">A file is of a newer program.</exception>
    /// <exception cref="IOException">The directory can't be read.</exception>
    public static RecordStore Open(IStoreFiles files, IReadOnlyDictionary<StoreSeries, long> budgets, int segmentBytes = UsualSegmentBytes)
    {
        RecordStore store = new(files, budgets, segmentBytes);
        try
        {
            store.Recover();
            return store;
        }
        catch
        {
            store.Dispose();
            throw;
        }
    }

    /// <returns>Its sequence.</returns>
    public long Append(StoreSeries series, RecordKind kind, Instant time, ReadOnlySpan<byte> payload)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(payload.Length, LongestPayload);
        Track track = _tracks[series];
        StoreRecord record = new(series, kind, ++_sequence, time, payload.ToArray());
        track.Waiting.Enqueue(record);
        track.WaitingBytes += SegmentFormat.SizeOf(payload.Length);
        while (track.WaitingBytes > MostWaiting)
        {
            track.WaitingBytes -= SegmentFormat.SizeOf(track.Waiting.Dequeue().Payload.Length);
            Lost++;
        }

        return record.Sequence;
    }

    /// <summary>Puts what was appended to a series on the disk.</summary>
    /// <exception cref="IOException">It couldn't be; it is kept and tried again with the next flush.</exception>
    public void Flush(StoreSeries series)
    {
        Track track = _tracks[series];
        try
        {
            while (track.Waiting.Count > 0)
            {
                if (track.File is null || track.Position + SegmentFormat.SizeOf(track.Waiting.Peek().Payload.Length) > track.SegmentBytes)
                {
                    Begin(track, track.Waiting.Peek().Sequence);
                }

                Write(track);
            }
        }
        catch
        {
            track.Close();
            throw;
        }
    }

    public void Flush()
    {
        foreach (StoreSeries series in _tracks.Keys)
        {
            Flush(series);
        }
    }

    /// <summary>The segment files of all series, oldest first, and the bytes of each that no longer change.</summary>
    public IReadOnlyList<(string Name, int Bytes)> Extents() =>
        [.. _tracks.Values.SelectMany(track => track.Segments.Select(segment => (segment.Name, track.File is not null && segment == track.Segments[^1] ? track.Position : int.MaxValue)))];

    /// <summary>Every record on the disk after a sequence, in order of sequence. What was removed or became unreadable since the start is passed over.</summary>
    /// <param name="sequence">The last that isn't wanted.</param>
    /// <param name="isWanted">Series to read; null = all.</param>
    public IEnumerable<StoreRecord> ReadAfter(long sequence, Func<StoreSeries, bool>? isWanted = null)
    {
        PriorityQueue<IEnumerator<StoreRecord>, long> heads = new();
        foreach (Track track in _tracks.Values.Where(track => isWanted?.Invoke(track.Series) ?? true))
        {
            IEnumerator<StoreRecord> records = Records(track, sequence).GetEnumerator();
            if (records.MoveNext())
            {
                heads.Enqueue(records, records.Current.Sequence);
            }
        }

        while (heads.TryDequeue(out IEnumerator<StoreRecord>? records, out _))
        {
            yield return records.Current;
            if (records.MoveNext())
            {
                heads.Enqueue(records, records.Current.Sequence);
            }
        }
    }

    /// <summary>Records of a series whose time lies within the span, in order of sequence, those that wait for the disk included. Reads only segments that can hold some.</summary>
    public IEnumerable<StoreRecord> ReadWithin(StoreSeries series, Instant from, Instant to)
    {
        Track track = _tracks[series];
        long last = 0;
        foreach (Segment segment in track.Segments.Where(segment => segment.Earliest <= to && segment.Latest >= from).ToArray())
        {
            foreach (StoreRecord record in SegmentFormat.Read(ReadOrNothing(segment.Name)).Records)
            {
                // A flush that failed writes again what it can't be sure of.
                if (record.Sequence > last && record.Time >= from && record.Time <= to)
                {
                    last = record.Sequence;
                    yield return record;
                }
            }
        }

        foreach (StoreRecord record in track.Waiting.Where(record => record.Sequence > last && record.Time >= from && record.Time <= to))
        {
            yield return record;
        }
    }

    /// <summary>Without a flush: what must be kept was flushed before.</summary>
    public void Dispose()
    {
        foreach (Track track in _tracks.Values)
        {
            track.Close();
        }
    }

    /// <summary>How the names of a series' files begin.</summary>
    public static string NamePrefix(StoreSeries series) => series.ToString().ToLowerInvariant() + "-";

    private static string NameOf(StoreSeries series, long firstSequence) =>
        NamePrefix(series) + firstSequence.ToString("D16", CultureInfo.InvariantCulture) + Suffix;

    private void Recover()
    {
        List<Sentence> damaged = [];
        long torn = 0;
        StoreRecord? last = null;

        // A row bears the time at which it began, an event that at which it happened: the latest of the last few is the nearest to the end.
        PriorityQueue<Instant, long> latest = new();
        List<(Track Track, string Name, int FileBytes, SegmentContent Content)> segments = [];
        foreach (string name in _files.List().Where(name => name.EndsWith(Suffix, StringComparison.Ordinal)).Order(StringComparer.Ordinal))
        {
            byte[] bytes;
            try
            {
                bytes = _files.Read(name);
            }
            catch (IOException problem) when (problem.HResult == InputOutputError)
            {
                SetAside(name, damaged);
                continue;
            }

            // The power went while it was made.
            if (!bytes.AsSpan().ContainsAnyExcept((byte)0))
            {
                _files.Delete(name);
                continue;
            }

            SegmentContent content = SegmentFormat.Read(bytes);
            if (content.Version > SegmentFormat.Version)
            {
                throw new HistoryException(Say($"'{name}' of the log has format {content.Version}, written by a newer version; this one knows format {SegmentFormat.Version}. Install the newer version again, or name another directory for the log."));
            }

            // A copy under another name would be read out of turn.
            if (content.IsHeaderDamaged || !_tracks.TryGetValue(content.Series, out Track? track) || name != NameOf(content.Series, content.FirstSequence))
            {
                SetAside(name, damaged);
                continue;
            }

            Segment segment = new(name, content.FirstSequence);
            track.Segments.Add(segment);
            segments.Add((track, name, bytes.Length, content));
            foreach (StoreRecord record in content.Records)
            {
                segment.Spans(record.Time);
                if (last is null || record.Sequence > last.Value.Sequence)
                {
                    last = record;
                }

                latest.Enqueue(record.Time, record.Sequence);
                if (latest.Count > RecordsAtTheEnd)
                {
                    latest.Dequeue();
                }
            }

            // The whole store would be in memory otherwise.
            content.Records.Clear();
        }

        // Only what was being written can be torn: the last segment of a series, and only if the run didn't end as it should. Elsewhere a hole is damage.
        bool isCutOff = last is { Kind: not RecordKind.Stopped };
        foreach ((Track track, string name, int fileBytes, SegmentContent content) in segments)
        {
            bool isEnd = track.Segments[^1].Name == name;
            int unreadable = content.TornBytes + content.Holes.Sum(hole => hole.Length);
            if (isEnd && isCutOff)
            {
                torn += unreadable;
            }
            else if (unreadable > 0)
            {
                damaged.Add(Say($"{name} has {unreadable} bytes that are no record"));
            }

            bool isCoverable = isCutOff && content.Holes.TrueForAll(hole => hole.Length >= SegmentFormat.RecordHeaderBytes);
            if (isEnd && fileBytes == track.SegmentBytes && (isCoverable || unreadable == 0))
            {
                Continue(track, name, content);
            }
        }

        DropSetAside();
        foreach (Track track in _tracks.Values)
        {
            DropOldest(track);
        }

        _sequence = last?.Sequence ?? 0;
        if (_sequence > SegmentFormat.LargestSequence - RoomForSequences && !_files.IsReadOnly)
        {
            // What is appended behind it would be taken for forged with the next start, and be lost.
            throw new HistoryException(Say($"Its records are numbered up to {_sequence}, which no log of this program reaches, and there are no numbers left for new ones. Name another directory for the log."));
        }

        Recovery = new(last is null ? null : latest.UnorderedItems.Max(record => record.Element), isCutOff, torn, damaged.Count <= MostTold ? damaged : [.. damaged.Take(MostTold), Say($"{damaged.Count - MostTold} more files are damaged")]);
    }

    private void SetAside(string name, List<Sentence> damaged)
    {
        _files.Rename(name, name + DamagedSuffix);
        damaged.Add(_files.IsReadOnly ? Say($"{name} isn't readable at all") : Say($"{name} isn't readable at all and was set aside as {name + DamagedSuffix}"));
    }

    /// <summary>Goes on in the last segment, so that a board which is switched off every evening doesn't fill its budget with beginnings.</summary>
    private void Continue(Track track, string name, SegmentContent content)
    {
        IStoreFile file = _files.Open(name);
        try
        {
            foreach ((int position, int length) in content.Holes)
            {
                byte[] cover = new byte[length];
                SegmentFormat.WriteRecord(cover, new(track.Series, RecordKind.Void, 0, default, new byte[length - SegmentFormat.RecordHeaderBytes]));
                file.Write(position, cover);
            }

            if (content.TornBytes > 0)
            {
                file.Write(content.Length, new byte[content.TornBytes]);
            }

            file.Flush();
        }
        catch
        {
            file.Dispose();
            throw;
        }

        track.File = file;
        track.Position = content.Length;
    }

    private void DropSetAside()
    {
        List<string> names = [.. _files.List().Where(name => name.EndsWith(DamagedSuffix, StringComparison.Ordinal)).Order(StringComparer.Ordinal)];
        foreach (string name in names.SkipLast(MostSetAside))
        {
            _files.Delete(name);
        }
    }

    private void Begin(Track track, long firstSequence)
    {
        track.Close();
        string name = NameOf(track.Series, firstSequence);
        byte[] content = new byte[track.SegmentBytes];
        SegmentFormat.WriteHeader(content, track.Series, firstSequence);
        track.File = _files.Create(name, content);
        track.Position = SegmentFormat.HeaderBytes;

        // The same name again: the flush of its first records failed, and nothing else is in it.
        track.Segments.RemoveAll(segment => segment.Name == name);
        track.Segments.Add(new(name, firstSequence));
        DropOldest(track);
    }

    /// <summary>At the start as well: the budget may be smaller than that of the last run.</summary>
    private void DropOldest(Track track)
    {
        while (track.Segments.Count > track.MostSegments)
        {
            _files.Delete(track.Segments[0].Name);
            track.Segments.RemoveAt(0);
        }
    }

    /// <summary>As much of what waits as fits the segment, in one write and one flush.</summary>
    private void Write(Track track)
    {
        int bytes = 0;
        int count = 0;
        foreach (StoreRecord record in track.Waiting)
        {
            int size = SegmentFormat.SizeOf(record.Payload.Length);
            if (track.Position + bytes + size > track.SegmentBytes)
            {
                break;
            }

            bytes += size;
            count++;
        }

        byte[] block = new byte[bytes];
        int at = 0;
        foreach (StoreRecord record in track.Waiting.Take(count))
        {
            int size = SegmentFormat.SizeOf(record.Payload.Length);
            SegmentFormat.WriteRecord(block.AsSpan(at, size), record);
            track.Segments[^1].Spans(record.Time);
            at += size;
        }

        track.File!.Write(track.Position, block);
        track.File.Flush();
        track.Position += bytes;
        track.WaitingBytes -= bytes;
        for (; count > 0; count--)
        {
            track.Waiting.Dequeue();
        }
    }

    private IEnumerable<StoreRecord> Records(Track track, long after)
    {
        long last = after;
        for (int i = 0; i < track.Segments.Count; i++)
        {
            // All of a segment lies before the first record of the next.
            if (i + 1 < track.Segments.Count && track.Segments[i + 1].FirstSequence <= after)
            {
                continue;
            }

            foreach (StoreRecord record in RecordsOf(track.Segments[i]))
            {
                if (record.Sequence > last)
                {
                    last = record.Sequence;
                    yield return record;
                }
            }
        }
    }

    private List<StoreRecord> RecordsOf(Segment segment) => SegmentFormat.Read(ReadOrNothing(segment.Name)).Records;

    private byte[] ReadOrNothing(string name)
    {
        try
        {
            return _files.Read(name);
        }
        catch (IOException problem) when (problem is FileNotFoundException or DirectoryNotFoundException || problem.HResult == InputOutputError)
        {
            return [];
        }
    }

    private sealed class Segment(string name, long firstSequence)
    {
        public string Name { get; } = name;

        public long FirstSequence { get; } = firstSequence;

        /// <summary>Times of the records in it; where there is none, no span meets it.</summary>
        public Instant Earliest { get; private set; } = new(long.MaxValue);

        public Instant Latest { get; private set; } = Instant.MinValue;

        public void Spans(Instant time)
        {
            Earliest = Instant.Min(Earliest, time);
            Latest = Instant.Max(Latest, time);
        }
    }

    private sealed class Track(StoreSeries series, long mostSegments, int segmentBytes)
    {
        public StoreSeries Series { get; } = series;

        public long MostSegments { get; } = mostSegments;

        public int SegmentBytes { get; } = segmentBytes;

        /// <summary>Oldest first.</summary>
        public List<Segment> Segments { get; } = [];

        /// <summary>Appended, and not known to be on the disk.</summary>
        public Queue<StoreRecord> Waiting { get; } = [];

        public int WaitingBytes { get; set; }

        /// <summary>The segment that is written; null = the next flush begins one.</summary>
        public IStoreFile? File { get; set; }

        public int Position { get; set; }

        public void Close()
        {
            File?.Dispose();
            File = null;
        }
    }
}
