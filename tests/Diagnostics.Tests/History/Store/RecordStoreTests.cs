using System.Text;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.Tests.History.Store;

/// <summary>The store keeps what it promised through power cuts, failing flushes and a full disk, on a disk that plays them.</summary>
public class RecordStoreTests
{
    private const int SegmentBytes = 4096;

    private static readonly Dictionary<StoreSeries, long> Budgets = new()
    {
        [StoreSeries.Events] = 6 * SegmentBytes,
        [StoreSeries.Seconds] = 3 * SegmentBytes,
    };

    private static RecordStore Open(IStoreFiles files) => RecordStore.Open(files, Budgets, SegmentBytes);

    private static byte[] Payload(long sequence) => Encoding.UTF8.GetBytes($"{{\"n\":{sequence}}}" + new string('x', (int)(sequence * 37 % 300)));

    private static long Append(RecordStore store, StoreSeries series)
    {
        long next = store.LastSequence + 1;
        return store.Append(series, RecordKind.NodeEvent, Instant.FromSeconds(1_700_000_000 + next), Payload(next));
    }

    /// <summary>A service's life: second rows, now and then an event that is flushed at once, a flush of all every few rows. Gives what had been promised after each operation of the disk.</summary>
    private static List<(int Operations, long[] Promised)> Live(RecordedDisk disk, int steps, bool close)
    {
        List<(int, long[])> promises = [(0, [])];
        List<long> promised = [];
        List<long> events = [];
        List<long> seconds = [];
        using RecordStore store = Open(disk);
        promises.Add((disk.Operations.Count, []));
        for (int step = 1; step <= steps; step++)
        {
            seconds.Add(Append(store, StoreSeries.Seconds));
            if (step % 7 == 0)
            {
                events.Add(Append(store, StoreSeries.Events));
                store.Flush(StoreSeries.Events);
                promised.AddRange(events);
                events.Clear();
                promises.Add((disk.Operations.Count, [.. promised]));
            }

            if (step % 5 == 0)
            {
                store.Flush();
                promised.AddRange(seconds);
                seconds.Clear();
                promises.Add((disk.Operations.Count, [.. promised]));
            }
        }

        if (close)
        {
            store.Append(StoreSeries.Events, RecordKind.Stopped, Instant.FromSeconds(1_800_000_000), []);
            store.Flush();
        }

        return promises;
    }

    private static void Check(RecordedDisk disk, long[] promised, string what)
    {
        using RecordStore store = Open(disk);
        Dictionary<long, StoreRecord> read = store.ReadAfter(0).ToDictionary(record => record.Sequence);
        foreach (long sequence in promised)
        {
            // The budget may have taken the oldest.
            if (!read.TryGetValue(sequence, out StoreRecord record))
            {
                Assert.True(sequence < store.FirstSequence(StoreSeries.Seconds) || sequence < store.FirstSequence(StoreSeries.Events), $"{what}: record {sequence} was promised and is gone.");
                continue;
            }

            Assert.Equal(Payload(sequence), record.Payload.ToArray());
        }

        Assert.Empty(store.Recovery.Damaged);
        Assert.All(read.Values, record => Assert.Equal(Payload(record.Sequence), record.Payload.ToArray()));

        // And it goes on: what is written now is read with the next opening.
        long next = Append(store, StoreSeries.Events);
        store.Flush();
        using RecordStore again = Open(disk);
        Assert.Equal(next, again.ReadAfter(next - 1).Single().Sequence);
        Assert.Equal(0, again.Recovery.TornBytes);
    }

    [Fact]
    public void WhatWasWrittenIsReadInOrderOfSequence()
    {
        RecordedDisk disk = new();
        long[] promised = Live(disk, 60, close: true)[^1].Promised;
        using RecordStore store = Open(disk);
        StoreRecord[] records = [.. store.ReadAfter(0)];
        Assert.Equal(records.Select(record => record.Sequence).Order(), records.Select(record => record.Sequence));
        Assert.Equal(69, records.Length);
        Assert.Subset(records.Select(record => record.Sequence).ToHashSet(), promised.ToHashSet());
        Assert.False(store.Recovery.IsCutOff);
        Assert.Equal(records[^1].Time, store.Recovery.LastTime);
    }

