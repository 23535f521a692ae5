using System.Text.Json;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.AsBuilt;

/// <summary>The as-built record as text: its encoding and its syntax.</summary>
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

        if (TextPlace.NotUtf8(utf8) is { } place)
        {
            return new(place.Line, place.Column, Root, Say($"the text is not UTF-8"), Say($"save the file with the encoding UTF-8"));
        }

        return null;
    }

    /// <summary>Goes through the whole text once, so that the walk below can rely on its syntax, and looks for the schema first of all.</summary>
    public static bool TryCheckSyntax(ReadOnlySpan<byte> text, out AsBuiltError? error)
    {
        error = null;
        if (text.Trim(" \t\r\n"u8).IsEmpty)
        {
            error = At(text, 0, Root, Say($"there is nothing in it"), Say($"start it with {{ \"schema\": 1, …"));
            return false;
        }

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
            (int line, int column) = TextPlace.Of(text, broken);
            error = new(line, column, Root, Say($"this is not JSON"), Say($"look for a missing or superfluous comma, quote or bracket just before this place"));
            return false;
        }
    }

    public static AsBuiltError At(ReadOnlySpan<byte> text, long offset, string path, Sentence problem, Sentence remedy)
    {
        (int line, int column) = TextPlace.Of(text, offset);
        return new(line, column, path, problem, remedy);
    }
}
