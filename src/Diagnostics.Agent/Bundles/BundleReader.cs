using System.Buffers.Binary;
using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text.Json;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Opens a bundle that may come from anybody. No length and no name in it is trusted: names are made of harmless letters and stand in the manifest, bytes are counted as they are
/// inflated, and each file must be what the manifest says by length and hash. What a bundle made by <see cref="BundleWriter"/> never has (encryption, links, a comment, 64-bit
/// sizes, a name twice) is refused. Everything is refused with its reason, in a <see cref="SettingException"/>.
/// </summary>
internal static class BundleReader
{
    /// <summary>End of central directory record (APPNOTE 6.3.10, 4.3.16), without a comment.</summary>
    private const int EndBytes = 22;

    private const uint EndMark = 0x06_05_4B_50;

    /// <summary>The longest entry of the directory that a name of ours, its extra field and its comment could need; a real one has less than 150 bytes.</summary>
    private const int MostDirectoryBytesPerFile = 1024;

    private const int FileTypeBits = 0xF000;
    private const int OrdinaryFile = 0x8000;

    /// <summary>Checks a whole bundle and keeps nothing of it.</summary>
    /// <exception cref="SettingException">It isn't a whole bundle.</exception>
    public static BundleManifest Check(string file) => Read(file, directory: null);

    /// <summary>Checks a whole bundle and unpacks it.</summary>
    /// <param name="file">The bundle.</param>
    /// <param name="directory">An empty directory; the caller removes it, whatever comes of this.</param>
    /// <exception cref="SettingException">It isn't a whole bundle, or it can't be unpacked there.</exception>
    public static ExtractedBundle Extract(string file, string directory)
    {
        BundleManifest manifest = Read(file, directory);
        return new(directory, manifest, ReportIn(directory, file));
    }

    /// <summary>The report document of a log directory; null where there is none.</summary>
    /// <param name="directory">The directory.</param>
    /// <param name="source">What messages name.</param>
    /// <exception cref="SettingException">It can't be read.</exception>
    public static Report? ReportIn(string directory, string source)
    {
        string path = Path.Combine(directory, KeptDocuments.Report);
        if (!File.Exists(path))
        {
            return null;
        }

        byte[] bytes;
        try
        {
            bytes = BoundedFile.Read(path, Limits.ReportBytes);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw Refused(source, $"its {KeptDocuments.Report} can't be read ({problem.Message.TrimEnd('.')})");
        }

        if (bytes.Length > Limits.ReportBytes)
        {
            throw Refused(source, $"its {KeptDocuments.Report} has more than {Limits.ReportBytes} bytes");
        }

        Report? report;
        try
        {
            report = JsonSerializer.Deserialize(bytes, BundleJson.Default.Report);
        }
        catch (JsonException problem)
        {
            throw Refused(source, $"its {KeptDocuments.Report} is no report document (line {(problem.LineNumber ?? 0) + 1})");
        }

        return report is not null && WholeReport.Is(report) ? report : throw Refused(source, $"its {KeptDocuments.Report} is no whole report document");
    }

    private static BundleManifest Read(string file, string? directory)
    {
        try
        {
            if (FileKind.Oddity(file) is { } oddity)
            {
                throw new SettingException($"'{file}'", $"it is {oddity}, not a bundle", "name the file that 'bundle' wrote");
            }

            using FileStream stream = new(file, FileMode.Open, FileAccess.Read, FileShare.Read);
            CheckEnd(stream, file);
            using ZipArchive archive = new(stream, ZipArchiveMode.Read);
            return Read(archive, file, directory);
        }
        catch (Exception problem) when (problem is FileNotFoundException or DirectoryNotFoundException)
        {
            throw new SettingException($"'{file}'", "there is no such file", "check the path");
        }
        catch (InvalidDataException problem)
        {
            throw Refused(file, $"the archive is damaged ({problem.Message.TrimEnd('.')})");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SettingException($"'{file}'", $"it can't be read or unpacked ({problem.Message.TrimEnd('.')})", "check that this user may read it, and that there is space for what is in it (TMPDIR names where)");
        }
    }