    /// <summary>Every prefix of the operations, with nothing, everything, each single sector and random sets of sectors that had not been flushed; method of Pillai et al., OSDI 2014.</summary>
    [Fact]
    public void NoPowerCutTakesWhatWasPromisedOrLeavesAStoreThatDoesNotOpen()
    {
        RecordedDisk disk = new();
        List<(int Operations, long[] Promised)> promises = Live(disk, 240, close: false);
        Random random = new(20261125);
        int cases = 0;
        for (int cut = 0; cut <= disk.Operations.Count; cut++)
        {
            long[] promised = promises.Last(promise => promise.Operations <= cut).Promised;
            List<Func<int, bool>> subsets = [_ => false, _ => true];
            for (int single = 0; single < 4; single++)
            {
                int only = single;
                subsets.Add(sector => sector == only);
                subsets.Add(sector => sector != only);
            }

            for (int round = 0; round < 12; round++)
            {
                int bits = random.Next();
                subsets.Add(sector => (bits >> (sector % 31) & 1) != 0);
            }

            foreach (Func<int, bool> survives in subsets)
            {
                Check(disk.After(cut, survives), promised, $"cut behind {cut} operations, case {cases}");
                cases++;
            }
        }

        Assert.InRange(cases, 3_000, int.MaxValue);
    }

    [Fact]
    public void ACutRunIsToldAndSoIsHowLateItCanHaveBeen()
    {
        RecordedDisk disk = new();
        Live(disk, 20, close: false);
        using RecordStore store = Open(disk.After(disk.Operations.Count, _ => false));
        Assert.True(store.Recovery.IsCutOff);
        Assert.Equal(Instant.FromSeconds(1_700_000_000 + 22), store.Recovery.LastTime);
    }

    /// <summary>Rebello et al., ATC 2020: after a failed flush the pages count as clean, so the file can't be trusted.</summary>
    [Theory]
    [InlineData(RecordedDisk.Step.Flush)]
    [InlineData(RecordedDisk.Step.Write)]
    [InlineData(RecordedDisk.Step.Create)]
    public void AfterAFailureTheSegmentIsLeftAndEverythingIsWrittenAgain(object step)
    {
        RecordedDisk disk = new();
        using RecordStore store = Open(disk);
        Append(store, StoreSeries.Events);
        store.Flush();
        int failures = 3;
        disk.Fails = operation => operation.Step == (RecordedDisk.Step)step && failures-- > 0;
        for (int i = 0; i < 30; i++)
        {
            Append(store, StoreSeries.Events);
            try
            {
                store.Flush();
            }
            catch (IOException)
            {
            }
        }

        // What had been written into a file whose flush failed may be gone altogether.
        store.Flush();
        using RecordStore again = Open(disk.After(disk.Operations.Count, _ => false));
        Assert.Equal(Enumerable.Range(1, 31).Select(n => (long)n), again.ReadAfter(0).Select(record => record.Sequence));
        Assert.Equal(0, store.Lost);
    }

    [Fact]
    public void AFullDiskLosesTheOldestOfWhatWaitsAndCountsIt()
    {
        RecordedDisk disk = new() { Fails = operation => operation.Step == RecordedDisk.Step.Create };
        using RecordStore store = RecordStore.Open(disk, new Dictionary<StoreSeries, long> { [StoreSeries.Events] = 32 << 20 });
        byte[] large = new byte[RecordStore.LongestPayload];
        for (int i = 0; i < 40; i++)
        {
            store.Append(StoreSeries.Events, RecordKind.Finding, default, large);
            Assert.Throws<IOException>(store.Flush);
        }

        disk.Fails = _ => false;
        store.Flush();
        Assert.Equal(40, store.Lost + store.ReadAfter(0).Count());
        Assert.InRange(store.Lost, 20, 30);
    }

    [Fact]
    public void TheOldestSegmentGoesWhenASeriesIsOverItsBudgetAndTheOthersStay()
    {
        RecordedDisk disk = new();
        using RecordStore store = Open(disk);
        long only = Append(store, StoreSeries.Events);
        for (int i = 0; i < 400; i++)
        {
            Append(store, StoreSeries.Seconds);
            store.Flush();
        }

        Assert.Equal(only, store.FirstSequence(StoreSeries.Events));
        Assert.InRange(store.FirstSequence(StoreSeries.Seconds), 300, 400);
        Assert.Equal(3, disk.List().Count(name => name.StartsWith("seconds", StringComparison.Ordinal)));
        Assert.Equal([only, .. Enumerable.Range((int)store.FirstSequence(StoreSeries.Seconds), 401 - (int)store.FirstSequence(StoreSeries.Seconds) + 1).Select(n => (long)n)], store.ReadAfter(0).Select(record => record.Sequence));
    }

