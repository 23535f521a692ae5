using System.Runtime.InteropServices;
using Diagnostics.Agent.Buses;
using Microsoft.Win32.SafeHandles;

namespace Diagnostics.Agent.History.Store;

/// <summary>A directory of a real file system. Flushing is fdatasync: with files filled beforehand nothing but the data has to go to the card.</summary>
internal sealed partial class DiskStoreFiles : IStoreFiles
{
    /// <summary>Sixteen segments; whatever is longer is somebody else's.</summary>
    public const long LongestFile = 16L << 20;

    private const string Unfinished = ".new";

    private readonly string _directory;

    /// <exception cref="IOException">The directory can't be made.</exception>
    public DiskStoreFiles(string directory)
    {
        _directory = directory;
        if (!Directory.Exists(directory))
        {
            Directory.CreateDirectory(directory);
            FlushDirectory(Path.GetDirectoryName(Path.GetFullPath(directory)) ?? "/");
        }
    }

    public IReadOnlyList<string> List() => [.. new DirectoryInfo(_directory).EnumerateFiles()
        .Where(file => file.LinkTarget is null && file.Length <= LongestFile).Select(file => file.Name).Where(name => !name.EndsWith(Unfinished, StringComparison.Ordinal))];

    /// <summary>A pipe is as long as an empty file, and reading it would never end.</summary>
    public byte[] Read(string name) => new FileInfo(PathOf(name)).Length == 0 ? [] : File.ReadAllBytes(PathOf(name));

    public IStoreFile Create(string name, ReadOnlySpan<byte> content)
    {
        // Where somebody removed it while this runs.
        Directory.CreateDirectory(_directory);
        SafeFileHandle handle = File.OpenHandle(PathOf(name), FileMode.Create, FileAccess.Write, FileShare.Read);
        try
        {
            RandomAccess.Write(handle, content, 0);
            RandomAccess.FlushToDisk(handle);
            FlushDirectory(_directory);
            return new DiskStoreFile(handle, PathOf(name));
        }
        catch
        {
            // On a full disk the part that was written would take up what the rest needs.
            handle.Dispose();
            File.Delete(PathOf(name));
            throw;
        }
    }

    public IStoreFile Open(string name) => new DiskStoreFile(File.OpenHandle(PathOf(name), FileMode.Open, FileAccess.Write, FileShare.Read), PathOf(name));

    public void Rename(string name, string other)
    {
        File.Move(PathOf(name), PathOf(other), overwrite: true);
        FlushDirectory(_directory);
    }

    public void Replace(string name, ReadOnlySpan<byte> bytes)
    {
        string fresh = PathOf(name + Unfinished);
        using (SafeFileHandle handle = File.OpenHandle(fresh, FileMode.Create, FileAccess.Write, FileShare.None))
        {
            RandomAccess.Write(handle, bytes, 0);
            RandomAccess.FlushToDisk(handle);
        }

        File.Move(fresh, PathOf(name), overwrite: true);
        FlushDirectory(_directory);
    }

    public void Delete(string name)
    {
        File.Delete(PathOf(name));
        FlushDirectory(_directory);
    }

    /// <summary>A name is safe only when its directory was flushed.</summary>
    /// <exception cref="SystemCallException">It can't be.</exception>
    public static void FlushDirectory(string directory)
    {
        const int CloseOnExecute = 0x80000;
        int descriptor = open(directory, CloseOnExecute);
        if (descriptor < 0)
        {
            throw new SystemCallException("open", directory, Marshal.GetLastPInvokeError());
        }

        using DescriptorHandle handle = new(descriptor);
        if (fsync(descriptor) != 0)
        {
            throw new SystemCallException("fsync", directory, Marshal.GetLastPInvokeError());
        }
    }

    private string PathOf(string name) => Path.Combine(_directory, name);

    [LibraryImport("libc", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int open(string path, int flags);

    [LibraryImport("libc", SetLastError = true)]
    private static partial int fsync(int descriptor);

    [LibraryImport("libc", SetLastError = true)]
    private static partial int fdatasync(int descriptor);

    private sealed class DiskStoreFile(SafeFileHandle handle, string path) : IStoreFile
    {
        public void Write(int position, ReadOnlySpan<byte> bytes) => RandomAccess.Write(handle, bytes, position);

        public void Flush()
        {
            bool held = false;
            try
            {
                handle.DangerousAddRef(ref held);
                if (fdatasync((int)handle.DangerousGetHandle()) != 0)
                {
                    throw new SystemCallException("fdatasync", path, Marshal.GetLastPInvokeError());
                }
            }
            finally
            {
                if (held)
                {
                    handle.DangerousRelease();
                }
            }

            // A removed file can be written on for ever, and nothing of it is kept.
            if (!File.Exists(path))
            {
                throw new FileNotFoundException($"'{path}' was removed", path);
            }
        }

        public void Dispose() => handle.Dispose();
    }
}
