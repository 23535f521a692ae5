using System.Text.Json;

namespace Diagnostics.KernelGuest;

/// <summary>One line of what the guest has to tell the tests outside. Which members are set depends on <see cref="Kind"/>.</summary>
/// <param name="Step">The part of the test in which it was.</param>
/// <param name="Kind">"frame", "notSeen", "interface", "queue" (counts at the end) or "note" (anything the step wants to say).</param>
public sealed record Observation(string Step, string Kind)
{
    public int Interface { get; init; }

    public string? Id { get; init; }

    public string? Flags { get; init; }

    public int Code { get; init; }

    public string? Data { get; init; }

    /// <summary>Error class bits of an error message.</summary>
    public uint Classes { get; init; }

    /// <summary>Nanoseconds; of a span its start.</summary>
    public long Time { get; init; }

    public long End { get; init; }

    public long Count { get; init; }

    /// <summary>The kind of span, or the name of the note.</summary>
    public string? Name { get; init; }

    /// <summary>Why it was not seen, or the note.</summary>
    public string? Text { get; init; }

    public int? BitRate { get; init; }

    public bool? ListenOnly { get; init; }

    public string? State { get; init; }

    public string ToLine() => JsonSerializer.Serialize(this);

    public static Observation FromLine(string line) =>
        JsonSerializer.Deserialize<Observation>(line) ?? throw new JsonException("an empty line");
}
