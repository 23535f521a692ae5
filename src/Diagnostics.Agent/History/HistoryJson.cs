using System.Text.Json.Serialization;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.History;

/// <summary>Payloads of the store. Members are added, never renamed: old stores must open.</summary>
[JsonSourceGenerationOptions(
    PropertyNamingPolicy = JsonKnownNamingPolicy.CamelCase,
    UseStringEnumConverter = true,
    DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull)]
[JsonSerializable(typeof(FindingReport))]
[JsonSerializable(typeof(NodeEvent))]
[JsonSerializable(typeof(TrafficRow))]
[JsonSerializable(typeof(Capture))]
[JsonSerializable(typeof(BoardEvent))]
[JsonSerializable(typeof(IReadOnlyList<InputEvent>))]
[JsonSerializable(typeof(ClockCorrection))]
[JsonSerializable(typeof(SoakRecord))]
[JsonSerializable(typeof(Acknowledgement))]
[JsonSerializable(typeof(MeasuredRow))]
internal sealed partial class HistoryJson : JsonSerializerContext;