    /// <summary>
    /// Before the library reads the directory of the archive, which it holds in memory whole: the last record of the file must say where that is and how large, and both must be
    /// what they can be in a bundle.
    /// </summary>
    private static void CheckEnd(FileStream stream, string file)
    {
        if (stream.Length > Limits.BundleBytes)
        {
            throw Refused(file, string.Create(CultureInfo.InvariantCulture, $"it has {stream.Length} bytes, and a bundle has {Limits.BundleBytes} at most"));
        }

        if (SourceFile.KindOf(file) is not SourceKind.Bundle and var kind)
        {
            throw NoBundle(file, kind, stream.Length == 0);
        }

        if (stream.Length < EndBytes)
        {
            throw Refused(file, "it is no zip archive, or it was cut off");
        }

        Span<byte> end = stackalloc byte[EndBytes];
        stream.Position = stream.Length - EndBytes;
        stream.ReadExactly(end);
        stream.Position = 0;
        if (BinaryPrimitives.ReadUInt32LittleEndian(end) != EndMark)
        {
            throw Refused(file, "it is no zip archive, or it was cut off");
        }

        int files = BinaryPrimitives.ReadUInt16LittleEndian(end[10..]);
        uint bytes = BinaryPrimitives.ReadUInt32LittleEndian(end[12..]);
        uint start = BinaryPrimitives.ReadUInt32LittleEndian(end[16..]);
        if (files > Limits.BundleFiles + 1)
        {
            throw Refused(file, $"it says that it has {files} files, and a bundle has {Limits.BundleFiles} at most");
        }

        // With 64-bit sizes these fields hold all ones, and so they don't add up.
        if (BinaryPrimitives.ReadUInt32LittleEndian(end[4..]) != 0
            || BinaryPrimitives.ReadUInt16LittleEndian(end[8..]) != files
            || BinaryPrimitives.ReadUInt16LittleEndian(end[20..]) != 0
            || bytes > (long)(files + 1) * MostDirectoryBytesPerFile
            || (long)start + bytes != stream.Length - EndBytes)
        {
            throw Refused(file, "its directory isn't where or what a bundle has it");
        }
    }

    private static BundleManifest Read(ZipArchive archive, string file, string? directory)
    {
        Dictionary<string, ZipArchiveEntry> entries = new(StringComparer.OrdinalIgnoreCase);
        foreach (ZipArchiveEntry entry in archive.Entries)
        {
            string name = entry.FullName;
            if (!BundleLayout.IsSafe(name))
            {
                throw Refused(file, $"a file in it has the name '{name}', which could lead out of it");
            }

            // Unix systems keep the type of a file in the upper half; zero where the archive was made elsewhere.
            if (((entry.ExternalAttributes >> 16) & FileTypeBits) is not (0 or OrdinaryFile))
            {
                throw Refused(file, $"{name} in it is no ordinary file");
            }

            if (entry.IsEncrypted)
            {
                throw Refused(file, $"{name} in it is encrypted");
            }

            if (!entries.TryAdd(name, entry))
            {
                throw Refused(file, $"{name} is in it twice");
            }
        }

        BundleManifest manifest = ManifestOf(entries, file);
        Dictionary<string, BundleFile> told = new(StringComparer.OrdinalIgnoreCase);
        long sum = 0;
        foreach (BundleFile next in manifest.Files)
        {
            if (!told.TryAdd(next.Path, next))
            {
                throw Refused(file, $"its manifest names {next.Path} twice");
            }

            if (!entries.TryGetValue(next.Path, out ZipArchiveEntry? entry) || entry.FullName != next.Path)
            {
                throw Refused(file, $"{next.Path} is missing in it");
            }

            if (entry.Length != next.Bytes)
            {
                throw Refused(file, string.Create(CultureInfo.InvariantCulture, $"{next.Path} in it says that it has {entry.Length} bytes, and its manifest says {next.Bytes}"));
            }

            if (next.Bytes < 0 || next.Bytes > BundleLayout.MostBytes(next.Path) || (sum += next.Bytes) > Limits.BundleBytes)
            {
                throw Refused(file, string.Create(CultureInfo.InvariantCulture, $"{next.Path} in it would have {next.Bytes} bytes, which is more than a bundle holds"));
            }
        }

        if (entries.Keys.FirstOrDefault(name => name != BundleLayout.Manifest && !told.ContainsKey(name)) is { } unknown)
        {
            throw Refused(file, $"{unknown} is in it and not in its manifest");
        }

        // The caller made the directory itself; below it this makes what it knows and nothing else.
        if (directory is not null)
        {
            Directory.CreateDirectory(Path.Combine(directory, BundleLayout.CaptureFolder));
            Directory.CreateDirectory(Path.Combine(directory, BundleLayout.RecordFolder));
        }

        byte[] buffer = new byte[128 * 1024];
        foreach (BundleFile next in manifest.Files)
        {
            string? place = directory is null ? null : BundleLayout.PlaceOf(next.Path);
            using Stream target = place is null ? Stream.Null : new FileStream(Path.Combine(directory!, place), FileMode.CreateNew, FileAccess.Write);
            Copy(entries[next.Path], next, target, buffer, file);
        }

        return manifest;
    }

