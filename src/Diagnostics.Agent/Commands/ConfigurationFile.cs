using System.Text.Json;

namespace Diagnostics.Agent.Commands;

/// <summary>Reads a JSON object that a person wrote: comments and trailing commas are allowed, and what is wrong is told with its line.</summary>
internal static class ConfigurationFile
{
    private static readonly JsonDocumentOptions Lenient = new()
    {
        CommentHandling = JsonCommentHandling.Skip,
        AllowTrailingCommas = true,
        MaxDepth = 32,
    };

    /// <param name="path">The file.</param>
    /// <param name="which">How messages name it.</param>
    /// <exception cref="SettingException">It can't be read or is no JSON object.</exception>
    public static JsonDocument ReadObject(string path, string which)
    {
        byte[] bytes;
        try
        {
            bytes = BoundedFile.Read(path, Limits.ConfigurationBytes);
        }
        catch (NotAFileException problem)
        {
            throw new SettingException(which, $"'{path}': {problem.Message}", "name an ordinary file");
        }
        catch (Exception problem) when (problem is FileNotFoundException or DirectoryNotFoundException)
        {
            throw new SettingException(which, $"there is no file '{path}'", "check the path");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new SettingException(which, $"'{path}' can't be read ({problem.Message.TrimEnd('.')})", "check that this user may read it");
        }

        if (bytes.Length > Limits.ConfigurationBytes)
        {
            throw new SettingException(which, $"the file has more than {Limits.ConfigurationBytes} bytes, which is the limit", "check that it is the right file");
        }

        JsonDocument document;
        try
        {
            ReadOnlyMemory<byte> text = bytes.AsSpan().StartsWith("\uFEFF"u8) ? bytes.AsMemory(3) : bytes;
            document = JsonDocument.Parse(text, Lenient);
        }
        catch (JsonException problem)
        {
            throw new SettingException(which, $"'{path}' is no valid JSON at line {(problem.LineNumber ?? 0) + 1}", "correct that line");
        }

        if (document.RootElement.ValueKind != JsonValueKind.Object)
        {
            document.Dispose();
            throw new SettingException(which, $"'{path}' holds no JSON object", "let it begin with { and end with }");
        }

        return document;
    }
}
