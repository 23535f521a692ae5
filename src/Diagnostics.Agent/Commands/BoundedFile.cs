namespace Diagnostics.Agent.Commands;

/// <summary>Reads what a person named as a file. A pipe or a device may say nothing of its length and never end, so the bytes are counted as they come.</summary>
internal static class BoundedFile
{
    /// <summary>The whole content, or where it is longer than <paramref name="limit"/> bytes its first <paramref name="limit"/> + 1.</summary>
    /// <exception cref="IOException">It can't be read.</exception>
    /// <exception cref="UnauthorizedAccessException">It is a directory, or this user may not read it.</exception>
    public static byte[] Read(string path, int limit)
    {
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
