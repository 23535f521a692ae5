using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.AsBuilt;

/// <summary>The as-built record as text: its encoding, its syntax, and where in it a byte stands.</summary>
internal static class AsBuiltText
{
    public const string Root = "$";

    public static AsBuiltError? CheckEncoding(ReadOnlySpan<byte> utf8)
    {
        if (utf8.Length > AsBuiltLimits.Bytes)
        {
            return new(
                1,
                1,
                Root,
                Say($"the file has {utf8.Length} bytes"),
                Say($"an as-built record may have {AsBuiltLimits.Bytes} at most"));
        }

        int place = 0;
        while (place < utf8.Length)
        {
            if (Rune.DecodeFromUtf8(utf8[place..], out _, out int length) != OperationStatus.Done)
            {
                (int line, int column) = PlaceOf(utf8, place);
                return new(line, column, Root, Say($"the text is not UTF-8"), Say($"save the file with the encoding UTF-8"));
            }

            place += length;
        }

        return null;
    }

    /// <summary>Goes through the whole text once, so that the walk below can rely on its syntax, and looks for the schema first of all.</summary>
    public static bool TryCheckSyntax(ReadOnlySpan<byte> text, out AsBuiltError? error)
    {
        error = null;
        Utf8JsonReader json = new(text);
        try
        {
            json.Read();
            if (json.TokenType != JsonTokenType.StartObject)
            {
                error = At(text, 0, Root, Say($"the document is no object"), Say($"start it with {{ \"schema\": 1, …"));
                return false;
            }

            bool isFound = false;
            while (json.Read())
            {
                if (json.CurrentDepth != 1 || json.TokenType != JsonTokenType.PropertyName || !json.ValueTextEquals("schema"u8))
                {
                    continue;
                }

                json.Read();
                isFound = true;
                if (error is null && (json.TokenType != JsonTokenType.Number || !json.TryGetInt32(out int schema) || schema != 1))
                {
                    error = At(text, json.TokenStartIndex, "$.schema", Say($"this schema is not known"), Say($"only 1 can be read: write \"schema\": 1"));
                }
            }

            if (!isFound)
            {
                error = At(text, 0, "$.schema", Say($"the schema is missing"), Say($"write \"schema\": 1 as the first member"));
            }

            return error is null;
        }
        catch (JsonException broken)
        {
            long offset = OffsetOf(text, broken.LineNumber ?? 0, broken.BytePositionInLine ?? 0);
            error = At(text, offset, Root, Say($"this is not JSON"), Say($"look for a missing or superfluous comma, quote or bracket just before this place"));
            return false;
        }
    }

    private static long OffsetOf(ReadOnlySpan<byte> text, long line, long byteInLine)
    {
        int start = 0;
        for (; line > 0; line--)
        {
            int end = text[start..].IndexOf((byte)'\n');
            if (end < 0)
            {
                break;
            }

            start += end + 1;
        }

        return Math.Min(start + byteInLine, text.Length);
    }

    public static AsBuiltError At(ReadOnlySpan<byte> text, long offset, string path, Sentence problem, Sentence remedy)
    {
        (int line, int column) = PlaceOf(text, offset);
        return new(line, column, path, problem, remedy);
    }

    /// <summary>1-based; columns count characters, not bytes.</summary>
    public static (int Line, int Column) PlaceOf(ReadOnlySpan<byte> text, long offset)
    {
        ReadOnlySpan<byte> before = text[..(int)Math.Min(offset, text.Length)];
        ReadOnlySpan<byte> line = before[(before.LastIndexOf((byte)'\n') + 1)..];
        return (before.Count((byte)'\n') + 1, Encoding.UTF8.GetCharCount(line) + 1);
    }
}
