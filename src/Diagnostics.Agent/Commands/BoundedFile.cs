namespace Diagnostics.Agent.Commands;

/// <summary>
/// Reads what a person named as a file. A pipe or a device is refused before it is opened, as it may be waited for for ever; and a file of the kernel may say
/// nothing of its length, so the bytes are counted as they come.
/// </summary>
internal static class BoundedFile
{
    /// <summary>The whole content, or where it is longer than <paramref name="limit"/> bytes its first <paramref name="limit"/> + 1.</summary>
    /// <exception cref="NotAFileException">It is something else.</exception>
    /// <exception cref="IOException">It can't be read.</exception>
    /// <exception cref="UnauthorizedAccessException">This user may not read it.</exception>
    public static byte[] Read(string path, int limit)
    {
        if (FileKind.Oddity(path) is { } oddity)
        {
            throw new NotAFileException(oddity);
        }

        using FileStream file = new(path, FileMode.Open, FileAccess.Read);
        using MemoryStream content = new();
        byte[] piece = new byte[64 * 1024];
        int read;
        while (content.Length <= limit && (read = file.Read(piece, 0, (int)Math.Min(piece.Length, limit + 1 - content.Length))) > 0)
        {
            content.Write(piece, 0, read);
        }

        return content.ToArray();
    }
}
