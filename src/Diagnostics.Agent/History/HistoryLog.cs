using System.Globalization;
using System.Text;
using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using LiteDB;
using JsonSerializer = System.Text.Json.JsonSerializer;

namespace Diagnostics.Agent.History;

/// <summary>
/// The log in one LiteDB file, capped in size. Facts about LiteDB 5.0.21 that shape it: a DateTime is cut to milliseconds and comes back as local
/// time, so times are integers; a rebuild fails with secondary indexes, so time is the _id and there is no other index; the file never shrinks, so rows are
/// removed before it is full and their pages used again. The oldest minute rows go first, then what happened to nodes, findings last.
/// LiteDB is not safe against a power cut: a file that can't be read is set aside under another name, and a new one begun.
/// </summary>
internal sealed class HistoryLog : IHistory
{
    public const string FileName = "history.db";

    /// <summary>Raised when a file of this version couldn't be read by an older program.</summary>
    public const int FormatVersion = 1;

    /// <summary>What a document costs in the file besides its own bytes: index node, page slots, half-filled pages. Measured: 60–100 bytes.</summary>
    private const int DocumentOverheadBytes = 96;

    /// <summary>Part of the cap up to which documents may grow; the rest is LiteDB's own (half-filled pages, free lists).</summary>
    private const double UsableRatio = 0.75;

    /// <summary>Part of the rows that goes at once, so that making room is rare.</summary>
    private const double TrimRatio = 0.1;

    private const string Damaged = ".damaged-";
    private const string AheadSuffix = "-log";

    private readonly LiteDatabase _database;
    private readonly ILiteCollection<BsonDocument> _findings;
    private readonly ILiteCollection<BsonDocument> _minutes;
    private readonly ILiteCollection<BsonDocument> _nodes;
    private readonly long _usableBytes;
    private long _usedBytes;

    private HistoryLog(LiteDatabase database, long capBytes)
    {
        _database = database;
        _usableBytes = (long)(capBytes * UsableRatio);
        _findings = database.GetCollection("findings", BsonAutoId.Int64);
        _minutes = database.GetCollection("minutes", BsonAutoId.Int64);
        _nodes = database.GetCollection("nodes", BsonAutoId.Int64);
    }

    /// <summary>Path of the damaged file that was set aside when this log was opened, or null.</summary>
    public string? SetAside { get; private init; }

    /// <summary>Older damaged files that were removed for it.</summary>
    public int Dropped { get; private init; }

    /// <summary>Documents removed so far to stay within the cap.</summary>
    public long Removed { get; private set; }

    /// <summary>Opens the log of a directory, or begins one.</summary>
    /// <param name="directory">Made where it is missing.</param>
    /// <param name="capBytes">Largest size of the file.</param>
    /// <param name="now">Names a damaged file that has to be set aside.</param>
    /// <param name="isDamaged">The file proved damaged in use: it is set aside without another try.</param>
    /// <exception cref="HistoryException">The directory can't be used, or the file is of a newer program.</exception>
    public static HistoryLog Open(string directory, long capBytes, Instant now, bool isDamaged = false)
    {
        string path = Path.Combine(directory, FileName);
        try
        {
            Directory.CreateDirectory(directory);
            try
            {
                return OpenFile(path, capBytes, isDamaged && File.Exists(path) ? MoveAside(path, now, capBytes) : (null, 0));
            }
            catch (Exception problem) when (IsDamage(problem) && File.Exists(path))
            {
                return OpenFile(path, capBytes, MoveAside(path, now, capBytes));
            }
        }
        catch (Exception problem) when (problem is not HistoryException)
        {
            throw new HistoryException($"The log in '{directory}' can't be opened ({problem.Message.TrimEnd('.')}).", problem);
        }
    }

