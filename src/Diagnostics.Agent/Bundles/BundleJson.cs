using System.Text.Json.Serialization;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Bundles;

/// <summary>JSON of a bundle. It comes from strangers, so null where a value belongs is refused; members that aren't known are ignored.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    WriteIndented = true,
    MaxDepth = 16,
    RespectNullableAnnotations = true)]
[JsonSerializable(typeof(BundleManifest))]
[JsonSerializable(typeof(Report))]
internal sealed partial class BundleJson : JsonSerializerContext;