    [Fact]
    public void SwitchedOffEveryEveningAStoreDoesNotFillItsBudgetWithBeginnings()
    {
        RecordedDisk disk = new();
        for (int evening = 0; evening < 20; evening++)
        {
            using RecordStore store = Open(disk);
            Append(store, StoreSeries.Events);
            store.Flush();
        }

        Assert.Single(disk.List());
        Assert.Equal(20, Open(disk).ReadAfter(0).Count());
    }

    [Fact]
    public void AFileThatCanNotBeReadIsSetAsideAndNamed()
    {
        RecordedDisk disk = new();
        Live(disk, 40, close: true);
        string name = disk.List().Where(name => name.StartsWith("events", StringComparison.Ordinal)).Min()!;
        disk.Live(name)[3] ^= 0x10;
        using RecordStore store = Open(disk);
        Assert.Contains(name, Assert.Single(store.Recovery.Damaged).English, StringComparison.Ordinal);
        Assert.Contains(name + ".damaged", disk.List());
        Assert.NotEmpty(store.ReadAfter(0));
    }

    /// <summary>Someone kept a copy, or unpacked an archive twice.</summary>
    [Fact]
    public void ACopyUnderAnotherNameIsSetAsideAndNothingIsReadTwiceOrLeftOut()
    {
        RecordedDisk disk = new();
        Live(disk, 60, close: true);
        int written = 69;
        foreach (string name in disk.List().ToArray())
        {
            disk.Put("zz-" + name, disk.Read(name));
        }

        using (RecordStore store = Open(disk))
        {
            Assert.NotEmpty(store.Recovery.Damaged);
            Append(store, StoreSeries.Events);
            store.Flush();
        }

        using RecordStore again = Open(disk);
        Assert.Equal(Enumerable.Range(1, written + 1).Select(n => (long)n), again.ReadAfter(0).Select(record => record.Sequence));
    }

    [Theory]
    [InlineData(long.MaxValue)]
    [InlineData(SegmentFormat.LargestSequence + 1)]
    [InlineData(-1)]
    public void AForgedSequenceTakesNothingFromWhatComes(long forged)
    {
        RecordedDisk disk = new();
        Live(disk, 10, close: false);
        string name = disk.List().Where(name => name.StartsWith("events", StringComparison.Ordinal)).Max()!;
        byte[] record = new byte[SegmentFormat.SizeOf(3)];
        SegmentFormat.WriteRecord(record, new(StoreSeries.Events, RecordKind.NodeEvent, forged, default, "{}"u8.ToArray().Append((byte)' ').ToArray()));
        record.CopyTo(disk.Live(name), SegmentBytes / 2);
        byte[] header = new byte[SegmentBytes];
        SegmentFormat.WriteHeader(header, StoreSeries.Events, forged);
        disk.Put($"events-{forged}.seg", header);
        long next;
        using (RecordStore store = Open(disk))
        {
            Assert.InRange(store.LastSequence, 10, 12);
            next = Append(store, StoreSeries.Events);
            store.Flush();
        }

        using RecordStore again = Open(disk);
        Assert.Equal(next, again.ReadAfter(0).Last().Sequence);
    }

    /// <summary>What is appended behind it would be taken for forged itself, and so the whole run would be lost with the next start.</summary>
    [Fact]
    public void ALogWhoseNumbersAreUsedUpIsRefusedAndCanBeRead()
    {
        RecordedDisk disk = new();
        byte[] segment = new byte[SegmentBytes];
        SegmentFormat.WriteHeader(segment, StoreSeries.Events, SegmentFormat.LargestSequence);
        SegmentFormat.WriteRecord(
            segment.AsSpan(SegmentFormat.HeaderBytes, SegmentFormat.SizeOf(2)), new(StoreSeries.Events, RecordKind.NodeEvent, SegmentFormat.LargestSequence, default, "{}"u8.ToArray()));
        disk.Put($"events-{SegmentFormat.LargestSequence}.seg", segment);
        Assert.Contains("no numbers left", Assert.Throws<HistoryException>(() => Open(disk)).Message, StringComparison.Ordinal);
        using RecordStore store = Open(new ReadOnlyStoreFiles(disk));
        Assert.Single(store.ReadAfter(0));
    }

