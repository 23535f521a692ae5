using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;
using LiteDB;

namespace Diagnostics.Tests.History;

public sealed class HistoryLogTests : IDisposable
{
    private const long SmallCap = 4 * 1024 * 1024;

    private static readonly Instant Noon = Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("history");

    private string DatabasePath => Path.Combine(_directory.FullName, HistoryLog.FileName);

    public void Dispose() => _directory.Delete(recursive: true);

    private HistoryLog Open(long cap = SmallCap) => HistoryLog.Open(_directory.FullName, cap, Noon);

    private static TrafficRow Row(int minute, string name = "can0") =>
        new(Noon + TimeSpan.FromMinutes(minute), 60, name, 0.125, 0.5, 1000 + minute, minute % 3, 4);

    private static FindingReport Finding(int count) => SampleReports.Rich().Findings[0] with { Count = count };

    [Fact]
    public void WhatWasWrittenComesBackWithEveryNanosecond()
    {
        FindingReport finding = Finding(1) with { Start = new(1_700_000_000_123_456_789), End = new(1_700_000_000_123_456_790) };
        NodeEvent appeared = new(new(1_700_000_000_123_456_781), "can0", 5, NodeEventKind.Appeared, "workshop buttons");
        using (HistoryLog log = Open())
        {
            log.Write(new([finding], [Row(0), Row(0, "can1"), Row(1) with { LoadMean = null, LoadPeak = null }], [appeared]));
        }

        using HistoryLog again = Open();
        Assert.Null(again.SetAside);
        FindingReport kept = Assert.Single(again.ReadFindings());
        Assert.Equal(finding.Start, kept.Start);
        Assert.Equal(finding.End, kept.End);
        Assert.Equal(finding.Causes, kept.Causes);
        Assert.Equal([Row(0), Row(0, "can1"), Row(1) with { LoadMean = null, LoadPeak = null }], again.ReadMinutes(Noon, Noon + TimeSpan.FromHours(1)));
        Assert.Equal([appeared], again.ReadNodeEvents(Instant.FromSeconds(0), Noon));
    }

    [Fact]
    public void AnEpisodeIsReplacedAndTheNextOneIsAdded()
    {
        using HistoryLog log = Open();
        log.Write(new([Finding(1)], [], []));
        log.Write(new([Finding(1) with { End = SampleReports.End }], [], []));
        log.Write(new([Finding(2)], [], []));
        IReadOnlyList<FindingReport> kept = log.ReadFindings();
        Assert.Equal([1, 2], kept.Select(finding => finding.Count).Order());
        Assert.Equal(SampleReports.End, kept.Single(finding => finding.Count == 1).End);
    }

    [Fact]
    public void EventsOfOneMomentAreAllKept()
    {
        using HistoryLog log = Open();
        log.Write(new([], [], Enumerable.Range(1, 20).Select(node => new NodeEvent(Noon, "can0", node, NodeEventKind.Restarted, "1")).ToArray()));
        Assert.Equal(Enumerable.Range(1, 20), log.ReadNodeEvents(Noon, Noon + TimeSpan.FromSeconds(1)).Select(happened => happened.Address));
    }

    [Fact]
    public void AFileOfANewerFormatIsRefusedAndLeftAlone()
    {
        using (LiteDatabase database = new(DatabasePath))
        {
            database.GetCollection("format").Insert(new BsonDocument { ["_id"] = 1, ["version"] = HistoryLog.FormatVersion + 1 });
        }

        HistoryException refused = Assert.Throws<HistoryException>(() => Open());
        Assert.Contains("newer version", refused.Message, StringComparison.Ordinal);
        Assert.Equal([HistoryLog.FileName], Files());
    }

    [Fact]
    public void ADatabaseOfSomethingElseIsRefusedAndLeftAlone()
    {
        using (LiteDatabase database = new(DatabasePath))
        {
            database.GetCollection("recipes").Insert(new BsonDocument { ["_id"] = 1 });
        }

        Assert.Contains("something else", Assert.Throws<HistoryException>(() => Open()).Message, StringComparison.Ordinal);
        Assert.Equal([HistoryLog.FileName], Files());
    }

    [Fact]
    public void AFileThatCannotBeReadIsSetAsideAndANewOneBegun()
    {
        byte[] garbage = new byte[3 * 8192];
        new Random(1).NextBytes(garbage);
        File.WriteAllBytes(DatabasePath, garbage);
        using (HistoryLog log = Open())
        {
            Assert.Equal(DatabasePath + ".damaged-20261125T120000Z", log.SetAside);
            Assert.Equal(garbage, File.ReadAllBytes(log.SetAside!));
            log.Write(new([Finding(1)], [], []));
        }

        using HistoryLog again = Open();
        Assert.Null(again.SetAside);
        Assert.Single(again.ReadFindings());
    }

