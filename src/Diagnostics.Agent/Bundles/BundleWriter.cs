using System.Globalization;
using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Commands;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Records;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Writes a bundle as a stream, file by file, so that a log of any size takes the memory of one of its files. A file that can't be read is left out and named, because a bundle
/// is wanted most where a card is dying; what can't be written is the caller's to tell.
/// </summary>
internal static class BundleWriter
{
    /// <summary>Earliest and latest date of a zip archive (APPNOTE 6.3.10, 4.4.6); a board that doesn't know the time is outside.</summary>
    private static readonly DateTimeOffset EarliestStamp = new(1980, 1, 1, 0, 0, 0, TimeSpan.Zero);

    private static readonly DateTimeOffset LatestStamp = new(2107, 12, 31, 0, 0, 0, TimeSpan.Zero);

    /// <summary>Characters of a site's name that a file name takes.</summary>
    private const int LongestSiteName = 40;

    /// <summary>Files that can't be read and are named one by one.</summary>
    private const int MostNamed = 4;

    /// <param name="target">Where to; need not be able to seek, and is left open.</param>
    /// <param name="content">What to put in.</param>
    /// <param name="cancellation">Gives it up.</param>
    /// <exception cref="IOException">It can't be written.</exception>
    public static async Task<BundleManifest> WriteAsync(Stream target, BundleContent content, CancellationToken cancellation)
    {
        using Packing packing = new(target, Stamp(content.Made), cancellation);
        foreach (string document in BundleLayout.Documents)
        {
            if (content.Documents.TryGetValue(document, out byte[]? bytes))
            {
                await packing.AddAsync(document, bytes).ConfigureAwait(false);
            }
        }

        string[] versions = VersionsIn(Path.Combine(content.Directory, RecordBook.Folder));
        foreach (string name in versions)
        {
            await packing.AddFileAsync(BundleLayout.RecordFolder + name, Path.Combine(content.Directory, RecordBook.Folder, name), int.MaxValue, change: null).ConfigureAwait(false);
        }

        List<string> leftOut = [];
        foreach ((string name, int bytes) in content.Store.Files)
        {
            if (!content.WithoutInputs || !PresenceFilter.LeavesOut(name))
            {
                await packing.AddFileAsync(BundleLayout.StoreFolder + name, Path.Combine(content.Directory, name), bytes, content.WithoutInputs ? PresenceFilter.Apply : null).ConfigureAwait(false);
            }
        }

        CaptureFiles captures = new(Path.Combine(content.Directory, CaptureFiles.Folder), long.MaxValue);
        IReadOnlyList<string> frames = captures.Names();
        if (content.WithoutInputs)
        {
            leftOut.Add("Changes of inputs, the kept frames and what happened around marks were left out on request, because they show when people were present.");
        }
        else
        {
            int room = Limits.BundleFiles - BundleLayout.Documents.Count - 1 - versions.Length - content.Store.Files.Count;
            if (frames.Count > room)
            {
                leftOut.Add(string.Create(CultureInfo.InvariantCulture, $"The oldest {frames.Count - room} files of kept frames were left out: a bundle has room for {Limits.BundleFiles} files."));
            }

            foreach (string name in frames.Take(room))
            {
                if (captures.PathOf(name) is { } path)
                {
                    await packing.AddFileAsync(BundleLayout.CaptureFolder + name, path, int.MaxValue, change: null).ConfigureAwait(false);
                }
            }
        }

        if (packing.Unreadable.Count > 0)
        {
            leftOut.Add($"Could not be read: {string.Join(", ", packing.Unreadable.Take(MostNamed))}{(packing.Unreadable.Count > MostNamed ? $" and {packing.Unreadable.Count - MostNamed} more files" : string.Empty)}.");
        }

        BundleManifest manifest = Describe(content, leftOut);
        await packing.AddAsync(BundleLayout.Readme, Encoding.UTF8.GetBytes(Readme(manifest))).ConfigureAwait(false);
        manifest = manifest with { Files = packing.Files };
        await packing.AddAsync(BundleLayout.Manifest, JsonSerializer.SerializeToUtf8Bytes(manifest, BundleJson.Default.BundleManifest)).ConfigureAwait(false);
        await packing.EndAsync().ConfigureAwait(false);
        return manifest;
    }

    /// <summary>Name of the file that a bundle is given: the site's, and when it was made.</summary>
    public static string FileNameOf(string? site, Instant made)
    {
        StringBuilder name = new();
        foreach (char letter in (site ?? string.Empty).Take(LongestSiteName))
        {
            if (char.IsAsciiLetterOrDigit(letter))
            {
                name.Append(char.ToLowerInvariant(letter));
            }
            else if (name.Length > 0 && name[^1] != '-')
            {
                name.Append('-');
            }
        }

        string whose = name.ToString().TrimEnd('-');
        string time = made.WholeSecond.ToString().TrimEnd('Z').Replace(":", "", StringComparison.Ordinal).Replace("-", "", StringComparison.Ordinal).Replace('T', '-');
        return $"{(whose.Length > 0 ? whose : "diagnostics")}-{time}.zip";
    }

    /// <summary>The site's name by its as-built record; null where there is none.</summary>
    public static string? SiteOf(BundleContent content) =>
        content.Documents.TryGetValue(KeptDocuments.Site, out byte[]? record) && AsBuiltReader.TryRead(record, out AsBuiltRecord? site, out _) ? site!.Site : null;

