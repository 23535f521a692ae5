using System.Text.Json;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

/// <summary>The log on a real file system: what is written comes back, whatever happens to its files in between.</summary>
public sealed class StoredHistoryTests : IDisposable
{
    private const long Cap = 32L * 1024 * 1024;

    private static readonly Instant Noon = Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("history");

    public void Dispose() => _directory.Delete(recursive: true);

    private StoredHistory Open(long cap = Cap, Instant? now = null, TimeProvider? clock = null) => StoredHistory.Open(_directory.FullName, cap, now ?? Noon, clock ?? TimeProvider.System);

    private static (StoreSeries, TrafficRow) Row(int minute, string name = "can0") =>
        (StoreSeries.Minutes, new(Noon + TimeSpan.FromMinutes(minute), 60, name, 0.125, 0.5, 1000 + minute, minute % 3, 4));

    private static (StoreSeries, TrafficRow)[] Rows(int first, int count) => [.. Enumerable.Range(first, count).Select(minute => Row(minute))];

    private static FindingReport Finding(int count) => SampleReports.Rich().Findings[0] with { Count = count };

    private string PathOf(string name) => Path.Combine(_directory.FullName, name);

    [Fact]
    public void WhatWasWrittenComesBackWithEveryNanosecond()
    {
        FindingReport finding = Finding(1) with { Start = new(1_700_000_000_123_456_789), End = new(1_700_000_000_123_456_790) };
        NodeEvent appeared = new(new(1_700_000_000_123_456_781), "can0", 5, NodeEventKind.Appeared, "workshop buttons");
        (StoreSeries Tier, TrafficRow Row)[] rows = [Row(0), Row(0, "can1"), (StoreSeries.Minutes, Row(1).Item2 with { LoadMean = null, LoadPeak = null })];
        using (StoredHistory log = Open())
        {
            log.Write(new([finding], rows, [appeared]));
            Check(log);
        }

        using StoredHistory again = Open();
        Assert.Empty(again.Remarks);
        Check(again);

        void Check(StoredHistory log)
        {
            FindingReport kept = Assert.Single(log.ReadFindings());
            Assert.Equal(finding.Start, kept.Start);
            Assert.Equal(finding.End, kept.End);
            Assert.Equal(finding.Causes, kept.Causes);
            Assert.Equal(rows.Select(row => row.Row), log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromHours(1)));
            Assert.Equal([appeared], log.ReadNodeEvents(Instant.FromSeconds(0), Noon));
        }
    }

    [Fact]
    public void MeasuredMinutesComeBackAfterARestartWithWhatTheClockWasSetTo()
    {
        MeasuredRow row = new(Noon, [new("supplyVolts", 23.1, 24, 24.4), new("airCelsius", 20, 20.5, 21)]);
        using (StoredHistory log = Open())
        {
            log.Write(HistoryBatch.Nothing with { Time = Noon, Measured = [row] });
            Check(log, Noon);
            log.Write(HistoryBatch.Nothing with { Time = Noon, WallMinusLine = TimeSpan.FromDays(1) });
        }

        using StoredHistory again = Open();
        Check(again, Noon + TimeSpan.FromDays(1));
        Assert.Empty(again.ReadMeasured(Noon + TimeSpan.FromDays(2), Noon + TimeSpan.FromDays(3)));

        void Check(StoredHistory log, Instant start)
        {
            MeasuredRow kept = Assert.Single(log.ReadMeasured(Noon, Noon + TimeSpan.FromDays(1)));
            Assert.Equal(start, kept.Start);
            Assert.Equal(row.Values, kept.Values);
        }
    }

    [Fact]
    public void AnEpisodeIsReplacedAndTheNextOneIsAddedAndAnotherRunsAreItsOwn()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([Finding(1)], [], []));
            log.Write(new([Finding(1) with { End = SampleReports.End }], [], []));
            log.Write(new([Finding(2)], [], []));
        }

        using StoredHistory next = Open();
        next.Write(new([Finding(1)], [], []));
        Assert.Equal([1, 1, 2], next.ReadFindings().Select(finding => finding.Count).Order());
        Assert.Equal(1, next.ReadFindings().Count(finding => finding.Count == 1 && finding.End == SampleReports.End));
    }

    [Fact]
    public void RowsAreFoundInAnySpanBehindTheIndexAndInIt()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], Rows(0, 3_000), []));
        }

        using StoredHistory again = Open();
        again.Write(new([], Rows(3_000, 100), []));
        foreach ((int from, int to) in new[] { (0, 0), (0, 3_099), (17, 18), (1_000, 2_000), (2_990, 3_010), (3_050, 3_060) })
        {
            Assert.Equal(Rows(from, to - from + 1).Select(row => row.Item2), again.ReadRows(StoreSeries.Minutes, Noon + TimeSpan.FromMinutes(from), Noon + TimeSpan.FromMinutes(to)));
        }

        Assert.Empty(again.ReadRows(StoreSeries.Minutes, Noon + TimeSpan.FromMinutes(4_000), Noon + TimeSpan.FromMinutes(5_000)));
        Assert.Empty(again.ReadRows(StoreSeries.Hours, Noon, Noon + TimeSpan.FromMinutes(5_000)));
    }

    private static (StoreSeries, TrafficRow) Second(int second) =>
        (StoreSeries.Seconds, new(Noon + TimeSpan.FromSeconds(second), 1, "can0", 0.125, 0.5, 100 + second, second % 3, 4));

    private static (StoreSeries, TrafficRow)[] Seconds(int first, int count) => [.. Enumerable.Range(first, count).Select(Second)];

    private static void CheckSeconds(StoredHistory log, int from, int to) =>
        Assert.Equal(Seconds(from, to - from + 1).Select(row => row.Item2), log.ReadRows(StoreSeries.Seconds, Noon + TimeSpan.FromSeconds(from), Noon + TimeSpan.FromSeconds(to)));

    /// <summary>They aren't in the index: they are read from the segments, of which 40,000 fill three, and from what waits for the disk.</summary>
    [Fact]
    public void SecondRowsAreFoundInAnySpan()
    {
        const long Roomy = 4 * Cap;
        using (StoredHistory log = Open(Roomy))
        {
            log.Write(new([], Seconds(0, 20_000), []));
            CheckSeconds(log, 19_990, 19_999);
        }

        MovedClock clock = new();
        using StoredHistory again = Open(Roomy, clock: clock);
        clock.Now += RecordStore.FlushInterval;
        again.Write(new([], Seconds(20_000, 20_000), []));
        again.Write(new([], Seconds(40_000, 3), []));
        Assert.Equal(again.LastSequence - 3, again.KeptUpTo);
        foreach ((int from, int to) in new[] { (0, 0), (0, 40_002), (17, 18), (16_000, 17_000), (19_990, 20_010), (39_990, 40_002), (40_002, 40_002) })
        {
            CheckSeconds(again, from, to);
        }

        Assert.Empty(again.ReadRows(StoreSeries.Seconds, Noon + TimeSpan.FromSeconds(40_003), Noon + TimeSpan.FromDays(1)));
        Assert.InRange(new FileInfo(PathOf(HistoryIndex.FileName)).Length, 1, 200_000);
    }

    [Fact]
    public void SecondRowsOfARunWhoseClockWasSetLaterBearTheRightTime()
    {
        TimeSpan late = TimeSpan.FromDays(300);
        using (StoredHistory log = Open())
        {
            log.Write(new([], Seconds(0, 50), []));
        }

        using (StoredHistory log = Open(now: Noon - late))
        {
            log.Write(new([], [.. Seconds(100, 50).Select(row => (row.Item1, row.Item2 with { Start = row.Item2.Start - late }))], []));
            log.Write(HistoryBatch.Nothing with { WallMinusLine = late });
            CheckSeconds(log, 100, 149);
        }

        using StoredHistory again = Open();
        CheckSeconds(again, 10, 20);
        CheckSeconds(again, 110, 120);
        Assert.Empty(again.ReadRows(StoreSeries.Seconds, Noon - late - TimeSpan.FromDays(1), Noon - TimeSpan.FromDays(1)));
        Assert.Equal(100, again.ReadRows(StoreSeries.Seconds, Noon, Noon + TimeSpan.FromDays(1)).Count);
    }

    [Fact]
    public void SecondRowsOfAnOlderVersionAreRead()
    {
        using (RecordStore store = RecordStore.Open(new DiskStoreFiles(_directory.FullName), StoreBudget.Of(Cap)))
        {
            store.Append(StoreSeries.Seconds, RecordKind.Traffic, Second(1).Item2.Start, JsonSerializer.SerializeToUtf8Bytes(Second(1).Item2, HistoryJson.Default.TrafficRow));
            store.Flush();
        }

        using StoredHistory log = Open();
        log.Write(new([], Seconds(2, 1), []));
        CheckSeconds(log, 1, 2);
    }

    [Fact]
    public void AnIndexOfAnotherVersionIsMadeAnew()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], Rows(0, 10), []));
        }

        string[] mark = File.ReadAllText(PathOf(HistoryIndex.MarkName)).Split(' ');
        File.WriteAllText(PathOf(HistoryIndex.MarkName), $"1 {mark[1]} {mark[2]}");
        using StoredHistory again = Open();
        Assert.Contains("another version", Assert.Single(again.Remarks).English, StringComparison.Ordinal);
        Assert.Equal(10, again.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromDays(1)).Count);
    }

    /// <summary>A board without a clock battery begins each run with an old date.</summary>
    [Fact]
    public void ARunWithAnEarlierClockHidesNothingOfTheRunsBeforeIt()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], Rows(0, 200), []));
        }

        using (StoredHistory log = Open(now: Noon - TimeSpan.FromDays(300)))
        {
            log.Write(new([], Rows(-432_000, 200), []));
        }

        using StoredHistory again = Open();
        Assert.Equal(Rows(50, 11).Select(row => row.Item2), again.ReadRows(StoreSeries.Minutes, Noon + TimeSpan.FromMinutes(50), Noon + TimeSpan.FromMinutes(60)));
        Assert.Equal(Rows(-432_000, 5).Select(row => row.Item2), again.ReadRows(StoreSeries.Minutes, Noon - TimeSpan.FromDays(300), Noon - TimeSpan.FromDays(300) + TimeSpan.FromMinutes(4)));
    }

    [Fact]
    public void ARunThatWasCutOffIsTold()
    {
        // As the power leaves it: with what is on the disk before it is closed.
        string taken = _directory.CreateSubdirectory("taken").FullName;
        using (StoredHistory cut = Open())
        {
            cut.Write(new([Finding(1)], Rows(0, 10), []));
            foreach (FileInfo file in _directory.GetFiles("*.seg"))
            {
                file.CopyTo(Path.Combine(taken, file.Name));
            }
        }

        using StoredHistory again = StoredHistory.Open(taken, Cap, Noon, TimeProvider.System);
        Assert.Contains("cut off", Assert.Single(again.Remarks).English, StringComparison.Ordinal);
        Assert.Single(again.ReadFindings());
    }

    [Fact]
    public void DamageAnywhereInTheIndexLosesNothing()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([Finding(1)], Rows(0, 600), []));
        }

        byte[] good = File.ReadAllBytes(PathOf(HistoryIndex.FileName));
        byte[] mark = File.ReadAllBytes(PathOf(HistoryIndex.MarkName));
        Random random = new(7);
        for (int round = 0; round < 24; round++)
        {
            byte[] damaged = (byte[])good.Clone();
            random.NextBytes(damaged.AsSpan(random.Next(damaged.Length - 512), 512));
            File.WriteAllBytes(PathOf(HistoryIndex.FileName), round % 4 == 0 ? damaged[..random.Next(1, damaged.Length)] : damaged);
            File.WriteAllBytes(PathOf(HistoryIndex.MarkName), mark);
            using StoredHistory log = Open();
            Assert.Contains("made anew", Assert.Single(log.Remarks).English, StringComparison.Ordinal);
            Assert.Equal(600, log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromDays(1)).Count);
            Assert.Single(log.ReadFindings());
        }
    }

    [Fact]
    public void AnIndexThatWasBeingWrittenWhenThePowerWentIsMadeAnew()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([Finding(1)], Rows(0, 600), []));
        }

        File.Delete(PathOf(HistoryIndex.MarkName));
        using StoredHistory again = Open();
        Assert.Contains("made anew", Assert.Single(again.Remarks).English, StringComparison.Ordinal);
        Assert.Equal(600, again.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromDays(1)).Count);
    }

    [Fact]
    public void TheOldestRowsGoFirstAndAllFilesStayWithinTheCap()
    {
        const int Minutes = 60_000;
        using (StoredHistory log = Open())
        {
            log.Write(new([Finding(1)], [], [new(Noon, "can0", 5, NodeEventKind.Appeared, null)]));
            for (int minute = 0; minute < Minutes; minute += 1000)
            {
                log.Write(new([], Rows(minute, 1000), []));
            }
        }

        Assert.InRange(_directory.GetFiles().Sum(file => file.Length), Cap / 8, Cap);
        using StoredHistory again = Open();
        IReadOnlyList<TrafficRow> kept = again.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromMinutes(Minutes));
        Assert.InRange(kept.Count, 5_000, Minutes - 10_000);
        Assert.Equal(Rows(Minutes - kept.Count, kept.Count).Select(row => row.Item2), kept);
        Assert.Single(again.ReadFindings());
        Assert.Single(again.ReadNodeEvents(Noon, Noon + TimeSpan.FromSeconds(1)));
    }

    [Fact]
    public void AnotherFileInTheDirectoryIsLeftAlone()
    {
        File.WriteAllText(PathOf("notes.txt"), "mine");
        using (Open())
        {
        }

        Assert.Equal("mine", File.ReadAllText(PathOf("notes.txt")));
    }

    [Fact]
    public void ADirectoryThatCannotBeMadeIsToldAsSuch()
    {
        File.WriteAllText(PathOf("a-file"), string.Empty);
        Assert.Throws<HistoryException>(() => StoredHistory.Open(Path.Combine(PathOf("a-file"), "log"), Cap, Noon, TimeProvider.System));
    }

    [Fact]
    public void FramesAreKeptBesideTheLogAndTheOldestGo()
    {
        byte[] frames = new byte[1 << 20];
        using (StoredHistory log = Open())
        {
            for (int n = 0; n < 8; n++)
            {
                log.Write(HistoryBatch.Nothing with { Captures = [(new(Noon + TimeSpan.FromSeconds(n), "it just happened", IsMark: true), frames)] });
            }

            log.Write(HistoryBatch.Nothing with { Captures = [(new(Noon + TimeSpan.FromSeconds(9), "nothing there", IsMark: false), null)] });
        }

        using StoredHistory again = Open();
        Assert.Equal(9, again.ReadCaptures().Count);
        Assert.Equal(("it just happened", true, 1 << 20), (again.ReadCaptures()[7].Why, again.ReadCaptures()[7].IsMark, (int)again.ReadCaptures()[7].Bytes));
        Assert.Null(again.ReadCaptures()[8].File);
        CaptureFiles files = StoredHistory.CapturesOf(_directory.FullName, Cap);
        Assert.Equal([false, false, false, false, true, true, true, true], again.ReadCaptures().Take(8).Select(capture => capture.File is { } name && files.PathOf(name) is not null));
    }

    /// <summary>The board's clock steps by years: the frames of now aren't older than those of the year that it came from.</summary>
    [Fact]
    public void FramesOfARunWithAnEarlierClockAreNotTheFirstToGo()
    {
        byte[] frames = new byte[1 << 20];
        DirectoryInfo folder = _directory.CreateSubdirectory("captures");
        CaptureFiles files = StoredHistory.CapturesOf(_directory.FullName, Cap);
        for (int n = 0; n < 4; n++)
        {
            string path = files.PathOf(files.Write(new(Noon + TimeSpan.FromDays(n), "later", true), frames).File!)!;
            File.SetLastWriteTimeUtc(path, new DateTime(2099, 1, 1 + n, 0, 0, 0, DateTimeKind.Utc));
        }

        string now = files.Write(new(Noon, "now", true), frames).File!;
        files.Write(new(Noon + TimeSpan.FromSeconds(1), "now", true), frames);
        Assert.NotNull(files.PathOf(now));
        Assert.Equal(4, folder.GetFiles().Length);
    }

    [Fact]
    public void FramesThatAPowerCutLeftUnfinishedCountAndGo()
    {
        DirectoryInfo folder = _directory.CreateSubdirectory("captures");
        string torn = Path.Combine(folder.FullName, "20260101T000000.pcapng.new");
        File.WriteAllBytes(torn, new byte[4 << 20]);
        StoredHistory.CapturesOf(_directory.FullName, Cap).Write(new(Noon, "now", true), new byte[1 << 20]);
        Assert.False(File.Exists(torn));
    }

    [Fact]
    public void ASecondServiceOnTheSameLogIsRefusedAndTheFirstGoesOn()
    {
        using (StoredHistory first = Open())
        {
            HistoryException refused = Assert.Throws<HistoryException>(() => Open());
            Assert.Contains("in use by another service", refused.Message, StringComparison.Ordinal);
            Assert.Contains(_directory.FullName, refused.Message, StringComparison.Ordinal);
            first.Write(new([Finding(1)], [], []));
        }

        using StoredHistory next = Open();
        Assert.Empty(next.Remarks);
        Assert.Single(next.ReadFindings());
    }

    [Fact]
    public void ALogThatWasRefusedIsNotHeld()
    {
        using (Open())
        {
        }

        string name = PathOf(_directory.GetFiles("*.seg")[0].Name);
        byte[] good = File.ReadAllBytes(name);
        byte[] newer = (byte[])good.Clone();
        newer[8] = SegmentFormat.Version + 1;
        BitConverter.TryWriteBytes(newer.AsSpan(28), SegmentFormat.Crc32C(newer.AsSpan(0, 28)));
        File.WriteAllBytes(name, newer);
        Assert.Throws<HistoryException>(() => Open());
        File.WriteAllBytes(name, good);
        using StoredHistory again = Open();
        Assert.Empty(again.Remarks);
    }

    /// <summary>Bytes changed, cut off, repeated, other files under our names, directories in their place: it opens, says so, and goes on.</summary>
    [Fact]
    public void WhateverStandsInItsFilesTheLogOpensAndGoesOn()
    {
        Random chance = new(11);
        int count = 0;
        for (int round = 0; round < 40; round++)
        {
            using (StoredHistory log = Open())
            {
                log.Write(new([Finding(++count)], Rows(10 * round, 10), []));
                Assert.Contains(log.ReadFindings(), finding => finding.Count == count);
            }

            using (StoredHistory log = Open())
            {
                // What was written behind the last damage is there.
                Assert.Contains(log.ReadFindings(), finding => finding.Count == count);
                Assert.Equal(Rows(10 * round, 10).Select(row => row.Item2), log.ReadRows(StoreSeries.Minutes, Row(10 * round).Item2.Start, Row((10 * round) + 9).Item2.Start));
            }

            FileInfo[] files = [.. _directory.GetFiles().OrderBy(file => file.Name, StringComparer.Ordinal)];
            FileInfo victim = files[chance.Next(files.Length)];
            byte[] bytes = File.ReadAllBytes(victim.FullName);
            switch (chance.Next(6))
            {
                case 0 when bytes.Length > 0:
                    chance.NextBytes(bytes.AsSpan(chance.Next(Math.Min(bytes.Length, 8_000)), 1));
                    File.WriteAllBytes(victim.FullName, bytes);
                    break;
                case 1:
                    File.WriteAllBytes(victim.FullName, bytes[..(bytes.Length * chance.Next(4) / 4)]);
                    break;
                case 2 when bytes.Length > 4_096:
                    // A hole of an odd size among the records.
                    chance.NextBytes(bytes.AsSpan(chance.Next(4_000), chance.Next(1, 90)));
                    File.WriteAllBytes(victim.FullName, bytes);
                    break;
                case 3:
                    File.WriteAllBytes(victim.FullName, [.. bytes, .. bytes]);
                    break;
                case 4:
                    victim.CopyTo(PathOf($"{(StoreSeries)chance.Next(1, 6)}-{chance.Next(100):D16}.seg".ToLowerInvariant()), overwrite: true);
                    break;
                default:
                    victim.Delete();
                    _directory.CreateSubdirectory($"minutes-{chance.Next(100):D16}.seg");
                    break;
            }
        }
    }

    [Fact]
    public void AnIndexThatIsNewerThanItsStoreIsMadeAnew()
    {
        using (StoredHistory log = Open())
        {
            log.Write(new([], Rows(0, 600), []));
        }

        byte[] index = File.ReadAllBytes(PathOf(HistoryIndex.FileName));
        byte[] mark = File.ReadAllBytes(PathOf(HistoryIndex.MarkName));
        _directory.GetFiles().ToList().ForEach(file => file.Delete());
        using (StoredHistory log = Open())
        {
            log.Write(new([], Rows(5_000, 10), []));
        }

        File.WriteAllBytes(PathOf(HistoryIndex.FileName), index);
        File.WriteAllBytes(PathOf(HistoryIndex.MarkName), mark);
        using (StoredHistory log = Open())
        {
            Assert.Contains("older", Assert.Single(log.Remarks).English, StringComparison.Ordinal);
            log.Write(new([], Rows(5_010, 10), []));
        }

        using StoredHistory again = Open();
        Assert.Equal(Rows(5_000, 20).Select(row => row.Item2), again.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromDays(30)));
    }

    [Fact]
    public void ADirectoryThatIsRemovedWhileItRunsIsToldAndBegunAnew()
    {
        MovedClock clock = new();
        using (StoredHistory log = Open(clock: clock))
        {
            log.Write(new([Finding(1)], [], []));
            _directory.Delete(recursive: true);
            Assert.Contains("was removed", Assert.Throws<HistoryException>(() => log.Write(new([Finding(2)], [], []))).Message, StringComparison.Ordinal);

            // It is left alone for ten seconds, and nothing is safe for that.
            clock.Now += TimeSpan.FromSeconds(9);
            Assert.Throws<HistoryException>(() => log.Write(HistoryBatch.Nothing));
            Assert.Throws<HistoryException>(log.OnIdle);
            clock.Now += TimeSpan.FromSeconds(2);
            log.Write(new([Finding(3)], Rows(0, 5), []));

            // And when the index is fed, which was removed as well.
            clock.Now += TimeSpan.FromHours(2);
            log.OnIdle();
            log.Write(new([Finding(4)], [], []));
        }

        using StoredHistory again = Open();
        Assert.Equal([2, 3, 4], again.ReadFindings().Select(finding => finding.Count).Order());
    }

    [Fact]
    public void AnIndexThatWasRemovedWhileItRunsIsMadeAnew()
    {
        MovedClock clock = new();
        using StoredHistory log = Open(clock: clock);
        log.Write(new([], Rows(0, 50), []));
        clock.Now += TimeSpan.FromHours(2);
        log.OnIdle();
        File.Delete(PathOf(HistoryIndex.FileName));
        log.Write(new([], Rows(50, 50), []));
        clock.Now += TimeSpan.FromHours(2);
        Assert.Throws<HistoryException>(log.OnIdle);
        clock.Now += TimeSpan.FromHours(2);
        log.OnIdle();
        Assert.Equal(100, log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromDays(1)).Count);
    }

    /// <summary>A directory of that name is as good as a disk that refuses. Each attempt would write twice the store, so there are few; and what isn't indexed is held only so far.</summary>
    [Fact]
    public void AnIndexThatCanNotBeWrittenIsTriedSeldomAndWhatWaitsForItIsBounded()
    {
        _directory.CreateSubdirectory(HistoryIndex.FileName);
        MovedClock clock = new();
        using StoredHistory log = Open(clock: clock);
        int failures = 0;
        for (int minute = 0; minute < 60_000; minute += 1000)
        {
            clock.Now += TimeSpan.FromSeconds(6);
            try
            {
                log.Write(new([], Rows(minute, 1000), []));
            }
            catch (HistoryException)
            {
                failures++;
            }
        }

        Assert.Equal(1, failures);
        int held = log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromMinutes(60_000)).Count;
        Assert.InRange(held, StoreBudget.MostRecent, 2 * StoreBudget.MostRecent);
        Assert.Equal(log.LastSequence, log.KeptUpTo);
    }

    [Theory]
    [InlineData("../events-0000000000000001.seg")]
    [InlineData("..pcapng")]
    [InlineData("/etc/passwd")]
    [InlineData("captures/x.pcapng")]
    [InlineData("x.pcapng")]
    [InlineData("")]
    public void NoNameFromOutsideReachesAnotherFile(string name)
    {
        using (Open())
        {
        }

        Assert.Null(StoredHistory.CapturesOf(_directory.FullName, Cap).PathOf(name));
    }

    /// <summary>A board without a clock battery: its first run believes in 1970 until it is told the time.</summary>
    [Fact]
    public void ARunThatLearnsTheTimeLaterIsReadWithTheRightOneFromItsBeginning()
    {
        Instant lost = Instant.FromSeconds(100);
        TimeSpan correction = Noon - lost;
        FindingReport finding = Finding(1) with { Start = lost, Raised = lost + TimeSpan.FromSeconds(5), End = null, Evidence = [new(lost, "seen")] };
        TrafficRow row = new(lost, 60, "can0", 0.125, 0.5, 1000, 0, 4);
        using (StoredHistory log = Open(now: lost))
        {
            log.Write(new([finding], [(StoreSeries.Minutes, row)], [new(lost, "can0", 5, NodeEventKind.Appeared, null)]) { Time = lost });
            Assert.Equal(lost, Assert.Single(log.ReadFindings()).Start);
            log.Write(HistoryBatch.Nothing with { Time = lost + TimeSpan.FromSeconds(90), WallMinusLine = correction });
            Check(log);
        }

        // The next run knows the time from the start, and has no part in that.
        using StoredHistory again = Open(now: Noon + TimeSpan.FromDays(1));
        again.Write(new([], [Row(1440)], []) { Time = Noon + TimeSpan.FromDays(1) });
        Check(again);
        Assert.Equal([Row(1440).Item2], again.ReadRows(StoreSeries.Minutes, Noon + TimeSpan.FromHours(1), Noon + TimeSpan.FromDays(2)));

        void Check(StoredHistory log)
        {
            FindingReport read = Assert.Single(log.ReadFindings());
            Assert.Equal((Noon, Noon + TimeSpan.FromSeconds(5), Noon), (read.Start, read.Raised, Assert.Single(read.Evidence).Time));
            Assert.Equal([row with { Start = Noon }], log.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromMinutes(1)));
            Assert.Empty(log.ReadRows(StoreSeries.Minutes, lost, lost + TimeSpan.FromHours(1)));
            Assert.Equal(Noon, Assert.Single(log.ReadNodeEvents(Noon, Noon + TimeSpan.FromMinutes(1))).Time);
        }
    }

    [Fact]
    public void ARunThatWasCutOffIsToldWithTheTimeItHadLearned()
    {
        Instant lost = Instant.FromSeconds(100);
        using (RecordStore store = RecordStore.Open(new DiskStoreFiles(_directory.FullName), StoreBudget.Of(Cap)))
        {
            store.Append(StoreSeries.Events, RecordKind.Started, lost, []);
            byte[] learned = System.Text.Json.JsonSerializer.SerializeToUtf8Bytes(new((Noon - lost).TotalSeconds), HistoryJson.Default.ClockCorrection);
            store.Append(StoreSeries.Events, RecordKind.ClockCorrection, lost, learned);
            store.Flush();
        }

        using StoredHistory log = Open(now: Noon + TimeSpan.FromHours(1));
        Assert.Contains("at 2026-11-25 12:00:00 UTC", Assert.Single(log.Remarks).English, StringComparison.Ordinal);
    }

    [Fact]
    public void WhatHappenedToTheBoardComesBackInOrderAndByTheWall()
    {
        BoardEvent low = new(Noon, BoardEventKind.SupplyLow, false, "The supply is too low.");
        using (StoredHistory log = Open())
        {
            log.Write(HistoryBatch.Nothing with { Time = Noon, Board = [low, low with { IsOver = true }], WallMinusLine = TimeSpan.FromHours(1) });
        }

        using StoredHistory again = Open();
        BoardEvent moved = low with { Time = Noon + TimeSpan.FromHours(1) };
        Assert.Equal([moved, moved with { IsOver = true }], again.ReadBoardEvents());
    }

    [Fact]
    public void ASoakTestComesBackAsItStoodLast()
    {
        Core.Soak.SoakRecord begun = new() { Id = "a", Name = "weekend", Rules = new() { MostRestarts = null }, AskedSeconds = 3600, Started = Noon, LastSeen = Noon, Source = "can0" };
        Core.Soak.SoakRecord later = begun with
        {
            ListenedSeconds = 600,
            Buses = [new("can0", 125_000, new(600, 7, 9, null, 1), [new(5, "workshop buttons", true)])],
            Findings = [new() { Key = "k", Finding = "node.silent", Severity = "fault", Summary = "s", Start = Noon, Episodes = 2 }],
            Interruptions = [new(Noon, null)],
        };
        using (StoredHistory log = Open())
        {
            log.Write(HistoryBatch.Nothing with { Time = Noon, Soaks = [begun with { Id = "b", End = Core.Soak.SoakEnd.Stopped }, begun] });
            log.Write(HistoryBatch.Nothing with { Time = Noon, Soaks = [later] });
        }

        using StoredHistory again = Open();
        Assert.Equal(["b", "a"], again.ReadSoaks().Select(soak => soak.Id));
        Assert.Equal(Text(later), Text(again.ReadSoaks()[1]));

        static string Text(Core.Soak.SoakRecord soak) => System.Text.Json.JsonSerializer.Serialize(soak, HistoryJson.Default.SoakRecord);
    }

    /// <summary>The analysis goes on with the last one by itself: one that trips it would end the service with each start, and exact tails of a count that can't be never come to an end.</summary>
    [Fact]
    public void ASoakTestThatNoServiceCanHaveWrittenIsPassedOver()
    {
        Core.Soak.SoakFinding finding = new() { Key = "k", Finding = "node.silent", Severity = "fault", Summary = "s", Start = Noon, Episodes = 1 };
        Core.Soak.SoakBus bus = new("can0", 125_000, new(600, 7, 9, 0, 0), [new(5, null, true)]);
        Core.Soak.SoakRecord whole = new()
        {
            Id = "whole", Name = "weekend", Rules = new(), AskedSeconds = 3600, Started = Noon, LastSeen = Noon, Source = "can0", Buses = [bus], Findings = [finding],
        };
        Core.Soak.SoakRecord[] forged =
        [
            whole with { Buses = [null!] },
            whole with { Buses = [bus, bus] },
            whole with { Buses = [bus with { Totals = null! }] },
            whole with { Buses = [bus with { Nodes = null! }] },
            whole with { Buses = [bus with { Nodes = [null!] }] },
            whole with { Buses = [bus with { Nodes = [bus.Nodes[0], bus.Nodes[0]] }] },
            whole with { Buses = [bus with { Totals = bus.Totals with { ErrorEpisodes = long.MinValue } }] },
            whole with { Buses = [bus with { Totals = bus.Totals with { ErrorEpisodes = long.MaxValue } }] },
            whole with { Buses = [bus with { Totals = bus.Totals with { Restarts = long.MaxValue } }] },
            whole with { Buses = [bus with { Totals = bus.Totals with { Frames = long.MaxValue } }] },
            whole with { Buses = [bus with { Totals = bus.Totals with { HeardSeconds = 1e300 } }] },
            whole with { Findings = [null!] },
            whole with { Findings = [finding, finding] },
            whole with { Interruptions = [null!] },
            whole with { Rules = new() { Fails = [null!] } },
            whole with { Rules = new() { MostErrorRatio = 7 } },
            whole with { AskedSeconds = 1e300 },
            whole with { LostFrames = long.MinValue },
        ];
        using (StoredHistory log = Open())
        {
            log.Write(HistoryBatch.Nothing with { Time = Noon, Soaks = [whole, .. forged.Select((soak, place) => soak with { Id = $"forged {place}" })] });
        }

        using StoredHistory again = Open();
        Assert.Equal(["whole"], again.ReadSoaks().Select(soak => soak.Id));
    }

    /// <summary>The page adds up what its chart shows.</summary>
    [Fact]
    public void RowsWithCountsThatNoBusBringsArePassedOver()
    {
        TrafficRow row = Row(0).Item2;
        TrafficRow[] rows = [row, row with { Errors = long.MaxValue }, row with { Errors = long.MinValue }, row with { Frames = long.MaxValue }, row with { Frames = long.MinValue }, row with { LoadPeak = 1e308 }, row with { Bits = 1e308 }];
        using (StoredHistory log = Open())
        {
            log.Write(new([], [.. rows.Select(next => (StoreSeries.Minutes, next))], []));
        }

        using StoredHistory again = Open();
        Assert.Equal([row], again.ReadRows(StoreSeries.Minutes, Noon, Noon + TimeSpan.FromHours(1)));
    }

    private static HistoryBatch Press(Instant time, int input = 1) =>
        HistoryBatch.Nothing with { Time = time, Inputs = [new(time, "can0", 5, input, true), new(time + TimeSpan.FromMilliseconds(300), "can0", 5, input, false)] };

    private StoredHistory OpenWithInputs(Instant now, int days, TimeProvider? clock = null) =>
        StoredHistory.Open(_directory.FullName, Cap, now, clock ?? TimeProvider.System, TimeSpan.FromDays(days));

    [Fact]
    public void ChangesOfInputsComeBackAndGoWhenTheirTimeIsOver()
    {
        for (int day = 0; day < 12; day++)
        {
            using StoredHistory log = OpenWithInputs(Noon + TimeSpan.FromDays(day), 5);
            log.Write(Press(Noon + TimeSpan.FromDays(day)));
        }

        using StoredHistory later = OpenWithInputs(Noon + TimeSpan.FromDays(12), 5);
        IReadOnlyList<InputEvent> kept = later.ReadInputEvents(Noon, Noon + TimeSpan.FromDays(20));
        Assert.Equal([7, 8, 9, 10, 11], kept.Where(change => change.Active).Select(change => (int)(change.Time - Noon).TotalDays));
        Assert.Equal(10, kept.Count);

        // On the disk as well, but for the day that a file may be long.
        Assert.InRange(Directory.GetFiles(_directory.FullName, "inputs-*.seg").Length, 5, 7);
        Assert.Equal(2, later.ReadInputEvents(Noon + TimeSpan.FromDays(9) - TimeSpan.FromSeconds(1), Noon + TimeSpan.FromDays(9) + TimeSpan.FromSeconds(1)).Count);
    }

    [Fact]
    public void WithoutDaysForThemNoChangeOfAnInputReachesTheDisk()
    {
        using (StoredHistory log = OpenWithInputs(Noon, 30))
        {
            log.Write(Press(Noon));
        }

        using StoredHistory none = OpenWithInputs(Noon + TimeSpan.FromSeconds(1), 0);
        none.Write(Press(Noon + TimeSpan.FromMinutes(1)));
        Assert.Empty(none.ReadInputEvents(Noon, Noon + TimeSpan.FromDays(1)));
        Assert.Empty(Directory.GetFiles(_directory.FullName, "inputs-*.seg"));
    }

    [Fact]
    public void AFileOfInputChangesIsADayLongAtMostWhileTheServiceRuns()
    {
        MovedClock clock = new();
        using StoredHistory log = OpenWithInputs(Noon, 30, clock);
        for (int hour = 0; hour < 72; hour++)
        {
            clock.Now = TimeSpan.FromHours(1.01 * hour);
            log.Write(Press(Noon + clock.Now));
            log.OnIdle();
        }

        Assert.InRange(Directory.GetFiles(_directory.FullName, "inputs-*.seg").Length, 3, 4);
        Assert.Equal(144, log.ReadInputEvents(Noon, Noon + TimeSpan.FromDays(9)).Count);
    }

    [Fact]
    public void WhatTheBusDidAroundAMarkIsKeptWithIt()
    {
        Story story = new("From 60 s before to 10 s after: one change of inputs.", [new(Noon - TimeSpan.FromSeconds(2), "“door, upper” became active")]);
        CaptureRequest request = new(Noon, "hall lights went off", IsMark: true) { Story = story };
        using (StoredHistory log = Open())
        {
            log.Write(HistoryBatch.Nothing with { Time = Noon, Captures = [(request, [1, 2, 3])], WallMinusLine = TimeSpan.FromHours(1) });
        }

        using StoredHistory again = Open();
        Capture kept = Assert.Single(again.ReadCaptures());
        Assert.Equal(story.Summary, kept.Story!.Summary);
        Assert.Equal(Noon + TimeSpan.FromHours(1) - TimeSpan.FromSeconds(2), Assert.Single(kept.Story.Events).Time);
    }

    private sealed class MovedClock : TimeProvider
    {
        public TimeSpan Now { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Now.Ticks;
    }
}