    [Fact]
    public void OnlyTheNewestDamagedFilesAreKept()
    {
        for (int round = 1; round <= 6; round++)
        {
            File.WriteAllBytes(DatabasePath, Enumerable.Repeat((byte)round, 3 * 8192).ToArray());
            using HistoryLog log = Open();
            Assert.NotNull(log.SetAside);
            Assert.Equal(round, File.ReadAllBytes(log.SetAside)[0]);
            Assert.Equal(round > 3 ? 1 : 0, log.Dropped);
            Assert.Equal(Math.Min(round, 3), Directory.GetFiles(_directory.FullName, "*.damaged-*").Length);
        }
    }

    [Fact]
    public void DamagedFilesTogetherAreNoLargerThanTheLogMayBe()
    {
        string old = DatabasePath + ".damaged-20260101T000000Z";
        using (FileStream large = File.Create(old))
        {
            large.SetLength(1L << 32);
        }

        File.WriteAllBytes(old + "-log", [1]);
        File.SetLastWriteTimeUtc(old, new(2026, 1, 1, 0, 0, 0, DateTimeKind.Utc));
        File.WriteAllBytes(DatabasePath, Enumerable.Repeat((byte)7, 3 * 8192).ToArray());
        using HistoryLog log = Open();
        Assert.Equal(1, log.Dropped);
        Assert.Equal([log.SetAside!], Directory.GetFiles(_directory.FullName, "*.damaged-*"));
    }

    [Fact]
    public void DamageAnywhereInTheFileNeverLeavesTheAgentWithoutALog()
    {
        using (HistoryLog log = Open())
        {
            for (int minute = 0; minute < 600; minute += 100)
            {
                log.Write(new([Finding(minute)], Enumerable.Range(minute, 100).Select(number => Row(number)).ToArray(), []));
            }
        }

        byte[] good = File.ReadAllBytes(DatabasePath);
        Random random = new(7);
        int setAside = 0;
        for (int round = 0; round < 24; round++)
        {
            foreach (string file in Directory.GetFiles(_directory.FullName))
            {
                File.Delete(file);
            }

            byte[] damaged = (byte[])good.Clone();
            int at = random.Next(damaged.Length - 512);
            random.NextBytes(damaged.AsSpan(at, 512));
            File.WriteAllBytes(DatabasePath, round % 4 == 0 ? damaged[..random.Next(1, damaged.Length)] : damaged);
            HistoryLog log;
            try
            {
                log = Open();
            }
            catch (HistoryException)
            {
                // Its record of the format was hit: refused as one that isn't ours, never overwritten.
                continue;
            }

            using (log)
            {
                setAside += log.SetAside is null ? 0 : 1;
                try
                {
                    log.Write(new([Finding(1)], [Row(0)], []));
                    _ = log.ReadMinutes(Noon, Noon + TimeSpan.FromDays(1));
                }
                catch (HistoryException)
                {
                    // Damage that shows only later: the writer tells it and goes on without the log.
                }
            }
        }

        Assert.True(setAside > 0);
    }

    [Fact]
    public void TheOldestMinutesGoFirstAndTheFileStaysWithinItsCap()
    {
        const int Minutes = 20_000;
        using HistoryLog log = Open();
        log.Write(new([Finding(1)], [], [new(Noon, "can0", 5, NodeEventKind.Appeared, null)]));
        for (int minute = 0; minute < Minutes; minute += 1000)
        {
            log.Write(new([], Enumerable.Range(minute, 1000).Select(number => Row(number)).ToArray(), []));
        }

        Assert.True(log.Removed > 0);
        Assert.InRange(new FileInfo(DatabasePath).Length, SmallCap / 2, SmallCap);
        IReadOnlyList<TrafficRow> kept = log.ReadMinutes(Noon, Noon + TimeSpan.FromMinutes(Minutes));
        Assert.Equal(Row(Minutes - 1), kept[^1]);
        Assert.Equal(Minutes - kept.Count, log.Removed);
        Assert.Single(log.ReadFindings());
        Assert.Single(log.ReadNodeEvents(Noon, Noon + TimeSpan.FromSeconds(1)));
    }

    [Fact]
    public void ADirectoryThatCannotBeMadeIsToldAsSuch()
    {
        string file = Path.Combine(_directory.FullName, "a-file");
        File.WriteAllText(file, string.Empty);
        Assert.Throws<HistoryException>(() => HistoryLog.Open(Path.Combine(file, "log"), SmallCap, Noon));
    }

    private string[] Files() => Directory.GetFiles(_directory.FullName).Select(path => Path.GetFileName(path)).ToArray();
}