    public void Write(HistoryBatch batch)
    {
        try
        {
            MakeRoom();
            _database.BeginTrans();
            try
            {
                foreach (FindingReport finding in batch.Findings)
                {
                    Put(_findings, FindingDocument(finding));
                }

                foreach (IGrouping<long, TrafficRow> minute in batch.Minutes.GroupBy(row => row.Start.Nanoseconds / 1_000_000))
                {
                    Put(_minutes, MinuteDocument(minute.Key, minute));
                }

                foreach (NodeEvent happened in batch.NodeEvents)
                {
                    Put(_nodes, NodeDocument(happened));
                }

                _database.Commit();
            }
            catch
            {
                RollBack();
                throw;
            }

            _database.Checkpoint();
        }
        catch (Exception problem) when (problem is not HistoryException)
        {
            throw new HistoryException($"The log can't be written ({problem.Message.TrimEnd('.')}).", problem) { IsDamage = IsDamage(problem) };
        }
    }

    public IReadOnlyList<TrafficRow> ReadMinutes(Instant from, Instant to) => Reading(() =>
    {
        List<TrafficRow> rows = [];
        foreach (BsonDocument document in _minutes.Find(Query.Between("_id", from.Nanoseconds / 1_000_000, to.Nanoseconds / 1_000_000)))
        {
            Instant start = new(document["_id"].AsInt64 * 1_000_000);
            foreach (BsonValue row in document["rows"].AsArray)
            {
                rows.Add(new(
                    start,
                    row["s"].AsDouble,
                    row["i"].AsString,
                    Optional(row["m"]),
                    Optional(row["p"]),
                    row["f"].AsInt64,
                    row["e"].AsInt64,
                    row["n"].AsInt32));
            }
        }

        return rows;
    });

    public IReadOnlyList<FindingReport> ReadFindings() => Reading(() =>
    {
        List<FindingReport> findings = [];
        foreach (BsonDocument document in _findings.FindAll())
        {
            if (JsonSerializer.Deserialize(document["report"].AsString, ReportJson.Default.FindingReport) is { } finding)
            {
                findings.Add(finding);
            }
        }

        findings.Sort((a, b) => a.Start.CompareTo(b.Start));
        return findings;
    });

    public IReadOnlyList<NodeEvent> ReadNodeEvents(Instant from, Instant to) => Reading(() =>
    {
        List<NodeEvent> events = [];
        foreach (BsonDocument document in _nodes.Find(Query.Between("_id", from.Nanoseconds, to.Nanoseconds)))
        {
            if (Enum.TryParse(document["k"].AsString, out NodeEventKind kind))
            {
                events.Add(new(new(document["_id"].AsInt64), document["i"].AsString, document["a"].AsInt32, kind, document["d"].IsNull ? null : document["d"].AsString));
            }
        }

        return events;
    });

    /// <summary>Closing a damaged file trips as well; there is nothing more to save then.</summary>
    public void Dispose()
    {
        try
        {
            _database.Dispose();
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
        }
    }

    private static HistoryLog OpenFile(string path, long capBytes, (string? Aside, int Dropped) damaged)
    {
        LiteDatabase database = new(new ConnectionString { Filename = path, Connection = ConnectionType.Direct });
        try
        {
            CheckFormat(database, path);
            database.UtcDate = true;
            database.CheckpointSize = 250;
            HistoryLog log = new(database, capBytes) { SetAside = damaged.Aside, Dropped = damaged.Dropped };
            log._usedBytes = Used(log._findings) + Used(log._minutes) + Used(log._nodes);

            // A backstop only: rows go before this is reached. A file that is larger already (the setting was lowered) keeps its size, as LiteDB never shrinks one.
            database.LimitSize = Math.Max(capBytes, new FileInfo(path).Length + (1 << 20));
            return log;
        }
        catch
        {
            database.Dispose();
            throw;
        }
    }

