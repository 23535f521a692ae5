using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>Reads the as-built record from a file; what it may hold is <see cref="AsBuiltReader"/>'s business.</summary>
internal static class AsBuiltFile
{
    /// <param name="path">The file.</param>
    /// <param name="which">How messages name the setting.</param>
    /// <returns>The record, whole sentences on what its author may not have meant, and the text as it stands in the file.</returns>
    /// <exception cref="SettingException">The file can't be used; the message has line and column where the content is at fault.</exception>
    public static (AsBuiltRecord Record, IReadOnlyList<Sentence> Remarks, byte[] Text) Read(string path, string which)
    {
        byte[] text;
        try
        {
            // What is too long is told by the reader, which knows its own, smaller limit.
            text = BoundedFile.Read(path, Limits.ConfigurationBytes);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            string why = problem is NotAFileException ? problem.Message : problem is FileNotFoundException or DirectoryNotFoundException ? "there is no such file" : $"it can't be read ({problem.Message.TrimEnd('.')})";
            throw new SettingException(which, $"'{path}': {why}", "name an as-built record that this user may read");
        }

        return AsBuiltReader.TryRead(text, out AsBuiltRecord? record, out AsBuiltError? error, out IReadOnlyList<AsBuiltRemark> remarks)
            ? (record!, [.. remarks.Select(remark => remark.Said)], text)
            : throw new SettingException(which, $"'{path}', line {error!.Line}, column {error.Column}, at {error.Path}: {error.Problem.English}", error.Remedy.English);
    }
}
