using System.Buffers.Binary;
using System.Text;
using Diagnostics.Agent;
using Diagnostics.Agent.Bundles;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Bundles;

/// <summary>What a stranger may hand over in place of a bundle. Lengths and offsets of zip records: APPNOTE 6.3.10, 4.3.</summary>
public sealed class BundleReaderTests : IDisposable
{
    private const int EndBytes = 22;

    private readonly DirectoryInfo _directory = Directory.CreateTempSubdirectory("bundles");
    private int _number;

    public void Dispose() => _directory.Delete(recursive: true);

    private string Place(string name) => Path.Combine(_directory.FullName, name);

    private string Write(byte[] bytes)
    {
        string file = Place($"{++_number}.zip");
        File.WriteAllBytes(file, bytes);
        return file;
    }

    /// <summary>Refused with a reason in one line, and nothing is written outside of the directory that was given for it.</summary>
    private void Refused(string told, byte[] bytes)
    {
        string file = Write(bytes);
        DirectoryInfo inner = _directory.CreateSubdirectory($"{_number}/unpacked");
        string[] before = [.. _directory.EnumerateFiles("*", SearchOption.AllDirectories).Select(found => found.FullName)];
        SettingException refused = Assert.Throws<SettingException>(() => BundleReader.Extract(file, inner.FullName));
        Assert.Contains(told, refused.Message, StringComparison.Ordinal);
        Assert.StartsWith($"'{file}'", refused.Message, StringComparison.Ordinal);
        Assert.DoesNotContain('\n', refused.Message);
        inner.Delete(recursive: true);
        Assert.Equal(before, _directory.EnumerateFiles("*", SearchOption.AllDirectories).Select(found => found.FullName));
        Assert.Equal(refused.Message, Assert.Throws<SettingException>(() => BundleReader.Check(file)).Message);
    }

    private void Refused(string told, Action<ForgedBundle> change)
    {
        ForgedBundle forged = new();
        change(forged);
        Refused(told, forged.ToBytes());
    }

    [Fact]
    public void TheForgeryIsWholeUntilSomethingIsDoneToIt()
    {
        ForgedBundle forged = new();
        forged.Files[0] = ("report.json", ReportJson.ToUtf8(SampleReports.Rich()));
        Assert.NotNull(BundleReader.Extract(Write(forged.ToBytes()), _directory.CreateSubdirectory("whole").FullName).Report);
    }

    [Theory]
    [InlineData("../store.seg")]
    [InlineData("store/../../../etc/passwd")]
    [InlineData("/etc/passwd")]
    [InlineData("//host/share")]
    [InlineData("C:\\windows\\system.ini")]
    [InlineData("store\\events-0000000000000002.seg")]
    [InlineData("store/.hidden")]
    [InlineData(".ssh/authorized_keys")]
    [InlineData("store/deeper/still.seg")]
    [InlineData("store/")]
    [InlineData("")]
    [InlineData(".")]
    [InlineData("store/a\nb.seg")]
    [InlineData("store/a\0b.seg")]
    [InlineData("store/a:b.seg")]
    [InlineData("store/ä.seg")]
    [InlineData("store/aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa.seg")]
    public void NamesThatCouldLeadOutAreRefused(string name) => Refused("could lead out of it", forged => forged.Files.Add((name.Length == 0 ? "/" : name, [1])));

    /// <summary>Types of files as Unix systems keep them: link, pipe, device (stat.h: S_IFLNK, S_IFIFO, S_IFBLK).</summary>
    [Theory]
    [InlineData(0xA000)]
    [InlineData(0x1000)]
    [InlineData(0x6000)]
    [InlineData(0x4000)]
    public void LinksAndWhatElseIsNoFileAreRefused(int type) => Refused("is no ordinary file", forged => forged.OnEntry = entry => entry.ExternalAttributes = type << 16);

    [Fact]
    public void ANameTwiceIsRefused()
    {
        Refused("is in it twice", forged => forged.Unlisted.Add(("report.json", [1])));
        Refused("is in it twice", forged => forged.Unlisted.Add(("Report.json", [1])));
        Refused("is in it twice", forged => forged.Unlisted.Add(("manifest.json", [1])));
        Refused("names report.json twice", forged => forged.Manifest = manifest => manifest with { Files = [.. manifest.Files, manifest.Files[0]] });
    }

