using System.IO.Compression;
using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Bundles;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Bundles;

public sealed class BundleWriterTests : IDisposable
{
    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("bundles");
    private readonly string _log;

    public BundleWriterTests()
    {
        _log = _directory.CreateSubdirectory("log").FullName;
        SampleLog.Write(_log);
    }

    public void Dispose() => _directory.Delete(recursive: true);

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    private ExtractedBundle Extract(string file) => BundleReader.Extract(file, _directory.CreateSubdirectory(Path.GetFileName(file) + ".d").FullName);

    private static string[] Names(string file)
    {
        using ZipArchive archive = ZipFile.OpenRead(file);
        return [.. archive.Entries.Select(entry => entry.FullName)];
    }

    private static string[] Segments(string directory) => [.. Directory.EnumerateFiles(directory, "*" + RecordStore.Suffix).Select(file => Path.GetFileName(file)!).Order(StringComparer.Ordinal)];

    [Fact]
    public async Task WhatIsPutInComesOut()
    {
        BundleManifest written = await SampleLog.BundleAsync(_log, Place("a.zip"));
        ExtractedBundle bundle = Extract(Place("a.zip"));
        Assert.Equal("Wrenfield community library", bundle.Manifest.Site);
        Assert.Equal("can0", bundle.Manifest.Source);
        Assert.Equal(SampleLog.Rows[^1].Start, bundle.Manifest.To);
        Assert.Equal(SampleLog.Earlier.Raised, bundle.Manifest.From);
        Assert.Empty(bundle.Manifest.LeftOut);
        Assert.False(bundle.Manifest.FromRunningService);
        Assert.Equal(written.Files, bundle.Manifest.Files);
        Assert.Equal(ReportJson.ToUtf8(SampleReports.Rich()), ReportJson.ToUtf8(bundle.Report!));
        Assert.Equal(Segments(_log), Segments(bundle.Directory));
        foreach (string name in Segments(_log).Concat(["site.json", "settings.json"]))
        {
            // Of a file that was filled with zeros beforehand, what was written.
            byte[] whole = File.ReadAllBytes(Path.Combine(_log, name));
            byte[] copy = File.ReadAllBytes(Path.Combine(bundle.Directory, name));
            Assert.Equal(whole[..copy.Length], copy);
            Assert.DoesNotContain(whole[copy.Length..], left => left != 0);
        }

        using StoredHistory log = StoredHistory.OpenReadOnly(bundle.Directory, TimeProvider.System);
        Assert.Empty(log.Remarks);
        Assert.Equal(SampleLog.Rows, log.ReadRows(StoreSeries.Minutes, SampleLog.Rows[0].Start, SampleLog.Noon));
        Assert.Equal(2, log.ReadCaptures().Count(capture => capture.File is not null));
    }