    private static BundleManifest Describe(BundleContent content, List<string> leftOut)
    {
        return new()
        {
            Format = BundleManifest.CurrentFormat,
            Made = content.Made,
            Program = CommandLine.Version,
            FromRunningService = content.FromRunningService,
            Zone = content.Zone.HasIanaId ? content.Zone.Id : null,
            Site = SiteOf(content),
            Source = SourceOf(content),
            From = content.Store.From,
            To = content.Store.To,
            WithoutInputs = content.WithoutInputs,
            LeftOut = leftOut,
            Files = [],
        };
    }

    /// <summary>Names of the files of versions, oldest first.</summary>
    private static string[] VersionsIn(string directory)
    {
        try
        {
            return Directory.Exists(directory)
                ? [.. new DirectoryInfo(directory).EnumerateFiles("*" + RecordBook.Suffix).Select(file => file.Name).Where(BundleLayout.IsSafe).Order(StringComparer.Ordinal).TakeLast(Limits.RecordVersions)]
                : [];
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return [];
        }
    }

    private static string? SourceOf(BundleContent content)
    {
        try
        {
            return content.Documents.TryGetValue(KeptDocuments.Report, out byte[]? report) ? JsonSerializer.Deserialize(report, BundleJson.Default.Report)?.Source?.Name : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }

    private static string Readme(BundleManifest manifest)
    {
        StringBuilder text = new();
        text.Append("The log of a field-bus diagnostic agent").Append(manifest.Site is { } site ? $" at \"{SettingException.OneLine(site)}\"" : string.Empty)
            .Append(", made ").Append(manifest.Made.WholeSecond).Append(" by version ").Append(manifest.Program).Append(".\n");
        text.Append("Open it with: diagnostics open FILE\n");
        foreach (string sentence in manifest.LeftOut)
        {
            text.Append(sentence).Append('\n');
        }

        return text.ToString();
    }

    private static DateTimeOffset Stamp(Instant made)
    {
        DateTimeOffset time = DateTimeOffset.UnixEpoch.AddTicks(made.Nanoseconds / 100);
        return time < EarliestStamp ? EarliestStamp : time > LatestStamp ? LatestStamp : time;
    }

    /// <summary>Puts one file after the other into the archive and remembers what it was.</summary>
    private sealed class Packing : IDisposable
    {
        private readonly Spool _spool = new();
        private readonly ZipArchive _archive;
        private readonly Stream _target;
        private readonly DateTimeOffset _stamp;
        private readonly CancellationToken _cancellation;
        private byte[] _buffer = new byte[RecordStore.UsualSegmentBytes];

        public Packing(Stream target, DateTimeOffset stamp, CancellationToken cancellation)
        {
            _archive = new(_spool, ZipArchiveMode.Create, leaveOpen: true);
            _target = target;
            _stamp = stamp;
            _cancellation = cancellation;
        }

        public List<BundleFile> Files { get; } = [];

        public List<string> Unreadable { get; } = [];

        /// <summary>Read whole before its entry is begun: what breaks off in the middle could no longer be taken back.</summary>
        /// <param name="name">In the archive.</param>
        /// <param name="path">Where it lies.</param>
        /// <param name="mostBytes">What counts of it.</param>
        /// <param name="change">Makes something else of it, or null of what can't be read; null = it goes in as it is.</param>
        public async Task AddFileAsync(string name, string path, int mostBytes, Func<ReadOnlyMemory<byte>, byte[]?>? change)
        {
            int length = 0;
            try
            {
                FileStream file = new(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, bufferSize: 0, useAsync: false);
                await using (file.ConfigureAwait(false))
                {
                    int wanted = (int)Math.Min(Math.Min(file.Length, mostBytes), DiskStoreFiles.LongestFile);
                    if (_buffer.Length < wanted)
                    {
                        _buffer = new byte[wanted];
                    }

                    length = await file.ReadAtLeastAsync(_buffer.AsMemory(0, wanted), wanted, throwOnEndOfStream: false, _cancellation).ConfigureAwait(false);
                }
            }
            catch (Exception problem) when (problem is FileNotFoundException or DirectoryNotFoundException)
            {
                // The oldest go while this runs; nothing is missed that the log still has.
                return;
            }
            catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
            {
                Unreadable.Add(name);
                return;
            }

            ReadOnlyMemory<byte>? content = change is null ? _buffer.AsMemory(0, length) : change(_buffer.AsMemory(0, length)) is { } changed ? changed : null;
            if (content is { } bytes)
            {
                await AddAsync(name, bytes).ConfigureAwait(false);
            }
            else
            {
                Unreadable.Add(name);
            }
        }

        public async Task AddAsync(string name, ReadOnlyMemory<byte> bytes)
        {
            ZipArchiveEntry entry = _archive.CreateEntry(name, CompressionLevel.Fastest);
            entry.LastWriteTime = _stamp;
            using (Stream stream = entry.Open())
            {
                stream.Write(bytes.Span);
            }

            if (name != BundleLayout.Manifest)
            {
                Files.Add(new(name, bytes.Length, Convert.ToHexStringLower(SHA256.HashData(bytes.Span))));
            }

            await _spool.HandOnAsync(_target, _cancellation).ConfigureAwait(false);
        }

        /// <summary>Writes the directory of the archive.</summary>
        public async Task EndAsync()
        {
            _archive.Dispose();
            await _spool.HandOnAsync(_target, _cancellation).ConfigureAwait(false);
        }

        public void Dispose()
        {
            _archive.Dispose();
            _spool.Dispose();
        }
    }
}
