using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Agent.Bundles;

/// <summary>What is in a bundle, for a terminal.</summary>
internal static class BundleWords
{
    /// <summary>One line; what comes from the bundle is cleaned.</summary>
    public static string Of(BundleManifest manifest)
    {
        int segments = manifest.Files.Count(file => file.Path.StartsWith(BundleLayout.StoreFolder, StringComparison.Ordinal));
        int captures = manifest.Files.Count(file => file.Path.StartsWith(BundleLayout.CaptureFolder, StringComparison.Ordinal));
        string span = manifest is { From: { } from, To: { } to } ? $", {Time(from)} to {Time(to)} UTC" : string.Empty;
        return SettingException.OneLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{manifest.Site ?? manifest.Source ?? "a log"}{span}; {(segments == 1 ? "one store file" : $"{segments} store files")}, {(captures == 1 ? "one file" : $"{captures} files")} of frames; made {Time(manifest.Made)} UTC by version {manifest.Program}"));
    }

    private static string Time(Instant time) => time.WholeSecond.ToString().TrimEnd('Z').Replace('T', ' ');
}
