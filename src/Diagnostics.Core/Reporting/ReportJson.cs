using System.Buffers;
using System.Text.Json;
using System.Text.Json.Serialization;

namespace Diagnostics.Core.Reporting;

/// <summary>The one way in which the report document becomes JSON, and comes back from the log.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    WriteIndented = true)]
[JsonSerializable(typeof(Report))]
[JsonSerializable(typeof(FindingReport))]
[JsonSerializable(typeof(NodeReport))]
public sealed partial class ReportJson : JsonSerializerContext
{
    /// <summary>A site of twenty modules takes about 60 KB.</summary>
    private const int InitialBytes = 64 * 1024;

    /// <summary>
    /// By the generated writer itself: asking the serializer for the same builds a description of every property first, which costs a short replay
    /// a fifth of its time and isn't used for writing.
    /// </summary>
    public static byte[] ToUtf8(Report report)
    {
        ArrayBufferWriter<byte> bytes = new(InitialBytes);
        using (Utf8JsonWriter writer = new(bytes, new() { Indented = true }))
        {
            Default.ReportSerializeHandler(writer, report);
        }

        return bytes.WrittenSpan.ToArray();
    }
}