    private static void CheckFormat(LiteDatabase database, string path)
    {
        ILiteCollection<BsonDocument> format = database.GetCollection("format");
        BsonDocument? record = format.FindById(1);
        if (record is null)
        {
            if (database.GetCollectionNames().Any(name => name is not "format"))
            {
                throw new HistoryException($"'{path}' is a database of something else: it has no record of its format. Name another directory for the log, or move that file away.");
            }

            format.Insert(new BsonDocument { ["_id"] = 1, ["program"] = "diagnostics", ["version"] = FormatVersion });
            return;
        }

        int version = record["version"].IsInt32 ? record["version"].AsInt32 : int.MaxValue;
        if (version > FormatVersion)
        {
            throw new HistoryException(string.Create(
                CultureInfo.InvariantCulture,
                $"The log '{path}' has format {version}, written by a newer version; this one knows format {FormatVersion}. Install the newer version again, or name another directory for the log."));
        }
    }

    /// <summary>
    /// LiteDB meets a damaged file with whatever its code trips over (seen: NotImplementedException, InvalidCastException), so everything counts as damage
    /// but what the system says, what we say, and a file that is full.
    /// </summary>
    private static bool IsDamage(Exception problem) => problem switch
    {
        HistoryException or UnauthorizedAccessException => false,
        LiteException { ErrorCode: LiteException.FILE_SIZE_EXCEEDED } => false,
        EndOfStreamException => true,
        IOException => false,
        _ => true,
    };

    /// <summary>Damaged logs are kept for who wants to look into them, but they must not fill the card: the oldest go first.</summary>
    /// <returns>Where the damaged one is now, and how many older ones went.</returns>
    private static (string Aside, int Dropped) MoveAside(string path, Instant now, long capBytes)
    {
        string aside = Rename(path, now);
        string[] newestFirst =
        [
            .. Directory.GetFiles(Path.GetDirectoryName(path)!, Path.GetFileName(path) + Damaged + "*")
                .Where(file => !file.EndsWith(AheadSuffix, StringComparison.Ordinal))
                .OrderByDescending(file => file == aside)
                .ThenByDescending(File.GetLastWriteTimeUtc)
                .ThenByDescending(file => file, StringComparer.Ordinal),
        ];
        long bytes = 0;
        int dropped = 0;
        for (int index = 0; index < newestFirst.Length; index++)
        {
            FileInfo[] parts = [new(newestFirst[index]), new(newestFirst[index] + AheadSuffix)];
            bytes += parts.Where(part => part.Exists).Sum(part => part.Length);

            // The first is the one just set aside, whatever its size: it is what somebody will ask for.
            if (index > 0 && (index >= Limits.DamagedLogs || bytes > capBytes))
            {
                Array.ForEach(parts, part => part.Delete());
                dropped++;
            }
        }

        return (aside, dropped);
    }

    private static string Rename(string path, Instant now)
    {
        string stamp = now.ToString().Split('.')[0].TrimEnd('Z').Replace(":", string.Empty, StringComparison.Ordinal).Replace("-", string.Empty, StringComparison.Ordinal) + "Z";
        string aside = path + Damaged + stamp;
        for (int attempt = 2; File.Exists(aside); attempt++)
        {
            aside = path + Damaged + stamp + "-" + attempt.ToString(CultureInfo.InvariantCulture);
        }

        File.Move(path, aside);

        // LiteDB's write-ahead file belongs to the damaged one; left there it would be played into the new file.
        string ahead = Path.Combine(Path.GetDirectoryName(path)!, Path.GetFileNameWithoutExtension(path) + "-log" + Path.GetExtension(path));
        if (File.Exists(ahead))
        {
            File.Move(ahead, aside + AheadSuffix);
        }

        return aside;
    }

    /// <summary>What went wrong first is what is told.</summary>
    private void RollBack()
    {
        try
        {
            _database.Rollback();
        }
        catch (Exception problem) when (problem is not OutOfMemoryException)
        {
        }
    }

    private static T Reading<T>(Func<T> read)
    {
        try
        {
            return read();
        }
        catch (Exception problem) when (problem is not HistoryException)
        {
            throw new HistoryException($"The log can't be read ({problem.Message.TrimEnd('.')}).", problem) { IsDamage = IsDamage(problem) };
        }
    }

    private static long Used(ILiteCollection<BsonDocument> collection)
    {
        long bytes = 0;
        foreach (BsonDocument document in collection.FindAll())
        {
            bytes += Size(document) + DocumentOverheadBytes;
        }

        return bytes;
    }