    [Fact]
    public void WhatTheManifestAndTheArchiveDoNotShareIsRefused()
    {
        Refused("is in it and not in its manifest", forged => forged.Unlisted.Add(("captures/20260107T090000.pcapng", [1])));
        Refused("is missing in it", forged => forged.Manifest = manifest => manifest with { Files = [.. manifest.Files, new("settings.json", 1, new string('0', 64))] });
        Refused("is missing in it", forged => forged.Manifest = manifest => manifest with { Files = [manifest.Files[0] with { Path = "REPORT.json" }, manifest.Files[1]] });
        Refused("is missing in it", forged => forged.Manifest = manifest => manifest with { Files = [.. manifest.Files, new("../../report.json", 1, new string('0', 64))] });
    }

    [Fact]
    public void AWrongLengthOrHashIsRefused()
    {
        foreach (long length in new[] { 0, 99, 101, -1, long.MaxValue })
        {
            Refused("store/events-0000000000000001.seg in it", forged => forged.Manifest = manifest => manifest with { Files = [manifest.Files[0], manifest.Files[1] with { Bytes = length }] });
        }

        Refused("by its hash", forged => forged.Manifest = manifest => manifest with { Files = [manifest.Files[0], manifest.Files[1] with { Sha256 = new string('0', 64) }] });
        Refused("can be", forged => forged.Manifest = manifest => manifest with { Files = [manifest.Files[0], manifest.Files[1] with { Sha256 = "0" }] });
    }

    [Fact]
    public void AFileThatIsLongerThanItSaysIsCutWhereItPassesItsLength()
    {
        // The directory of the archive says 100 bytes, as the manifest does; what is inflated are twenty million.
        ForgedBundle forged = new();
        forged.Files[1] = (forged.Files[1].Name, new byte[20_000_000]);
        forged.Manifest = manifest => manifest with { Files = [manifest.Files[0], manifest.Files[1] with { Bytes = 100 }] };
        byte[] bytes = forged.ToBytes();
        BinaryPrimitives.WriteUInt32LittleEndian(bytes.AsSpan(DirectoryEntryOf(bytes, 1) + 24), 100);

        // The library stops there by itself, so what is left has another hash; where it doesn't, the bytes are counted.
        Refused("store/events-0000000000000001.seg in it", bytes);
    }

    [Fact]
    public void MoreThanABundleHoldsIsRefusedBeforeAnyOfItIsInflated()
    {
        Refused("more than a bundle holds", forged => forged.Files.Add(("captures/a.pcapng", new byte[17 << 20])));
        Refused("more than a bundle holds", forged =>
        {
            byte[] zeros = new byte[16 << 20];
            for (int file = 0; file < 81; file++)
            {
                forged.Files.Add(($"captures/{file}.pcapng", zeros));
            }
        });
    }

    [Fact]
    public void AnArchiveThatSaysThatItHoldsMoreFilesIsRefusedBeforeItsDirectoryIsRead()
    {
        byte[] bytes = new ForgedBundle().ToBytes();
        BinaryPrimitives.WriteUInt16LittleEndian(bytes.AsSpan(bytes.Length - EndBytes + 10), 60_000);
        Refused("it says that it has 60000 files", bytes);
        Refused("at most", forged =>
        {
            for (int file = 0; file <= Limits.BundleFiles; file++)
            {
                forged.Files.Add(($"captures/{file}.pcapng", []));
            }
        });
    }

    /// <summary>Each field of the end record, and 64-bit sizes, which it says by all ones.</summary>
    [Theory]
    [InlineData(4)]
    [InlineData(6)]
    [InlineData(8)]
    [InlineData(12)]
    [InlineData(13)]
    [InlineData(14)]
    [InlineData(15)]
    [InlineData(16)]
    [InlineData(17)]
    [InlineData(18)]
    [InlineData(19)]
    [InlineData(20)]
    public void ADirectoryThatIsNotWhereItSaysIsRefused(int field)
    {
        foreach (byte value in new byte[] { 0xFF, 0x7F })
        {
            byte[] bytes = new ForgedBundle().ToBytes();
            bytes[bytes.Length - EndBytes + field] = value;
            Refused("its directory isn't where", bytes);
        }
    }

    [Fact]
    public void AnEntryThatLiesIn64BitsIsRefused()
    {
        byte[] bytes = new ForgedBundle().ToBytes();
        BinaryPrimitives.WriteUInt32LittleEndian(bytes.AsSpan(DirectoryEntryOf(bytes, 1) + 24), 0xFFFFFFFF);
        Refused("store/events-0000000000000001.seg", bytes);
    }

    /// <summary>Bit 0 of the flags says that an entry is encrypted.</summary>
    [Fact]
    public void AnEncryptedFileIsRefused()
    {
        byte[] bytes = new ForgedBundle().ToBytes();
        bytes[DirectoryEntryOf(bytes, 1) + 8] |= 1;
        Refused("is encrypted", bytes);
    }

