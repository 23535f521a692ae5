namespace Diagnostics.Agent.Bundles;

/// <summary>A bundle that can be made now; there is no other until this is disposed.</summary>
internal sealed class LiveBundle(BundleContent content, Action free) : IDisposable
{
    /// <summary>The name that a browser gives its file.</summary>
    public string FileName => BundleWriter.FileNameOf(BundleWriter.SiteOf(content), content.Made);

    /// <inheritdoc cref="BundleWriter.WriteAsync"/>
    public Task<BundleManifest> WriteAsync(Stream target, CancellationToken cancellation) => BundleWriter.WriteAsync(target, content, cancellation);

    public void Dispose() => free();
}
