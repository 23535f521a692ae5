using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Bundles;

/// <summary>A bundle that was found whole and unpacked.</summary>
/// <param name="Directory">A log directory without an index: its store, its kept frames, its documents. <c>StoredHistory.OpenReadOnly</c> reads it.</param>
/// <param name="Manifest">What the bundle says of itself.</param>
/// <param name="Report">The report document; null where the log had none yet.</param>
internal sealed record ExtractedBundle(string Directory, BundleManifest Manifest, Report? Report);
