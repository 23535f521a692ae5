using Diagnostics.Core.Wording;
using System.Globalization;
using System.Text;
using LiteDB;
using LiteDB.Engine;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.History.Store;

/// <summary>
/// What queries use: the store's records in a LiteDB file, by sequence. It can always be made anew from the store, so nothing is ever lost with it.
/// LiteDB isn't safe against power cuts, so the file is open for writing only while it is fed, now and then for a moment: behind that it is flushed and closed, and a
/// mark says up to which record it goes and what the CRC of the whole file is, because LiteDB reads a damaged page as if less had been there. A cut finds the file open once in a
/// thousand times; then, or when it isn't byte for byte as it was left, it is made anew.
/// Second rows aren't in it: they are most of what is written and are kept for days only, so indexing them would write three times as much to the card as keeping them, and the
/// few segments that hold a span are read as they are.
/// Facts about LiteDB 5.0.21 that shape it: no secondary index (a rebuild fails with one), so records are found by sequence and by halves;
/// the file never shrinks, so the place of what is removed is used again. One owner.
/// </summary>
internal sealed class HistoryIndex : IDisposable
{
    public const string FileName = "index.db";
    public const string MarkName = "index.mark";

    /// <summary>Raised with the shape of the documents; an index of another one is made anew.</summary>
    private const int Shape = 2;

    /// <summary>Documents in one transaction: enough to be quick, few enough that LiteDB's memory stays small.</summary>
    private const int Portion = 10_000;

    private readonly string _directory;
    private readonly IStoreFiles _files;
    private LiteDatabase? _reading;

    private HistoryIndex(string directory, IStoreFiles files)
    {
        _directory = directory;
        _files = files;
    }

    /// <summary>The latest record that is in it; 0 = it is empty, or has to be made anew.</summary>
    public long Sequence { get; private set; }

    /// <summary>How often it was made anew since this object exists, and why the last time.</summary>
    public Sentence? MadeAnewBecause { get; private set; }

    /// <summary>Whether records of a series are in it.</summary>
    public static bool Holds(StoreSeries series) => series is not (StoreSeries.Seconds or StoreSeries.Measured);

    private string FilePath => Path.Combine(_directory, FileName);

    /// <param name="directory">Where the file lies.</param>
    /// <param name="files">The same directory as the store's.</param>
    public static HistoryIndex Open(string directory, IStoreFiles files)
    {
        HistoryIndex index = new(directory, files);
        string[] mark = files.List().Contains(MarkName) ? Encoding.UTF8.GetString(files.Read(MarkName)).Split(' ') : [];
        if (!File.Exists(index.FilePath))
        {
            return index;
        }

        try
        {
            if (mark is [_, var sequence, _] && long.TryParse(sequence, NumberStyles.None, CultureInfo.InvariantCulture, out long last) && index.MarkOf(last) == string.Join(' ', mark))
            {
                index.Sequence = last;
            }
            else
            {
                index.Discard(mark switch
                {
                    [] => Say($"it was not closed as it should"),
                    [var shape, _, _] when shape != Shape.ToString(CultureInfo.InvariantCulture) => Say($"another version of this program made it"),
                    _ => Say($"its file is damaged"),
                });
            }
        }
        catch (IOException problem)
        {
            index.Discard(Named(problem.Message.TrimEnd('.')));
        }

        return index;
    }

    /// <summary>Takes in records and lets those go that the store no longer has.</summary>
    /// <param name="records">In order of sequence, all above <see cref="Sequence"/>, of the series that it <see cref="Holds"/>.</param>
    /// <param name="firstKept">The oldest record that the store keeps of a series.</param>
    public void Feed(IEnumerable<StoreRecord> records, Func<StoreSeries, long> firstKept)
    {
        CloseReading();
        try
        {
            // Without what it had before, it would be taken for whole.
            if (Sequence > 0 && !File.Exists(FilePath))
            {
                throw new FileNotFoundException("its file was removed");
            }

            _files.Delete(MarkName);
            long last = Sequence;
            foreach (StoreRecord[] portion in records.Chunk(Portion))
            {
                // Opened for each portion: LiteDB never lets go of the pages that it has seen while it is open.
                Write(database =>
                {
                    foreach (IGrouping<StoreSeries, StoreRecord> series in portion.GroupBy(record => record.Series))
                    {
                        Collection(database, series.Key).InsertBulk(series.Select(Document), Portion);
                    }
                });
                last = portion[^1].Sequence;
            }

            Write(database =>
            {
                foreach (StoreSeries series in Enum.GetValues<StoreSeries>().Where(Holds))
                {
                    Collection(database, series).DeleteMany(Query.LT("_id", firstKept(series)));
                }
            });

            using (Microsoft.Win32.SafeHandles.SafeFileHandle file = File.OpenHandle(FilePath, FileMode.Open, FileAccess.ReadWrite))
            {
                RandomAccess.FlushToDisk(file);
            }

            _files.Replace(MarkName, Encoding.UTF8.GetBytes(MarkOf(last)));
            Sequence = last;
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
            Discard(Named(problem.Message.TrimEnd('.')));
            throw new HistoryException(Say($"The index of the log can't be written ({problem.Message.TrimEnd('.')}); it will be made anew from the store."), problem);
        }
    }