    /// <summary>The index can be made anew, the lock is nobody's business, and neither is what else lies there.</summary>
    [Fact]
    public async Task NothingElseOfTheDirectoryGoesIn()
    {
        File.WriteAllText(Path.Combine(_log, "password.txt"), "secret");
        File.WriteAllText(Path.Combine(_log, "captures", "password.txt"), "secret");
        File.CreateSymbolicLink(Path.Combine(_log, "captures", "20260101T000000.pcapng"), Path.Combine(_log, "password.txt"));
        File.WriteAllText(Path.Combine(_log, "events-0000000000000009.seg.damaged"), "damaged");
        await SampleLog.BundleAsync(_log, Place("a.zip"));
        string[] names = Names(Place("a.zip"));
        Assert.All(names, name => Assert.Matches("^(README\\.txt|(manifest|report|settings|site)\\.json|store/(events|minutes|inputs)-[0-9]{16}\\.seg|captures/[0-9T-]+\\.pcapng)$", name));
        Assert.Equal(2, names.Count(name => name.StartsWith("captures/", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task WhatShowsWhenPeopleWerePresentCanBeLeftOut()
    {
        await SampleLog.BundleAsync(_log, Place("all.zip"));
        await SampleLog.BundleAsync(_log, Place("some.zip"), withoutInputs: true);
        Assert.Contains(Names(Place("all.zip")), name => name.StartsWith("store/inputs-", StringComparison.Ordinal));
        Assert.DoesNotContain(Names(Place("some.zip")), name => name.StartsWith("store/inputs-", StringComparison.Ordinal) || name.StartsWith("captures/", StringComparison.Ordinal));
        ExtractedBundle bundle = Extract(Place("some.zip"));
        Assert.True(bundle.Manifest.WithoutInputs);
        Assert.Contains("left out on request", Assert.Single(bundle.Manifest.LeftOut), StringComparison.Ordinal);
        static bool HoldsSecret(string file) => Encoding.UTF8.GetString(File.ReadAllBytes(file)).Contains(SampleLog.Secret, StringComparison.Ordinal);
        Assert.Equal(2, Directory.EnumerateFiles(Extract(Place("all.zip")).Directory).Count(HoldsSecret));
        Assert.DoesNotContain(Directory.EnumerateFiles(bundle.Directory, "*", SearchOption.AllDirectories), HoldsSecret);

        // Findings and marks stay, and that is said where it is asked for.
        using StoredHistory log = StoredHistory.OpenReadOnly(bundle.Directory, TimeProvider.System);
        using StoredHistory before = StoredHistory.OpenReadOnly(_log, TimeProvider.System);
        Assert.Empty(log.Remarks);
        Assert.Equal(before.ReadFindings().Select(finding => finding.Key), log.ReadFindings().Select(finding => finding.Key));
        Assert.Equal(before.ReadNodeEvents(SampleLog.Noon, SampleLog.Noon), log.ReadNodeEvents(SampleLog.Noon, SampleLog.Noon));
        Assert.Equal(SampleLog.Rows, log.ReadRows(StoreSeries.Minutes, SampleLog.Rows[0].Start, SampleLog.Noon));
        Assert.Equal(SampleLog.Note, Assert.Single(log.ReadCaptures(), capture => capture.IsMark).Why);
    }

    /// <summary>Bytes that can't be read here can't be told from what was to be left out.</summary>
    [Fact]
    public void WhatCanNotBeReadStaysBehindWhereSomethingIsLeftOut()
    {
        byte[] events = File.ReadAllBytes(Directory.GetFiles(_log, "events-*").Single());
        byte[] inputs = File.ReadAllBytes(Directory.GetFiles(_log, "inputs-*").Single());
        Assert.NotNull(PresenceFilter.Apply(events));
        Assert.Null(PresenceFilter.Apply(inputs));
        Assert.Null(PresenceFilter.Apply(new byte[100]));

        // A record of a mark that was damaged: what stands in it is not copied as a hole.
        byte[] damaged = (byte[])events.Clone();
        int secret = damaged.AsSpan().IndexOf(Encoding.UTF8.GetBytes(SampleLog.Secret));
        damaged[secret - 1] ^= 1;
        Assert.DoesNotContain(SampleLog.Secret, Encoding.UTF8.GetString(PresenceFilter.Apply(damaged)!), StringComparison.Ordinal);
        events[8] = 99;
        Assert.Null(PresenceFilter.Apply(events));
    }

    /// <summary>A card that is dying is what a bundle is wanted for most.</summary>
    [Fact]
    public async Task AFileThatCanNotBeReadIsNamedAndTheRestIsThere()
    {
        BundleContent content = SampleLog.Content(_log);
        string lost = Segments(_log).Single(name => name.StartsWith("minutes-", StringComparison.Ordinal));
        File.Delete(Path.Combine(_log, lost));
        Directory.CreateDirectory(Path.Combine(_log, lost));
        using MemoryStream bytes = new();
        BundleManifest manifest = await BundleWriter.WriteAsync(bytes, content, TestContext.Current.CancellationToken);
        Assert.Equal($"Could not be read: store/{lost}.", Assert.Single(manifest.LeftOut));
        File.WriteAllBytes(Place("a.zip"), bytes.ToArray());
        using StoredHistory log = StoredHistory.OpenReadOnly(Extract(Place("a.zip")).Directory, TimeProvider.System);
        Assert.NotEmpty(log.ReadFindings());
    }

    [Fact]
    public async Task AFileThatGoesMeanwhileIsNoTrouble()
    {
        BundleContent content = SampleLog.Content(_log);
        File.Delete(Path.Combine(_log, Segments(_log)[0]));
        using MemoryStream bytes = new();
        Assert.Empty((await BundleWriter.WriteAsync(bytes, content, TestContext.Current.CancellationToken)).LeftOut);
    }

    /// <summary>A torn or half written record at the end of a copy would be told as damage.</summary>
    [Fact]
    public async Task WhatIsWrittenWhileItIsMadeIsNotInIt()
    {
        using StoredHistory log = StoredHistory.Open(_log, SampleLog.Cap, SampleLog.Noon, TimeProvider.System);
        StoreSnapshot before = log.Snapshot();
        SampleLog.WriteRun(log);
        log.Snapshot();
        BundleContent content = new() { Directory = _log, Store = before, Documents = new Dictionary<string, byte[]>(), Made = SampleLog.Noon, Zone = TimeZoneInfo.Utc, FromRunningService = true };
        using MemoryStream bytes = new();
        await BundleWriter.WriteAsync(bytes, content, TestContext.Current.CancellationToken);
        File.WriteAllBytes(Place("a.zip"), bytes.ToArray());
        ExtractedBundle bundle = Extract(Place("a.zip"));
        using StoredHistory copy = StoredHistory.OpenReadOnly(bundle.Directory, TimeProvider.System, bundle.Manifest.FromRunningService);
        Assert.Empty(copy.Remarks);
        Assert.Equal(300, copy.ReadRows(StoreSeries.Minutes, SampleLog.Rows[0].Start, SampleLog.Noon).Count);
        Assert.Equal(600, log.ReadRows(StoreSeries.Minutes, SampleLog.Rows[0].Start, SampleLog.Noon).Count);
    }

    /// <summary>Without a clock battery a board begins at 1970, which no zip archive can say.</summary>
    [Theory]
    [InlineData(0L)]
    [InlineData(-1_000_000_000_000_000_000L)]
    [InlineData(9_000_000_000_000_000_000L)]
    public async Task ABoardWithoutATimeOfDayMakesBundlesAsWell(long nanoseconds)
    {
        using (FileStream file = File.Create(Place("a.zip")))
        {
            await BundleWriter.WriteAsync(file, SampleLog.Content(_log) with { Made = new(nanoseconds) }, TestContext.Current.CancellationToken);
        }

        Assert.Equal(new(nanoseconds), BundleReader.Check(Place("a.zip")).Made);
    }

    [Fact]
    public async Task WhatTheReadmeSaysIsWhatOneDoes()
    {
        await SampleLog.BundleAsync(_log, Place("a.zip"));
        using ZipArchive archive = ZipFile.OpenRead(Place("a.zip"));
        using StreamReader readme = new(archive.GetEntry("README.txt")!.Open());
        string text = await readme.ReadToEndAsync(TestContext.Current.CancellationToken);
        Assert.Contains("Wrenfield community library", text, StringComparison.Ordinal);
        Assert.Contains("diagnostics open FILE", text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Wrenfield community library", "wrenfield-community-library-20261125-151200.zip")]
    [InlineData("  Café / Haus 3!! ", "caf-haus-3-20261125-151200.zip")]
    [InlineData("../../etc/passwd", "etc-passwd-20261125-151200.zip")]
    [InlineData("図書館", "diagnostics-20261125-151200.zip")]
    [InlineData(null, "diagnostics-20261125-151200.zip")]
    [InlineData("aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa-20261125-151200.zip")]
    public void ABundleIsNamedByItsSiteAndTime(string? site, string name) =>
        Assert.Equal(name, BundleWriter.FileNameOf(site, Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 15, 12, 0, TimeSpan.Zero))));

    /// <summary>The stream of a response may only be written without blocking, and can't seek.</summary>
    [Fact]
    public async Task ATargetThatMayOnlyBeWrittenWithoutBlockingIsEnough()
    {
        using AsyncOnly target = new();
        await BundleWriter.WriteAsync(target, SampleLog.Content(_log), TestContext.Current.CancellationToken);
        File.WriteAllBytes(Place("a.zip"), target.Bytes.ToArray());
        BundleReader.Check(Place("a.zip"));
    }

    [Fact]
    public async Task ATargetThatFailsIsToldAsItIs()
    {
        using AsyncOnly target = new() { FailsAfter = 10_000 };
        await Assert.ThrowsAsync<IOException>(() => BundleWriter.WriteAsync(target, SampleLog.Content(_log), TestContext.Current.CancellationToken));
    }

    private sealed class AsyncOnly : Stream
    {
        public MemoryStream Bytes { get; } = new();

        public long FailsAfter { get; init; } = long.MaxValue;

        public override bool CanRead => false;

        public override bool CanSeek => false;

        public override bool CanWrite => true;

        public override long Length => throw new NotSupportedException();

        public override long Position
        {
            get => throw new NotSupportedException();
            set => throw new NotSupportedException();
        }

        public override ValueTask WriteAsync(ReadOnlyMemory<byte> buffer, CancellationToken cancellationToken = default)
        {
            if (Bytes.Length + buffer.Length > FailsAfter)
            {
                throw new IOException("No space left on device");
            }

            return Bytes.WriteAsync(buffer, cancellationToken);
        }

        public override void Flush() => throw new NotSupportedException();

        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }
}
