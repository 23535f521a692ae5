namespace Diagnostics.Agent.History.Store;

/// <summary>
/// The few things that the store asks of a directory, so that a test can play every power cut between them. Failures are <see cref="IOException"/>
/// or <see cref="UnauthorizedAccessException"/>.
/// </summary>
internal interface IStoreFiles
{
    /// <summary>Changes are refused, and repairs not made.</summary>
    bool IsReadOnly => false;

    /// <summary>Names of all files short enough to be a segment or a mark, in no order.</summary>
    IReadOnlyList<string> List();

    byte[] Read(string name);

    /// <summary>Makes a file. It is on the disk, its name included, when this returns: what is written into it later changes neither its length nor its blocks.</summary>
    IStoreFile Create(string name, ReadOnlySpan<byte> content);

    /// <summary>A file that is there, to be written on.</summary>
    IStoreFile Open(string name);

    /// <summary>Another name, for good when this returns.</summary>
    void Rename(string name, string other);

    /// <summary>A small file that takes another's place whole or not at all, and is on the disk when this returns.</summary>
    void Replace(string name, ReadOnlySpan<byte> bytes);

    /// <summary>Removed for good when this returns; a file that isn't there is no failure.</summary>
    void Delete(string name);
}

/// <summary>A file that is being written.</summary>
internal interface IStoreFile : IDisposable
{
    void Write(int position, ReadOnlySpan<byte> bytes);

    /// <summary>Everything written is on the disk when this returns. If it fails, nothing more is known about what was written since the last time.</summary>
    void Flush();
}
