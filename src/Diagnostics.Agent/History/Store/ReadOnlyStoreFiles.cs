namespace Diagnostics.Agent.History.Store;

/// <summary>A directory that is looked at and never changed: what recovery would repair, remove or set aside stays as it is.</summary>
internal sealed class ReadOnlyStoreFiles(IStoreFiles files) : IStoreFiles
{
    public bool IsReadOnly => true;

    public IReadOnlyList<string> List() => files.List();

    public byte[] Read(string name) => files.Read(name);

    public IStoreFile Create(string name, ReadOnlySpan<byte> content) => throw new InvalidOperationException("This directory is only read.");

    public IStoreFile Open(string name) => new Untouched();

    public void Rename(string name, string other)
    {
    }

    public void Replace(string name, ReadOnlySpan<byte> bytes) => throw new InvalidOperationException("This directory is only read.");

    public void Delete(string name)
    {
    }

    /// <summary>Takes the repairs of recovery and keeps none.</summary>
    private sealed class Untouched : IStoreFile
    {
        public void Write(int position, ReadOnlySpan<byte> bytes)
        {
        }

        public void Flush()
        {
        }

        public void Dispose()
        {
        }
    }
}
