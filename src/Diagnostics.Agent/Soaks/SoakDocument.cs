using System.Text.Json.Serialization;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Soaks;

/// <summary>A soak test as data: what was counted, and what it shows.</summary>
internal sealed record SoakDocument(SoakRecord Record, SoakVerdict Verdict);

[JsonSourceGenerationOptions(PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase, UseStringEnumConverter = true)]
[JsonSerializable(typeof(SoakDocument))]
internal sealed partial class SoakJson : JsonSerializerContext;
