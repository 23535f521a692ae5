using Diagnostics.Agent.Buses;
using Diagnostics.Agent.History.Store;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Puts a bundle where it is wanted: written under another name, flushed, checked, given its name without taking another's, and its directory flushed. So a stick that is pulled
/// or full never holds half a bundle that looks like one.
/// </summary>
internal static class BundleFileWriter
{
    /// <param name="place">A directory, or the file to be.</param>
    /// <param name="write">Writes the bundle.</param>
    /// <param name="cancellation">Gives it up.</param>
    /// <returns>The file, and what is in it.</returns>
    /// <exception cref="SettingException">It can't be written there; nothing is left of it.</exception>
    public static async Task<(string Path, BundleManifest Manifest)> WriteAsync(string place, Func<Stream, CancellationToken, Task> write, CancellationToken cancellation)
    {
        bool isDirectory = Directory.Exists(place);
        string directory = isDirectory ? place : Path.GetDirectoryName(place)!;
        if (!isDirectory)
        {
            if (!Directory.Exists(directory))
            {
                throw new SettingException("--to", $"there is no directory '{directory}'", "name one that is there; a stick must be mounted first");
            }

            RefuseTaken(place);
        }

        string unfinished = Path.Combine(directory, $".bundle-{Path.GetRandomFileName()}.part");
        try
        {
            try
            {
                FileStream file = new(unfinished, FileMode.CreateNew, FileAccess.Write, FileShare.Read);
                await using (file.ConfigureAwait(false))
                {
                    await write(file, cancellation).ConfigureAwait(false);
                    file.Flush(flushToDisk: true);
                }

                BundleManifest manifest = BundleReader.Check(unfinished);
                cancellation.ThrowIfCancellationRequested();
                string path = isDirectory ? FreeName(directory, BundleWriter.FileNameOf(manifest.Site, manifest.Made)) : place;
                RefuseTaken(path);
                File.Move(unfinished, path);
                FlushDirectory(directory, path);
                return (path, manifest);
            }
            finally
            {
                Remove(unfinished);
            }
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            throw new SettingException("--to", $"nothing can be written in '{directory}' ({problem.Message.TrimEnd('.')})", "free space there, or name another place");
        }
    }

    /// <summary>Some file systems of sticks can't flush a directory by itself; they write it with the file.</summary>
    private static void FlushDirectory(string directory, string path)
    {
        const int NotSupportedHere = 22;
        try
        {
            DiskStoreFiles.FlushDirectory(directory);
        }
        catch (SystemCallException problem) when (problem.ErrorNumber == NotSupportedHere)
        {
        }
        catch (IOException problem)
        {
            throw new SettingException("--to", $"'{path}' was written, but may not be there for good ({problem.Message.TrimEnd('.')})", "look whether it is there, and write it anew if not");
        }
    }

    /// <summary>Where a stick was pulled there is nothing to remove, and the reason is told already.</summary>
    private static void Remove(string unfinished)
    {
        try
        {
            File.Delete(unfinished);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
        }
    }

    private static void RefuseTaken(string path)
    {
        if (Path.Exists(path))
        {
            throw new SettingException("--to", $"there is a '{path}' already, and nothing is written over", "name another file, or a directory");
        }
    }

    private static string FreeName(string directory, string name)
    {
        string path = Path.Combine(directory, name);
        for (int attempt = 2; Path.Exists(path); attempt++)
        {
            path = Path.Combine(directory, $"{Path.GetFileNameWithoutExtension(name)}-{attempt}{Path.GetExtension(name)}");
        }

        return path;
    }
}