    private static BundleManifest ManifestOf(Dictionary<string, ZipArchiveEntry> entries, string file)
    {
        if (!entries.TryGetValue(BundleLayout.Manifest, out ZipArchiveEntry? entry))
        {
            throw Refused(file, $"it has no {BundleLayout.Manifest}");
        }

        using MemoryStream bytes = new();
        using (Stream content = entry.Open())
        {
            byte[] piece = new byte[64 * 1024];
            for (int length; (length = content.Read(piece)) > 0;)
            {
                bytes.Write(piece, 0, length);
                if (bytes.Length > Limits.BundleManifestBytes)
                {
                    throw Refused(file, $"its {BundleLayout.Manifest} has more than {Limits.BundleManifestBytes} bytes");
                }
            }
        }

        ReadOnlySpan<byte> text = bytes.GetBuffer().AsSpan(0, (int)bytes.Length);
        if (Crc32(text) != entry.Crc32)
        {
            throw Refused(file, $"its {BundleLayout.Manifest} is damaged");
        }

        BundleManifest? manifest;
        try
        {
            manifest = JsonSerializer.Deserialize(text, BundleJson.Default.BundleManifest);
        }
        catch (JsonException problem)
        {
            throw Refused(file, $"its {BundleLayout.Manifest} is no manifest of a bundle (line {(problem.LineNumber ?? 0) + 1})");
        }

        if (manifest is { Format: > BundleManifest.CurrentFormat })
        {
            throw new SettingException($"'{file}'", $"it has format {manifest.Format}, made by a newer version; this one reads format {BundleManifest.CurrentFormat}", "open it with the newer version");
        }

        return manifest is { Format: > 0, Files.Count: <= Limits.BundleFiles, LeftOut.Count: <= Limits.BundleSentences }
            && manifest.Files.All(next => next is { Path: not null, Sha256.Length: 2 * SHA256.HashSizeInBytes }) && manifest.LeftOut.All(sentence => sentence is not null)
                ? manifest
                : throw Refused(file, $"its {BundleLayout.Manifest} isn't what the manifest of a bundle can be");
    }

    private static void Copy(ZipArchiveEntry entry, BundleFile told, Stream target, byte[] buffer, string file)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        using Stream content = entry.Open();
        long bytes = 0;
        for (int length; (length = content.Read(buffer)) > 0;)
        {
            bytes += length;
            if (bytes > told.Bytes)
            {
                break;
            }

            hash.AppendData(buffer, 0, length);
            target.Write(buffer, 0, length);
        }

        if (bytes != told.Bytes)
        {
            throw Refused(file, string.Create(CultureInfo.InvariantCulture, $"{told.Path} in it has {(bytes > told.Bytes ? "more" : "less")} than the {told.Bytes} bytes of its manifest"));
        }

        if (Convert.ToHexStringLower(hash.GetHashAndReset()) != told.Sha256)
        {
            throw Refused(file, $"{told.Path} in it isn't what its manifest says, by its hash");
        }
    }

    /// <summary>Of a zip archive (APPNOTE 6.3.10, 4.4.7), which the library doesn't check. Only the manifest needs it: the hashes of all else stand in there.</summary>
    private static uint Crc32(ReadOnlySpan<byte> bytes)
    {
        uint crc = ~0u;
        foreach (byte next in bytes)
        {
            crc ^= next;
            for (int bit = 0; bit < 8; bit++)
            {
                crc = (crc >> 1) ^ (0xED_B8_83_20 & (0 - (crc & 1)));
            }
        }

        return ~crc;
    }

    /// <summary>Nothing that was damaged on its way, but something else.</summary>
    private static SettingException NoBundle(string file, SourceKind kind, bool isEmpty) => (kind, isEmpty) switch
    {
        (_, true) => Refused(file, "it is empty"),
        (SourceKind.Report, _) => new($"'{file}'", "it is a report document (or other JSON), not a bundle", "write it as a page with 'diagnostics report', or compare it with 'diagnostics compare'"),
        _ => new($"'{file}'", "it is no bundle, as that is a zip archive", "analyse recorded traffic with 'diagnostics replay', or name the file that 'bundle' wrote"),
    };

    private static SettingException Refused(string file, string why) => new($"'{file}'", why, "have the bundle made and copied anew");
}