    /// <summary>Records of one kind between two sequences, the second not included, in order.</summary>
    public IReadOnlyList<StoreRecord> Read(StoreSeries series, RecordKind kind, long from = 0, long before = long.MaxValue) =>
        // LiteDB takes the ends of a span in either order.
        before <= from ? [] : Reading(database => (IReadOnlyList<StoreRecord>)
            [.. Collection(database, series).Find(Query.And(Query.Between("_id", from, before - 1), Query.EQ("k", (int)kind))).Select(document => Record(series, document))]) ?? [];

    /// <summary>The first record of a series at or behind a sequence; null where there is none.</summary>
    public StoreRecord? FirstFrom(StoreSeries series, long from) =>
        Reading(database => Collection(database, series).Find(Query.GTE("_id", from), 0, 1).Select(document => (StoreRecord?)Record(series, document)).FirstOrDefault());

    public void Dispose() => CloseReading();

    private void Write(Action<LiteDatabase> change)
    {
        using LiteDatabase database = new(new ConnectionString { Filename = FilePath, Connection = ConnectionType.Direct });
        change(database);
        database.Checkpoint();
    }

    private static ILiteCollection<BsonDocument> Collection(LiteDatabase database, StoreSeries series) =>
        database.GetCollection(series.ToString().ToLowerInvariant(), BsonAutoId.Int64);

    private static BsonDocument Document(StoreRecord record) => new()
    {
        ["_id"] = record.Sequence,
        ["k"] = (int)record.Kind,
        ["t"] = record.Time.Nanoseconds,
        ["p"] = record.Payload.ToArray(),
    };

    private static StoreRecord Record(StoreSeries series, BsonDocument document) =>
        new(series, (RecordKind)document["k"].AsInt32, document["_id"].AsInt64, new(document["t"].AsInt64), document["p"].AsBinary);

    private string MarkOf(long sequence)
    {
        using FileStream file = File.OpenRead(FilePath);
        byte[] buffer = new byte[1 << 16];
        uint crc = 0;
        for (int length; (length = file.Read(buffer)) > 0;)
        {
            crc = SegmentFormat.Crc32C(buffer.AsSpan(0, length), crc);
        }

        return string.Create(CultureInfo.InvariantCulture, $"{Shape} {sequence} {crc:X8}");
    }

    /// <summary>A query on an index that turns out to be damaged finds nothing, and the next feeding makes it anew.</summary>
    private T? Reading<T>(Func<LiteDatabase, T> query)
    {
        if (Sequence == 0)
        {
            return default;
        }

        try
        {
            _reading ??= new(new ConnectionString { Filename = FilePath, Connection = ConnectionType.Direct, ReadOnly = true });
            return query(_reading);
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
            Discard(Named(problem.Message.TrimEnd('.')));
            throw new HistoryException(Say($"The index of the log can't be read ({problem.Message.TrimEnd('.')}); it will be made anew from the store."), problem);
        }
    }

    /// <summary>Lets it be made anew with the next feeding. What can't be removed now is found damaged then.</summary>
    public void Discard(Sentence because)
    {
        CloseReading();
        Sequence = 0;
        MadeAnewBecause = because;
        try
        {
            _files.Delete(MarkName);
            File.Delete(FilePath);
            File.Delete(Path.Combine(_directory, Path.GetFileNameWithoutExtension(FileName) + "-log" + Path.GetExtension(FileName)));
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
        }
    }

    /// <summary>Closing a damaged file trips as well; there is nothing in it to save.</summary>
    private void CloseReading()
    {
        try
        {
            _reading?.Dispose();
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
        }

        _reading = null;
    }
}
