using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History.Store;
using Diagnostics.Agent.Records;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Names inside a bundle. It holds the files of a log directory, the index left out, in folders that a person understands:
/// <c>manifest.json</c>, <c>README.txt</c>, <c>report.json</c>, <c>settings.json</c>, <c>site.json</c>, <c>record/*.record</c>, <c>store/*.seg</c>,
/// <c>captures/*.pcapng</c>.
/// </summary>
internal static class BundleLayout
{
    public const string Manifest = "manifest.json";
    public const string Readme = "README.txt";
    public const string StoreFolder = "store/";
    public const string CaptureFolder = CaptureFiles.Folder + "/";

    /// <summary>Versions of the as-built record.</summary>
    public const string RecordFolder = RecordBook.Folder + "/";

    private const int LongestName = 100;

    /// <summary>Files that a log directory holds under the same name.</summary>
    public static readonly IReadOnlyList<string> Documents = [KeptDocuments.Report, KeptDocuments.Settings, KeptDocuments.Site];

    /// <summary>
    /// A name that can't lead anywhere: letters, digits, dash, dot and underscore, in at most one folder, and none that begins with a dot. Files that this version
    /// doesn't know may have such names as well.
    /// </summary>
    public static bool IsSafe(string name)
    {
        string[] parts = name.Split('/');
        return name.Length <= LongestName && parts.Length <= 2 && Array.TrueForAll(
            parts, part => part.Length > 0 && part[0] != '.' && part.All(letter => char.IsAsciiLetterOrDigit(letter) || letter is '-' or '.' or '_'));
    }

    /// <summary>Where a file of a bundle lies in a log directory; null where it is no part of a log.</summary>
    public static string? PlaceOf(string name) =>
        Documents.Contains(name) || (name.StartsWith(CaptureFolder, StringComparison.Ordinal) && name.EndsWith(CaptureFiles.Suffix, StringComparison.Ordinal))
            || (name.StartsWith(RecordFolder, StringComparison.Ordinal) && name.EndsWith(RecordBook.Suffix, StringComparison.Ordinal)) ? name
        : name.StartsWith(StoreFolder, StringComparison.Ordinal) && name.EndsWith(RecordStore.Suffix, StringComparison.Ordinal) ? name[StoreFolder.Length..]
        : null;

    /// <summary>Longest content of a file, bytes.</summary>
    public static long MostBytes(string name) => name switch
    {
        Manifest => Limits.BundleManifestBytes,
        KeptDocuments.Report => Limits.ReportBytes,
        KeptDocuments.Settings or KeptDocuments.Site or Readme => Limits.ConfigurationBytes,
        _ => DiskStoreFiles.LongestFile,
    };
}