    /// <summary>Bytes of a value as BSON writes it (bsonspec.org): type and name of each member, then its content.</summary>
    private static long Size(BsonValue value) => value.Type switch
    {
        BsonType.Document => 5 + value.AsDocument.Sum(member => 2 + Encoding.UTF8.GetByteCount(member.Key) + Size(member.Value)),
        BsonType.Array => 5 + value.AsArray.Sum(item => 4 + Size(item)),
        BsonType.String => 5 + Encoding.UTF8.GetByteCount(value.AsString),
        BsonType.Null => 0,
        BsonType.Int32 => 4,
        BsonType.Boolean => 1,
        _ => 8,
    };

    private static double? Optional(BsonValue value) => value.IsNumber ? value.AsDouble : null;

    private static BsonDocument FindingDocument(FindingReport finding) => new()
    {
        ["_id"] = finding.Key + "#" + finding.Count.ToString(CultureInfo.InvariantCulture),
        ["start"] = finding.Start.Nanoseconds,
        ["end"] = finding.End is { } end ? new BsonValue(end.Nanoseconds) : BsonValue.Null,
        ["report"] = JsonSerializer.Serialize(finding, ReportJson.Default.FindingReport),
    };

    private static BsonDocument MinuteDocument(long milliseconds, IEnumerable<TrafficRow> rows) => new()
    {
        ["_id"] = milliseconds,
        ["rows"] = new BsonArray(rows.Select(row => new BsonDocument
        {
            ["i"] = row.Interface,
            ["s"] = row.Seconds,
            ["m"] = row.LoadMean is { } mean ? new BsonValue(mean) : BsonValue.Null,
            ["p"] = row.LoadPeak is { } peak ? new BsonValue(peak) : BsonValue.Null,
            ["f"] = row.Frames,
            ["e"] = row.Errors,
            ["n"] = row.NodesPresent,
        })),
    };

    /// <summary>Time is the key, so events of one nanosecond follow each other by one.</summary>
    private BsonDocument NodeDocument(NodeEvent happened)
    {
        long time = happened.Time.Nanoseconds;
        while (_nodes.FindById(time) is not null)
        {
            time++;
        }

        return new()
        {
            ["_id"] = time,
            ["i"] = happened.Interface,
            ["a"] = happened.Address,
            ["k"] = happened.Kind.ToString(),
            ["d"] = happened.Detail is null ? BsonValue.Null : new BsonValue(happened.Detail),
        };
    }

    private void Put(ILiteCollection<BsonDocument> collection, BsonDocument document)
    {
        if (collection.FindById(document["_id"]) is { } before)
        {
            _usedBytes -= Size(before) + DocumentOverheadBytes;
        }

        collection.Upsert(document);
        _usedBytes += Size(document) + DocumentOverheadBytes;
    }

    private void MakeRoom()
    {
        while (_usedBytes > _usableBytes)
        {
            if (!Trim(_minutes) && !Trim(_nodes) && !TrimFindings())
            {
                return;
            }
        }
    }

    /// <summary>Removes the oldest part of a collection whose key is time; false where it is empty.</summary>
    private bool Trim(ILiteCollection<BsonDocument> collection) =>
        Delete(collection, collection.Find(Query.All(Query.Ascending), 0, Portion(collection)).ToList());

    private bool TrimFindings() =>
        Delete(_findings, _findings.FindAll().OrderBy(document => document["start"].AsInt64).Take(Portion(_findings)).ToList());

    private static int Portion(ILiteCollection<BsonDocument> collection) => Math.Max(1, (int)(collection.LongCount() * TrimRatio));

    private bool Delete(ILiteCollection<BsonDocument> collection, List<BsonDocument> documents)
    {
        foreach (BsonDocument document in documents)
        {
            collection.Delete(document["_id"]);
            _usedBytes -= Size(document) + DocumentOverheadBytes;
            Removed++;
        }

        return documents.Count > 0;
    }
}
