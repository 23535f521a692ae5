using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Tests.AsBuilt;
using Diagnostics.Tests.History.Store;

namespace Diagnostics.Tests.Records;

public class RecordBookTests
{
    private static readonly AsBuiltRecord Given = new() { Site = "Wrenfield community library" };
    private readonly RecordedDisk _disk = new();
    private readonly List<HeldRecord> _told = [];

    [Fact]
    public void TheLatestVersionHoldsAfterANewStartAsLongAsTheSameRecordIsGiven()
    {
        RecordBook book = Book(Given);
        Save(book, "reading room");
        Save(book, "workshop");
        Assert.Equal([1, 2], _told.Select(held => held.Number));
        RecordBook again = Book(Given);
        Assert.Equal((2, "workshop"), (again.Held.Number, again.Held.Record!.Site));
        Assert.Equal(book.Versions, again.Versions);
        Assert.Equal(book.Held.Token, again.Held.Token);
        Assert.Null(again.Overruled);
        Assert.True(again.TryRead(1, out AsBuiltRecord? first, out _));
        Assert.Equal("reading room", first.Site);
    }

    [Fact]
    public void WhoChangesTheFileMeansItAndTheVersionCanBeUsedAgain()
    {
        Save(Book(Given), "workshop");
        foreach (AsBuiltRecord? other in new[] { Given with { BitRate = 125_000 }, null })
        {
            RecordBook book = Book(other);
            Assert.Equal((0, other), (book.Held.Number, book.Held.Record));
            Assert.Equal("workshop", book.TryRead(book.Overruled!.Number, out AsBuiltRecord? version, out _) ? version.Site : null);
        }

        RecordBook changed = Book(Given with { BitRate = 125_000 });
        Assert.True(changed.TryRead(1, out AsBuiltRecord? wanted, out _));
        Assert.True(changed.Save(changed.Held.Token, wanted, RecordOrigin.Again, 1).IsSaved);
        Assert.Equal((2, "workshop"), (Book(Given with { BitRate = 125_000 }).Held.Number, changed.Held.Record!.Site));
        Assert.Equal(0, Book(Given).Held.Number);
    }

    [Fact]
    public void WhoSawAnOlderVersionIsToldAndNothingIsSaved()
    {
        RecordBook book = Book(Given);
        string seen = book.Held.Token;
        Save(book, "workshop");
        SaveOutcome outcome = book.Save(seen, Given with { Site = "café" }, RecordOrigin.Edited);
        Assert.True(outcome.IsConflict);
        Assert.Equal("workshop", book.Held.Record!.Site);
        Assert.Single(book.Versions);
    }

    [Fact]
    public void ASaveThatChangesNothingMakesNoVersion()
    {
        RecordBook book = Book(Given);
        Assert.True(book.Save(book.Held.Token, Given, RecordOrigin.Edited).IsSaved);
        Assert.Empty(book.Versions);
        Assert.Empty(_disk.Operations);
    }

    [Fact]
    public void TheOldestGoAndNumbersGoOn()
    {
        RecordBook book = Book(Given);
        for (int count = 1; count <= Limits.RecordVersions + 3; count++)
        {
            Save(book, "site " + count);
        }

        Assert.Equal(Enumerable.Range(4, Limits.RecordVersions), book.Versions.Select(version => version.Number));
        Assert.Equal(Limits.RecordVersions, _disk.List().Count);
        Assert.False(book.TryRead(1, out _, out _));
        Assert.Equal(book.Versions, Book(Given).Versions);
    }

    [Fact]
    public void EveryDamageOfAFileIsNoticedNamedAndKept()
    {
        Save(Book(Given), "reading room");
        Save(Book(Given), "workshop");
        byte[] whole = _disk.Live("000002.record");
        for (int at = 0; at < whole.Length; at += 7)
        {
            foreach (byte[] damaged in new[] { whole[..at], [.. whole[..at], (byte)(whole[at] ^ 4), .. whole[(at + 1)..]] })
            {
                RecordedDisk disk = new();
                disk.Put("000001.record", _disk.Live("000001.record"));
                disk.Put("000002.record", damaged);
                disk.Put("notes.txt", [1]);
                RecordBook book = Book(Given, disk);
                Assert.Equal("000002.record.damaged", Assert.Single(book.SetAside));
                Assert.Equal(1, book.Held.Number);
                Save(book, "café");
                Assert.Equal(3, book.Held.Number);
                Assert.Equal("000002.record.damaged", Assert.Single(Book(Given, disk).SetAside));
                Assert.Equal(damaged, disk.Live("000002.record.damaged"));
            }
        }
    }

