using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Diagnostics.Can;

/// <summary>ISO 8601 UTC with up to nine decimals.</summary>
public sealed class InstantConverter : JsonConverter<Instant>
{
    public override Instant Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options)
    {
        string text = reader.GetString() ?? throw new JsonException("A time is missing.");
        int point = text.IndexOf('.', StringComparison.Ordinal);
        string whole = point < 0 ? text : text[..point] + "Z";
        if (!DateTimeOffset.TryParse(whole, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out DateTimeOffset seconds))
        {
            throw new JsonException($"'{text}' is no ISO 8601 UTC time.");
        }

        long fraction = 0;
        string decimals = point < 0 ? "0" : text[(point + 1)..].TrimEnd('Z');
        if (decimals.Length is < 1 or > 9 || !long.TryParse(decimals.PadRight(9, '0'), NumberStyles.None, CultureInfo.InvariantCulture, out fraction))
        {
            throw new JsonException($"'{text}' is no ISO 8601 UTC time.");
        }

        long nanoseconds = Instant.FromDateTime(seconds).Nanoseconds;
        return new(nanoseconds > 0 ? nanoseconds + Math.Min(fraction, long.MaxValue - nanoseconds) : nanoseconds + fraction);
    }

    public override void Write(Utf8JsonWriter writer, Instant value, JsonSerializerOptions options) => writer.WriteStringValue(value.ToString());
}
