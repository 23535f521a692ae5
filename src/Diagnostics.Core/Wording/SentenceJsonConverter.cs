using System.Text.Json;
using System.Text.Json.Serialization;

namespace Diagnostics.Core.Wording;

/// <summary>
/// <c>{ "text": "{0} stopped.", "parameters": [ "door" | { "number": "3.5" } | { "text": …, "parameters": … } ] }</c>. Documents come from outside too
/// (a bundle, an older log): what isn't of this shape is refused as wrong JSON, and nesting is bounded.
/// </summary>
internal sealed class SentenceJsonConverter : JsonConverter<Sentence>
{
    /// <summary>Sentences within sentences: ours are a few deep, and a list of a thousand parts, which is pairs of halves, ten more. The JSON reader's own bound is near.</summary>
    private const int Deepest = 20;

    private const int MostParameters = 64;

    public override Sentence Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) => Read(ref reader, 0).Part ?? throw new JsonException("A sentence has a text.");

    private static SentenceParameter Read(ref Utf8JsonReader reader, int depth)
    {
        if (reader.TokenType == JsonTokenType.String)
        {
            return new(reader.GetString(), null, null);
        }

        if (reader.TokenType != JsonTokenType.StartObject || depth > Deepest)
        {
            throw new JsonException("A parameter is a text, a number or a sentence.");
        }

        string? text = null;
        string? number = null;
        List<SentenceParameter> parameters = [];
        while (reader.Read() && reader.TokenType == JsonTokenType.PropertyName)
        {
            bool isText = reader.ValueTextEquals("text"u8);
            bool isNumber = reader.ValueTextEquals("number"u8);
            bool isParameters = reader.ValueTextEquals("parameters"u8);
            reader.Read();
            if (isText || isNumber)
            {
                string? value = reader.TokenType == JsonTokenType.String ? reader.GetString() : throw new JsonException("A text was expected.");
                text = isText ? value : text;
                number = isNumber ? value : number;
            }
            else if (isParameters && reader.TokenType == JsonTokenType.StartArray)
            {
                while (reader.Read() && reader.TokenType != JsonTokenType.EndArray)
                {
                    parameters.Add(parameters.Count < MostParameters ? Read(ref reader, depth + 1) : throw new JsonException("Too many parameters."));
                }
            }
            else
            {
                reader.Skip();
            }
        }

        return number is not null ? new(null, number, null) : new(null, null, new(text ?? throw new JsonException("A sentence has a text."), parameters));
    }

    public override void Write(Utf8JsonWriter writer, Sentence value, JsonSerializerOptions options)
    {
        writer.WriteStartObject();
        writer.WriteString("text"u8, value.Template);
        if (value.Parameters.Count > 0)
        {
            writer.WriteStartArray("parameters"u8);
            foreach (SentenceParameter parameter in value.Parameters)
            {
                if (parameter.Part is { } part)
                {
                    Write(writer, part, options);
                }
                else if (parameter.Number is { } number)
                {
                    writer.WriteStartObject();
                    writer.WriteString("number"u8, number);
                    writer.WriteEndObject();
                }
                else
                {
                    writer.WriteStringValue(parameter.Name);
                }
            }

            writer.WriteEndArray();
        }

        writer.WriteEndObject();
    }
}
