using System.Buffers;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Agent.Records;

/// <summary>
/// A version as a file: a line with the SHA-256 of all that follows, a line of JSON that says which version it is, then the record itself, as a person may read it.
/// <code>
/// sha256 9f86d081884c7d65…
/// {"format":1,"number":4,"made":"2026-11-26T11:12:35Z","origin":"Edited","from":null,"basis":"60303ae2…"}
/// { "schema": 1, …
/// </code>
/// </summary>
internal static class RecordVersionFormat
{
    private const int Format = 1;
    private const string Made = "yyyy-MM-ddTHH:mm:ssZ";
    private const int DigestDigits = 64;
    private static readonly byte[] Mark = Encoding.ASCII.GetBytes("sha256 ");

    public static byte[] Write(RecordVersion version, byte[] record)
    {
        ArrayBufferWriter<byte> head = new();
        using (Utf8JsonWriter json = new(head))
        {
            json.WriteStartObject();
            json.WriteNumber("format"u8, Format);
            json.WriteNumber("number"u8, version.Number);
            json.WriteString("made"u8, version.Made.WholeSecond.ToString());
            json.WriteString("origin"u8, version.Origin.ToString());
            if (version.From is int from)
            {
                json.WriteNumber("from"u8, from);
            }

            if (version.Basis is { } basis)
            {
                json.WriteString("basis"u8, basis);
            }

            json.WriteEndObject();
        }

        byte[] rest = [.. head.WrittenSpan, (byte)'\n', .. record];
        return [.. Mark, .. Encoding.ASCII.GetBytes(Convert.ToHexStringLower(SHA256.HashData(rest))), (byte)'\n', .. rest];
    }

    /// <summary>False where the file isn't whole, or holds no record that this version of the program can read; never throws for any content.</summary>
    public static bool TryRead(byte[] file, out RecordVersion? version, out AsBuiltRecord? record, out byte[] text)
    {
        version = null;
        record = null;
        text = [];
        int first = Mark.Length + DigestDigits;
        if (file.Length <= first || !file.AsSpan().StartsWith(Mark) || file[first] != (byte)'\n')
        {
            return false;
        }

        ReadOnlySpan<byte> rest = file.AsSpan(first + 1);
        if (Encoding.ASCII.GetString(file, Mark.Length, DigestDigits) != Convert.ToHexStringLower(SHA256.HashData(rest)) || rest.IndexOf((byte)'\n') is not (> 0 and int end))
        {
            return false;
        }

        text = rest[(end + 1)..].ToArray();
        return TryHead(rest[..end], out version) && AsBuiltReader.TryRead(text, out record, out _);
    }

    private static bool TryHead(ReadOnlySpan<byte> line, out RecordVersion? version)
    {
        version = null;
        try
        {
            using JsonDocument document = JsonDocument.Parse(line.ToArray());
            JsonElement head = document.RootElement;
            if (head.GetProperty("format").GetInt32() != Format
                || !Enum.TryParse(head.GetProperty("origin").GetString(), out RecordOrigin origin)
                || !Enum.IsDefined(origin)
                || !DateTimeOffset.TryParseExact(
                    head.GetProperty("made").GetString(), Made, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal, out DateTimeOffset made))
            {
                return false;
            }

            version = new(
                head.GetProperty("number").GetInt32(),
                Instant.FromDateTime(made),
                origin,
                head.TryGetProperty("from", out JsonElement from) ? from.GetInt32() : null,
                head.TryGetProperty("basis", out JsonElement basis) ? basis.GetString() : null);
            return true;
        }
        catch (Exception problem) when (problem is JsonException or InvalidOperationException or FormatException or KeyNotFoundException or OverflowException or ArgumentException)
        {
            return false;
        }
    }
}
