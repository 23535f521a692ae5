using System.Text.Json;
using Diagnostics.Core;

namespace Diagnostics.Agent.Commands;

/// <summary>Reads a JSON object that a person wrote: comments and trailing commas are allowed, and what is wrong is told with line and column.</summary>
internal static class ConfigurationFile
{
    private static readonly JsonReaderOptions Lenient = new()
    {
        CommentHandling = JsonCommentHandling.Skip,
        AllowTrailingCommas = true,
        MaxDepth = 32,
    };

    /// <param name="path">The file.</param>
    /// <param name="which">How messages name it.</param>
    /// <exception cref="SettingException">It can't be read or is no JSON object.</exception>
    public static ConfigurationObject ReadObject(string path, string which)
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

        return Parse(bytes, path, which);
    }

    /// <param name="utf8">What stands in the file; kept, as places in it are sought when they are told.</param>
    /// <param name="path">How messages name it where they are about one setting.</param>
    /// <param name="which">How messages name it as a whole.</param>
    /// <exception cref="SettingException">It is no JSON object.</exception>
    public static ConfigurationObject Parse(ReadOnlyMemory<byte> utf8, string path, string which)
    {
        ConfigurationText file = new(utf8.Span.StartsWith("\uFEFF"u8) ? utf8[3..] : utf8, path);
        ReadOnlySpan<byte> text = file.Utf8.Span;
        CheckSyntax(text, which);
        Utf8JsonReader json = new(text, Lenient);
        json.Read();
        return json.TokenType == JsonTokenType.StartObject
            ? Object(file, ref json, string.Empty)
            : throw new SettingException($"{which}, {TextPlace.Of(text, json.TokenStartIndex)}", "this is no JSON object", "let it begin with { and end with }");
    }

    /// <summary>Goes through the whole text once, so that what comes behind can rely on its syntax and on each text in it.</summary>
    private static void CheckSyntax(ReadOnlySpan<byte> text, string which)
    {
        if (text.Trim(" \t\r\n"u8).IsEmpty)
        {
            throw new SettingException(which, "the file is empty", "begin with the sample settings, or write { } where nothing is to be set");
        }

        if (TextPlace.NotUtf8(text) is { } odd)
        {
            throw new SettingException($"{which}, {odd}", "the text is not UTF-8", "save the file with the encoding UTF-8");
        }

        Utf8JsonReader json = new(text, Lenient);
        try
        {
            while (json.Read())
            {
                if (json.TokenType is JsonTokenType.PropertyName or JsonTokenType.String)
                {
                    json.GetString();
                }
            }
        }
        catch (JsonException broken)
        {
            throw new SettingException($"{which}, {TextPlace.Of(text, broken)}", "this is not JSON", "look for a missing or superfluous comma, quote or bracket just before this place");
        }
        catch (InvalidOperationException)
        {
            throw new SettingException($"{which}, {TextPlace.Of(text, json.TokenStartIndex)}", "half a character is escaped here", "write \\u escapes of one character as a whole pair");
        }
    }

    /// <summary>The object that the reader stands at.</summary>
    private static ConfigurationObject Object(ConfigurationText text, ref Utf8JsonReader json, string name)
    {
        long offset = json.TokenStartIndex;
        List<ConfigurationMember> members = [];
        HashSet<string> seen = new(StringComparer.Ordinal);
        while (json.Read() && json.TokenType == JsonTokenType.PropertyName)
        {
            string member = json.GetString()!;
            string whole = name.Length == 0 ? member : $"{name}.{member}";
            long nameOffset = json.TokenStartIndex;
            if (!seen.Add(member))
            {
                throw new SettingException($"{whole} (from {text.PlaceOf(nameOffset)})", "the setting stands there twice", "remove one of them");
            }

            json.Read();
            long valueOffset = json.TokenStartIndex;
            members.Add(json.TokenType == JsonTokenType.StartObject
                ? new(member, whole, text, nameOffset, valueOffset, default, Object(text, ref json, whole))
                : new(member, whole, text, nameOffset, valueOffset, JsonElement.ParseValue(ref json), null));
        }

        return new(name, text, offset, members);
    }
}