    [Fact]
    public void ARecordThatIsLongerThanAnyIsNone()
    {
        byte[] segment = new byte[2 << 20];
        SegmentFormat.WriteHeader(segment, StoreSeries.Events, 1);
        foreach ((int bytes, RecordKind kind, int expected) in new[]
        {
            (RecordStore.LongestPayload, RecordKind.Finding, 1), (RecordStore.LongestPayload + 1, RecordKind.Finding, 0), (RecordStore.LongestPayload + 1, RecordKind.Void, 0),
        })
        {
            SegmentFormat.WriteRecord(segment.AsSpan(SegmentFormat.HeaderBytes, SegmentFormat.SizeOf(bytes)), new(StoreSeries.Events, kind, 1, default, new byte[bytes]));
            SegmentContent content = SegmentFormat.Read(segment);
            Assert.Equal(expected, content.Records.Count);
            Assert.Equal(bytes > RecordStore.LongestPayload && kind != RecordKind.Void, content.TornBytes > 0);
        }
    }

    /// <summary>EIO, which is 5 (asm-generic/errno-base.h of Linux).</summary>
    [Fact]
    public void ASectorThatIsGoneCostsItsFileOnly()
    {
        RecordedDisk disk = new();
        Live(disk, 60, close: true);
        string name = disk.List().Where(name => name.StartsWith("seconds", StringComparison.Ordinal)).Min()!;
        disk.FailsToRead = read => read == name ? new IOException("Input/output error", 5) : null;
        using RecordStore store = Open(disk);
        Assert.Contains(name, Assert.Single(store.Recovery.Damaged).English, StringComparison.Ordinal);
        int before = store.ReadAfter(0).Count();

        // And while it runs.
        string other = disk.List().Where(name => name.StartsWith("seconds", StringComparison.Ordinal) && name.EndsWith(".seg", StringComparison.Ordinal)).Min()!;
        disk.FailsToRead = read => read == other ? new IOException("Input/output error", 5) : null;
        Assert.InRange(store.ReadAfter(0).Count(), 9, before - 1);
    }

    [Fact]
    public void OnADiskThatRefusesForAnotherReasonNothingIsSetAside()
    {
        RecordedDisk disk = new();
        Live(disk, 60, close: true);
        disk.FailsToRead = _ => new IOException("Too many open files", 24);
        Assert.Throws<IOException>(() => Open(disk));
        disk.FailsToRead = _ => null;
        using RecordStore store = Open(disk);
        Assert.Empty(store.Recovery.Damaged);
    }

    [Fact]
    public void ASmallerBudgetIsKeptFromTheStart()
    {
        RecordedDisk disk = new();
        Live(disk, 240, close: true);
        using RecordStore store = RecordStore.Open(disk, new Dictionary<StoreSeries, long> { [StoreSeries.Events] = 0, [StoreSeries.Seconds] = 0 }, SegmentBytes);
        Assert.InRange(disk.List().Count, 3, 4);
    }

    [Fact]
    public void ADirectoryFullOfGarbageIsToldInAFewLinesAndOneFileAtATimeIsInMemory()
    {
        RecordedDisk disk = new();
        Live(disk, 240, close: true);
        Random random = new(3);
        for (int file = 0; file < 40; file++)
        {
            byte[] garbage = new byte[SegmentBytes];
            random.NextBytes(garbage);
            SegmentFormat.WriteHeader(garbage, (StoreSeries)(1 + (file % 2)), 1000 + file);
            disk.Put($"{(file % 2 == 0 ? "events" : "seconds")}-{1000 + file:D16}.seg", garbage);
            disk.Put($"garbage-{file}.seg", [.. garbage.Reverse()]);
        }

        List<WeakReference> given = [];
        int most = 0;
        disk.OnRead = bytes =>
        {
            GC.Collect();
            most = Math.Max(most, given.Count(one => one.IsAlive));
            given.Add(new(bytes));
        };
        using RecordStore store = Open(disk);
        Assert.InRange(store.Recovery.Damaged.Count, 2, 5);
        Assert.InRange(given.Count, 80, 200);
        Assert.InRange(most, 0, 3);
        disk.OnRead = _ => { };
        Assert.InRange(disk.List().Count, 9, 13);
        long next = Append(store, StoreSeries.Events);
        store.Flush();
        Assert.Equal(next, store.ReadAfter(0).Last().Sequence);
    }

    [Fact]
    public void AStoreOfANewerProgramIsRefusedAndLeftAlone()
    {
        RecordedDisk disk = new();
        Live(disk, 10, close: true);
        foreach (string name in disk.List())
        {
            byte[] bytes = disk.Live(name);
            bytes[8] = SegmentFormat.Version + 1;
            BitConverter.TryWriteBytes(bytes.AsSpan(28), SegmentFormat.Crc32C(bytes.AsSpan(0, 28)));
        }

        Assert.Contains("newer", Assert.Throws<HistoryException>(() => Open(disk)).Message, StringComparison.Ordinal);
    }
}
