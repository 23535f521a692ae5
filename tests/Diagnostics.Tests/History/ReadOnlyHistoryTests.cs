using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

/// <summary>A log that is only read, while nothing in its directory may change.</summary>
public sealed class ReadOnlyHistoryTests : IDisposable
{
    /// <summary>So large that no row has to go.</summary>
    private const long Cap = 256L * 1024 * 1024;

    private static readonly Instant Noon = Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("history");

    public void Dispose() => _directory.Delete(recursive: true);

    private static (StoreSeries, TrafficRow)[] Rows(int first, int count) =>
        [.. Enumerable.Range(first, count).Select(minute => (StoreSeries.Minutes, new TrafficRow(Noon + TimeSpan.FromMinutes(minute), 60, "can0", 0.125, 0.5, 1000, minute % 3, 4)))];

    private StoredHistory OpenToWrite() => StoredHistory.Open(_directory.FullName, Cap, Noon, TimeProvider.System);

    private StoredHistory OpenToRead() => StoredHistory.OpenReadOnly(_directory.FullName, TimeProvider.System);

    /// <summary>Every file by name, content and time.</summary>
    private string[] Files() => [.. _directory.EnumerateFiles("*", SearchOption.AllDirectories).OrderBy(file => file.FullName, StringComparer.Ordinal)
        .Select(file => $"{file.FullName} {file.LastWriteTimeUtc:O} {Convert.ToHexString(System.Security.Cryptography.SHA256.HashData(File.ReadAllBytes(file.FullName)))}")];

    /// <summary>Few enough to be held in memory, and so many that an index is made elsewhere.</summary>
    [Theory]
    [InlineData(300)]
    [InlineData(StoreBudget.MostRecent + 2_000)]
    public void AllThatWasWrittenIsReadAndNothingIsChanged(int rows)
    {
        FindingReport finding = SampleReports.Rich().Findings[0];
        NodeEvent appeared = new(Noon, "can0", 5, NodeEventKind.Appeared, "workshop buttons");
        // No more at once than may wait for the disk.
        const int Portion = 10_000;
        for (int first = 0; first < rows; first += Portion)
        {
            using StoredHistory log = OpenToWrite();
            log.Write(new([], Rows(first, Math.Min(Portion, rows - first)), []));
        }

        using (StoredHistory log = OpenToWrite())
        {
            log.Write(new([finding], [], [appeared]) { Captures = [(new(Noon, "it flickered", IsMark: true), new byte[500])] });
        }

        string[] before = Files();
        using (StoredHistory log = OpenToRead())
        {
            Assert.Empty(log.Remarks);
            Assert.Equal(Rows(100, 150).Select(row => row.Item2), log.ReadRows(StoreSeries.Minutes, Noon + TimeSpan.FromMinutes(100), Noon + TimeSpan.FromMinutes(249)));
            Assert.Equal(rows, log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromMinutes(rows)).Count);
            Assert.Equal(finding.Key, Assert.Single(log.ReadFindings()).Key);
            Assert.Equal([appeared], log.ReadNodeEvents(Noon, Noon));
            Assert.NotNull(Assert.Single(log.ReadCaptures()).File);
        }