    [Fact]
    public void AFileUnderAnotherNumberIsNoVersion()
    {
        Save(Book(Given), "workshop");
        _disk.Put("000007.record", _disk.Live("000001.record"));
        RecordBook book = Book(Given);
        Assert.Equal(1, book.Held.Number);
        Assert.Equal("000007.record.damaged", Assert.Single(book.SetAside));
    }

    [Fact]
    public void OnAFullDiskNothingChangesAndTheReasonIsTold()
    {
        RecordBook book = Book(Given);
        _disk.Fails = operation => operation.Step == RecordedDisk.Step.Replace;
        SaveOutcome outcome = book.Save(book.Held.Token, Given with { Site = "workshop" }, RecordOrigin.Edited);
        Assert.Contains("can’t be saved", outcome.Why!.English, StringComparison.Ordinal);
        Assert.Equal(0, book.Held.Number);
        Assert.Empty(_told);
        _disk.Fails = _ => false;
        Save(book, "workshop");
        Assert.Equal(1, book.Held.Number);
    }

    [Fact]
    public void AnOldVersionThatCantBeRemovedDoesntKeepTheNewOneFromHolding()
    {
        RecordBook book = Book(Given);
        _disk.Fails = operation => operation.Step == RecordedDisk.Step.Delete;
        for (int count = 0; count <= Limits.RecordVersions; count++)
        {
            Save(book, "site " + count);
        }

        Assert.Equal(Limits.RecordVersions + 1, book.Held.Number);
        Assert.Equal(book.Held.Number, _told[^1].Number);
    }

    [Fact]
    public void WhatTheReaderWouldRefuseIsNotSaved()
    {
        RecordBook book = Book(Given);
        foreach (string wrong in new[] { new string('x', 101), "two\nlines" })
        {
            SaveOutcome outcome = book.Save(book.Held.Token, Given with { Site = wrong }, RecordOrigin.Edited);
            Assert.Contains("$.site", outcome.Why!.English, StringComparison.Ordinal);
            Assert.True(outcome.IsWrong);
        }

        Assert.Empty(_disk.Operations);
    }

    [Fact]
    public void WithoutALogNothingIsSavedAndWhatWasGivenHolds()
    {
        RecordBook book = new(Given, AsBuiltWriter.ToUtf8(Given), null, TimeProvider.System);
        Assert.False(book.CanSave);
        Assert.Contains("--log", book.Save(book.Held.Token, new(), RecordOrigin.Edited).Why!.English, StringComparison.Ordinal);
        Assert.Same(Given, book.Held.Record);
    }

    [Fact]
    public void ADirectoryThatCantBeOpenedIsToldWhenSomebodySaves()
    {
        RecordBook book = new(null, null, _ => throw new UnauthorizedAccessException("no"), TimeProvider.System);
        Assert.Contains("(no)", book.Save(book.Held.Token, Given, RecordOrigin.Imported).Why!.English, StringComparison.Ordinal);
        Assert.Null(book.Held.Record);
    }

    [Fact]
    public void AVersionIsReadBackAsItWasWritten()
    {
        for (int seed = 0; seed < 100; seed++)
        {
            RecordVersion version = new(seed + 1, new(1_790_000_000_000_000_000 + (seed * 1_000_000_000L)), (RecordOrigin)(seed % 3), seed % 3 == 2 ? seed : null, seed % 2 == 0 ? null : "ab12");
            byte[] text = AsBuiltWriter.ToUtf8(RandomRecord.Of(seed));
            Assert.True(RecordVersionFormat.TryRead(RecordVersionFormat.Write(version, text), out RecordVersion? read, out _, out byte[] again));
            Assert.Equal(version, read);
            Assert.Equal(text, again);
        }

        Assert.False(RecordVersionFormat.TryRead(RecordVersionFormat.Write(new(1, default, RecordOrigin.Edited, null, null), Encoding.UTF8.GetBytes("{}")), out _, out _, out _));
    }

    private RecordBook Book(AsBuiltRecord? given, RecordedDisk? disk = null) =>
        new(given, given is null ? null : AsBuiltWriter.ToUtf8(given), _ => disk ?? _disk, TimeProvider.System, _told.Add);

    private static void Save(RecordBook book, string name) =>
        Assert.True(book.Save(book.Held.Token, (book.Held.Record ?? new()) with { Site = name }, RecordOrigin.Edited).IsSaved);
}