    [Theory]
    [InlineData("", "no manifest of a bundle (line 1)")]
    [InlineData("null", "isn't what the manifest")]
    [InlineData("[]", "no manifest of a bundle")]
    [InlineData("{}", "no manifest of a bundle")]
    [InlineData("""{"format":0,"made":"2026-11-25T12:00:00Z","program":"x","files":[]}""", "isn't what the manifest")]
    [InlineData("""{"format":2,"made":"2026-11-25T12:00:00Z","program":"x","files":[]}""", "made by a newer version")]
    [InlineData("""{"format":1,"made":"noon","program":"x","files":[]}""", "no manifest of a bundle")]
    [InlineData("""{"format":1,"made":"2026-11-25T12:00:00Z","program":null,"files":[]}""", "no manifest of a bundle")]
    [InlineData("""{"format":1,"made":"2026-11-25T12:00:00Z","program":"x","files":null}""", "no manifest of a bundle")]
    [InlineData("""{"format":1,"made":"2026-11-25T12:00:00Z","program":"x","files":[null]}""", "isn't what the manifest")]
    [InlineData("""{"format":1,"made":"2026-11-25T12:00:00Z","program":"x","files":[{}]}""", "isn't what the manifest")]
    [InlineData("""{"format":1,"made":"2026-11-25T12:00:00Z","program":"x","files":[],"leftOut":[null]}""", "isn't what the manifest")]
    [InlineData("""{"format":1e99,"made":"2026-11-25T12:00:00Z","program":"x","files":[]}""", "no manifest of a bundle")]
    public void AManifestThatIsNoneIsRefused(string text, string told) => Refused(told, forged =>
    {
        forged.Files.Clear();
        forged.ManifestText = Encoding.UTF8.GetBytes(text);
    });

    [Fact]
    public void AManifestThatIsMissingTooLongTooDeepOrTooManyIsRefused()
    {
        Refused("it has no manifest.json", forged => forged.HasManifest = false);
        Refused("its manifest.json has more than", forged => forged.ManifestText = new byte[Limits.BundleManifestBytes + 1]);
        Refused("no manifest of a bundle", forged => forged.ManifestText = Encoding.UTF8.GetBytes("{\"unknown\":" + new string('[', 100_000)));
        Refused("isn't what the manifest", forged => forged.Manifest = manifest => manifest with { Files = [.. Enumerable.Repeat(new BundleFile("a", 0, new string('0', 64)), Limits.BundleFiles + 1)] });
        Refused("isn't what the manifest", forged => forged.Manifest = manifest => manifest with { LeftOut = [.. Enumerable.Repeat("x", Limits.BundleSentences + 1)] });
    }