        Assert.Equal(before, Files());
    }

    [Fact]
    public void WhatAPowerCutToreIsReadUpToTheCutAndNotRepaired()
    {
        DirectoryInfo taken = _directory.CreateSubdirectory("taken");
        using (StoredHistory cut = OpenToWrite())
        {
            cut.Write(new([SampleReports.Rich().Findings[0]], Rows(0, 10), []));
            foreach (FileInfo file in _directory.EnumerateFiles("*" + RecordStore.Suffix))
            {
                file.CopyTo(Path.Combine(taken.FullName, file.Name));
            }
        }

        // A write that the cut tore, a file that was just being made, and one that is nothing.
        string events = taken.EnumerateFiles("events-*").Single().FullName;
        byte[] bytes = File.ReadAllBytes(events);
        "CERD"u8.CopyTo(bytes.AsSpan((bytes.AsSpan().LastIndexOfAnyExcept((byte)0) / 8 * 8) + 8));
        File.WriteAllBytes(events, bytes);
        File.WriteAllBytes(Path.Combine(taken.FullName, "hours-0000000000000001.seg"), new byte[4096]);
        File.WriteAllBytes(Path.Combine(taken.FullName, "minutes-0000000000000099.seg"), [1, 2, 3]);
        string[] before = Files();
        using (StoredHistory log = StoredHistory.OpenReadOnly(taken.FullName, TimeProvider.System))
        {
            Assert.Single(log.ReadFindings());
            Assert.Equal(2, log.Remarks.Count);
            Assert.Contains("minutes-0000000000000099.seg isn't readable at all: what stood there is missing", log.Remarks[0].English, StringComparison.Ordinal);
            Assert.Contains("without the end of a run", log.Remarks[1].English, StringComparison.Ordinal);
        }

        Assert.Equal(before, Files());
    }

    [Fact]
    public void ALogThatAServiceIsWritingCanBeReadBesideIt()
    {
        using StoredHistory written = OpenToWrite();
        written.Write(new([SampleReports.Rich().Findings[0]], [], []));
        using (StoredHistory read = StoredHistory.OpenReadOnly(_directory.FullName, TimeProvider.System, isLive: true))
        {
            Assert.Single(read.ReadFindings());
            Assert.Empty(read.Remarks);
        }

        written.Write(new([SampleReports.Rich().Findings[1]], [], []));
        Assert.Equal(2, written.ReadFindings().Count);
    }

    [Fact]
    public void ADirectoryThatIsNotThereIsToldAndNotMade()
    {
        string missing = Path.Combine(_directory.FullName, "elsewhere");
        HistoryException refused = Assert.Throws<HistoryException>(() => StoredHistory.OpenReadOnly(missing, TimeProvider.System));
        Assert.Contains(missing, refused.Message, StringComparison.Ordinal);
        Assert.False(Directory.Exists(missing));
    }

    /// <summary>A bundle may come from anybody: a payload that lacks what every reader relies on is passed over like one of a later version.</summary>
    [Theory]
    [InlineData(RecordKind.Finding, """{"key":null,"finding":"node.silent","severity":"fault","start":"2026-11-25T12:00:00Z","raised":"2026-11-25T12:00:00Z","count":1,"confidence":1,"summary":"x","measurements":[],"evidence":[],"causes":[]}""")]
    [InlineData(RecordKind.Finding, """{"key":"k","finding":"node.silent","severity":"fault","start":"2026-11-25T12:00:00Z","raised":"2026-11-25T12:00:00Z","count":1,"confidence":1,"summary":"x","measurements":[],"evidence":[null],"causes":[]}""")]
    [InlineData(RecordKind.Finding, """{"key":"k","finding":"node.silent","severity":"fault","start":"2026-11-25T12:00:00.1234567890123456789Z","raised":"2026-11-25T12:00:00Z","count":1,"confidence":1,"summary":"x","measurements":[],"evidence":[],"causes":[]}""")]
    [InlineData(RecordKind.Capture, """{"time":"2026-11-25T12:00:00Z","isMark":true}""")]
    [InlineData(RecordKind.Traffic, """{"start":"2026-11-25T12:00:00Z","seconds":1e300,"interface":"can0"}""")]
    [InlineData(RecordKind.Traffic, """{"start":"2026-11-25T12:00:00.+1Z","seconds":60,"interface":"can0"}""")]
    [InlineData(RecordKind.NodeEvent, """{"time":"2026-11-25T12:00:00Z","address":5,"kind":"appeared"}""")]
    internal void PayloadsThatAreNotWholeArePassedOver(RecordKind kind, string payload)
    {
        using (RecordStore store = RecordStore.Open(new DiskStoreFiles(_directory.FullName), StoreBudget.Of(Cap)))
        {
            store.Append(kind == RecordKind.Traffic ? StoreSeries.Minutes : StoreSeries.Events, kind, Noon, System.Text.Encoding.UTF8.GetBytes(payload));
            store.Flush();
        }

        using StoredHistory log = OpenToRead();
        Assert.Empty(log.ReadFindings());
        Assert.Empty(log.ReadCaptures());
        Assert.Empty(log.ReadNodeEvents(Instant.MinValue, new(long.MaxValue)));
        Assert.Empty(log.ReadRows(StoreSeries.Minutes, Noon - TimeSpan.FromDays(1), Noon + TimeSpan.FromDays(1)));
    }
}
