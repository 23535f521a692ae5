using System.IO.Compression;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Diagnostics.Agent.Bundles;

namespace Diagnostics.Tests.Bundles;

/// <summary>A bundle that is whole until something is done to it.</summary>
internal sealed class ForgedBundle
{
    /// <summary>Name and content of each file, in this order; the manifest is made from them.</summary>
    public List<(string Name, byte[] Content)> Files { get; } = [("report.json", Encoding.UTF8.GetBytes("{}")), ("store/events-0000000000000001.seg", new byte[100])];

    /// <summary>In the archive, and not in the manifest.</summary>
    public List<(string Name, byte[] Content)> Unlisted { get; } = [];

    public Func<BundleManifest, BundleManifest> Manifest { get; set; } = manifest => manifest;

    /// <summary>In place of the manifest.</summary>
    public byte[]? ManifestText { get; set; }

    public bool HasManifest { get; set; } = true;

    public Action<ZipArchiveEntry> OnEntry { get; set; } = _ => { };

    public byte[] ToBytes()
    {
        BundleManifest manifest = Manifest(new()
        {
            Format = BundleManifest.CurrentFormat,
            Made = new(0),
            Program = "0.0.0",
            Files = [.. Files.Select(file => new BundleFile(file.Name, file.Content.Length, Convert.ToHexStringLower(SHA256.HashData(file.Content))))],
        });
        using MemoryStream bytes = new();
        using (ZipArchive archive = new(bytes, ZipArchiveMode.Create, leaveOpen: true))
        {
            foreach ((string name, byte[] content) in Files.Concat(Unlisted))
            {
                Add(archive, name, content);
            }

            if (HasManifest)
            {
                Add(archive, "manifest.json", ManifestText ?? JsonSerializer.SerializeToUtf8Bytes(manifest, BundleJson.Default.BundleManifest));
            }
        }

        return bytes.ToArray();
    }

    private void Add(ZipArchive archive, string name, byte[] content)
    {
        ZipArchiveEntry entry = archive.CreateEntry(name, CompressionLevel.Optimal);
        OnEntry(entry);
        using Stream stream = entry.Open();
        stream.Write(content);
    }
}
