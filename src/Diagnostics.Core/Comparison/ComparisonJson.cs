using System.Text.Json;
using System.Text.Json.Serialization;

namespace Diagnostics.Core.Comparison;

/// <summary>The one way in which the comparison document becomes JSON.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    WriteIndented = true)]
[JsonSerializable(typeof(ComparisonReport))]
public sealed partial class ComparisonJson : JsonSerializerContext
{
    public static byte[] ToUtf8(ComparisonReport comparison) => JsonSerializer.SerializeToUtf8Bytes(comparison, Default.ComparisonReport);
}
