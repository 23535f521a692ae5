using System.Buffers;
using System.Globalization;
using System.Text;
using System.Text.Json;

namespace Diagnostics.Core;

/// <summary>Where a byte of a text stands, as an editor says it: both are counted from 1, and columns count characters, not bytes.</summary>
public readonly record struct TextPlace(int Line, int Column)
{
    public static TextPlace Of(ReadOnlySpan<byte> utf8, long offset)
    {
        ReadOnlySpan<byte> before = utf8[..(int)Math.Min(offset, utf8.Length)];
        ReadOnlySpan<byte> line = before[(before.LastIndexOf((byte)'\n') + 1)..];
        return new(before.Count((byte)'\n') + 1, Encoding.UTF8.GetCharCount(line) + 1);
    }

    /// <summary>Where a reader of JSON gave up.</summary>
    public static TextPlace Of(ReadOnlySpan<byte> utf8, JsonException broken)
    {
        int start = 0;
        for (long line = broken.LineNumber ?? 0; line > 0 && utf8[start..].IndexOf((byte)'\n') is >= 0 and int end; line--)
        {
            start += end + 1;
        }

        return Of(utf8, start + (broken.BytePositionInLine ?? 0));
    }

    /// <summary>The first byte that is no UTF-8; null where all is.</summary>
    public static TextPlace? NotUtf8(ReadOnlySpan<byte> utf8)
    {
        int offset = 0;
        while (offset < utf8.Length)
        {
            if (Rune.DecodeFromUtf8(utf8[offset..], out _, out int length) != OperationStatus.Done)
            {
                return Of(utf8, offset);
            }

            offset += length;
        }

        return null;
    }

    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"line {Line}, column {Column}");
}