    [Theory]
    [InlineData("{}")]
    [InlineData("null")]
    [InlineData("""{"schema":1,"source":null,"buses":[],"findings":[],"assurances":[]}""")]
    [InlineData("""{"schema":1,"source":{"kind":"live","name":"x","notSeen":{"gaps":[]}},"buses":[null],"findings":[],"assurances":[]}""")]
    [InlineData("""{"schema":1,"source":{"kind":"live","name":"x","notSeen":{"gaps":[]}},"findings":[],"assurances":[]}""")]
    [InlineData("""{"schema":1,"source":{"kind":"live","name":"x","notSeen":{}},"buses":[],"findings":[],"assurances":[]}""")]
    [InlineData("""{"schema":1,"source":{"kind":"live","name":"x","notSeen":{"gaps":[]}},"buses":[],"findings":[{}],"assurances":[]}""")]
    [InlineData("""{"schema":1,"source":{"kind":"live","name":"x","notSeen":{"gaps":[]}},"buses":[],"findings":[],"assurances":[{}]}""")]
    public void AReportThatIsNotWholeIsRefused(string report)
    {
        ForgedBundle forged = new();
        forged.Files[0] = ("report.json", Encoding.UTF8.GetBytes(report));
        string file = Write(forged.ToBytes());
        SettingException refused = Assert.Throws<SettingException>(() => BundleReader.Extract(file, _directory.CreateSubdirectory("report").FullName));
        Assert.Contains("report document", refused.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void AReportOfAnotherVersionIsReadForWhatIsKnown()
    {
        ForgedBundle forged = new();
        forged.Files[0] = ("report.json", Encoding.UTF8.GetBytes(
            """{"schema":7,"mood":"good","source":{"kind":"live","name":"can0","notSeen":{"gaps":[],"gremlins":3}},"buses":[],"findings":[],"assurances":[]}"""));
        forged.Files.Add(("weather/monday.json", [1, 2, 3]));
        DirectoryInfo inner = _directory.CreateSubdirectory("newer");
        ExtractedBundle bundle = BundleReader.Extract(Write(forged.ToBytes()), inner.FullName);
        Assert.Equal("can0", bundle.Report!.Source.Name);
        Assert.False(Directory.Exists(Path.Combine(inner.FullName, "weather")));
    }

    [Fact]
    public void WhatIsNoArchiveOrNoFileIsTold()
    {
        Refused("it is empty", []);
        Refused("it is no bundle, as that is a zip archive", Encoding.ASCII.GetBytes("a picture of the hall, it seems"));
        Refused("archive", [.. new ForgedBundle().ToBytes(), 0]);
        Assert.Contains("there is no such file", Assert.Throws<SettingException>(() => BundleReader.Check(Place("none.zip"))).Message, StringComparison.Ordinal);
        Assert.Contains("it is a directory", Assert.Throws<SettingException>(() => BundleReader.Check(_directory.FullName)).Message, StringComparison.Ordinal);
        Assert.Contains("it is a device", Assert.Throws<SettingException>(() => BundleReader.Check("/dev/zero")).Message, StringComparison.Ordinal);
    }

    /// <summary>A copy that broke off, at any byte.</summary>
    [Fact]
    public async Task EveryTruncationIsRefused()
    {
        byte[] bytes = await GoodAsync();
        for (int length = 0; length < bytes.Length; length += length < bytes.Length - 300 ? 61 : 1)
        {
            Assert.Throws<SettingException>(() => BundleReader.Check(Write(bytes[..length])));
            File.Delete(Place($"{_number}.zip"));
        }
    }

    /// <summary>Seeded; some bytes of an archive say nothing that matters here, as dates, and then what is unpacked is the same.</summary>
    [Fact]
    public async Task AFlippedByteIsRefusedOrChangesNothing()
    {
        byte[] bytes = await GoodAsync();
        string Unpacked(byte[] archive)
        {
            DirectoryInfo inner = _directory.CreateSubdirectory($"flip-{++_number}");
            try
            {
                BundleManifest manifest = BundleReader.Extract(Write(archive), inner.FullName).Manifest;
                return System.Text.Json.JsonSerializer.Serialize(manifest, BundleJson.Default.BundleManifest)
                    + string.Concat(inner.EnumerateFiles("*", SearchOption.AllDirectories).OrderBy(file => file.FullName, StringComparer.Ordinal)
                        .Select(file => $"{Path.GetRelativePath(inner.FullName, file.FullName)} {Convert.ToHexString(System.Security.Cryptography.SHA256.HashData(File.ReadAllBytes(file.FullName)))}\n"));
            }
            finally
            {
                inner.Delete(recursive: true);
                File.Delete(Place($"{_number}.zip"));
            }
        }

        string good = Unpacked(bytes);
        Random random = new(20261125);
        int refused = 0;
        for (int round = 0; round < 1_500; round++)
        {
            byte[] flipped = (byte[])bytes.Clone();

            // Half of them in the directory, which is short and decides the most.
            int position = round % 2 == 0 ? random.Next(bytes.Length) : bytes.Length - 1 - random.Next(1_200);
            flipped[position] ^= (byte)(1 << random.Next(8));
            try
            {
                Assert.Equal(good, Unpacked(flipped));
            }
            catch (SettingException)
            {
                refused++;
            }
        }

        Assert.InRange(refused, 1_000, 1_499);
    }

    private async Task<byte[]> GoodAsync()
    {
        string log = _directory.CreateSubdirectory("log").FullName;
        SampleLog.Write(log);
        string file = Place("good.zip");
        await SampleLog.BundleAsync(log, file);
        return await File.ReadAllBytesAsync(file, TestContext.Current.CancellationToken);
    }

    /// <summary>Where the directory's entry of a file begins.</summary>
    private static int DirectoryEntryOf(byte[] archive, int number)
    {
        int at = BinaryPrimitives.ReadInt32LittleEndian(archive.AsSpan(archive.Length - EndBytes + 16));
        for (; number > 0; number--)
        {
            at += 46 + BinaryPrimitives.ReadUInt16LittleEndian(archive.AsSpan(at + 28)) + BinaryPrimitives.ReadUInt16LittleEndian(archive.AsSpan(at + 30)) + BinaryPrimitives.ReadUInt16LittleEndian(archive.AsSpan(at + 32));
        }

        return at;
    }
}
