using System.Globalization;
using System.Text.Json.Serialization;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.Win32.SafeHandles;

namespace Diagnostics.Agent.Captures;

/// <summary>Frames that were kept.</summary>
/// <param name="Time">The moment they are about.</param>
/// <param name="Why">A finding's key, or the note of a mark.</param>
/// <param name="IsMark">A person asked for it.</param>
/// <param name="File">Name of the file; null = nothing was heard around it, it couldn't be written, or it had to make room.</param>
/// <param name="Bytes">Its size.</param>
internal sealed record Capture(Instant Time, string Why, bool IsMark, string? File, long Bytes)
{
    /// <summary>What <see cref="Why"/> is made from; null for a person's words, and in logs of an older version.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? WhyWording { get; init; }

    /// <summary>The note of a mark.</summary>
    [JsonIgnore]
    public Sentence WhySaid => WhyWording ?? Wordings.Named(Why);

    /// <summary>What the bus did around it; null for findings, which have evidence of their own.</summary>
    public Story? Story { get; init; }

    /// <summary>What was added to its time: stamps in its file are those of the line. Not stored; the log knows it.</summary>
    [JsonIgnore]
    public TimeSpan WallMinusLine { get; init; }

    public static Capture Of(CaptureRequest request, string? file, long bytes) =>
        new(request.Time, request.Why, request.IsMark, file, bytes) { WhyWording = request.WhyWording, Story = request.Story };
}

/// <summary>The directory of kept frames, with a budget: the oldest files go. Names are made here and checked here, so that no request can name another file.</summary>
internal sealed class CaptureFiles(string directory, long budgetBytes)
{
    public const string Suffix = ".pcapng";

    /// <summary>In the directory of the log.</summary>
    public const string Folder = "captures";

    /// <summary>One capture of a saturated bus: half a minute.</summary>
    public const int MostBytes = 4 << 20;

    /// <exception cref="IOException">The disk is full or fails.</exception>
    /// <exception cref="UnauthorizedAccessException">The directory can't be written.</exception>
    public Capture Write(CaptureRequest request, byte[]? frames)
    {
        if (frames is null)
        {
            return Capture.Of(request, null, 0);
        }

        Directory.CreateDirectory(directory);
        string stamp = request.Time.WholeSecond.ToString().TrimEnd('Z').Replace(":", "", StringComparison.Ordinal).Replace("-", "", StringComparison.Ordinal);
        string name = stamp + Suffix;
        for (int attempt = 2; File.Exists(Path.Combine(directory, name)); attempt++)
        {
            name = stamp + "-" + attempt.ToString(CultureInfo.InvariantCulture) + Suffix;
        }

        DateTime newest = MakeRoom(frames.Length);
        string path = Path.Combine(directory, name);
        try
        {
            using (SafeFileHandle file = File.OpenHandle(path + ".new", FileMode.Create, FileAccess.Write))
            {
                RandomAccess.Write(file, frames, 0);
                RandomAccess.FlushToDisk(file);
            }

            // The board's clock may have stepped back: what is written last must still be the last to go.
            if (File.GetLastWriteTimeUtc(path + ".new") <= newest)
            {
                File.SetLastWriteTimeUtc(path + ".new", newest + TimeSpan.FromMilliseconds(1));
            }

            File.Move(path + ".new", path);
        }
        catch
        {
            File.Delete(path + ".new");
            throw;
        }

        return Capture.Of(request, name, frames.Length);
    }

    /// <summary>Names of all files that are there, the latest first.</summary>
    public IReadOnlyList<string> Names() => !Directory.Exists(directory)
        ? []
        : [.. new DirectoryInfo(directory).GetFiles("*" + Suffix).Where(file => PathOf(file.Name) is not null).OrderByDescending(file => file.LastWriteTimeUtc).ThenByDescending(file => file.Name, StringComparer.Ordinal).Select(file => file.Name)];

    /// <summary>The file of a name that was given from outside; null where there is none.</summary>
    public string? PathOf(string name) =>
        name.EndsWith(Suffix, StringComparison.Ordinal) && name.All(letter => char.IsAsciiLetterOrDigit(letter) || letter is '-' or '.') && !name.Contains("..", StringComparison.Ordinal)
        && Path.Combine(directory, name) is var path && new FileInfo(path) is { Exists: true, LinkTarget: null }
            ? path
            : null;

    /// <returns>When the newest was written.</returns>
    private DateTime MakeRoom(long bytes)
    {
        // With those that a power cut left unfinished.
        FileInfo[] files = [.. new DirectoryInfo(directory).GetFiles("*" + Suffix + "*").OrderBy(file => file.LastWriteTimeUtc).ThenBy(file => file.Name, StringComparer.Ordinal)];
        long used = files.Sum(file => file.Length);
        foreach (FileInfo file in files)
        {
            if (used + bytes <= budgetBytes)
            {
                break;
            }

            used -= file.Length;
            file.Delete();
        }

        return files is [.., { } newest] ? newest.LastWriteTimeUtc : DateTime.MinValue;
    }
}
