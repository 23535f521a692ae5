using System.Text.Json.Serialization;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Soak;

/// <summary>A soak test as it stands: all that must survive a power cut, and all that the hand-over record is made from. Members are added, never renamed: logs store it.</summary>
public sealed record SoakRecord
{
    /// <summary>Tells it from others of one log; letters, digits and hyphens.</summary>
    public required string Id { get; init; }

    public required string Name { get; init; }

    public required SoakRules Rules { get; init; }

    /// <summary>What it was to listen for, s. Only time that was listened counts, so a power cut makes it end later.</summary>
    public required double AskedSeconds { get; init; }

    public double ListenedSeconds { get; init; }

    public required Instant Started { get; init; }

    /// <summary>The last moment that is counted here.</summary>
    public required Instant LastSeen { get; init; }

    /// <summary>Null while it goes on.</summary>
    public SoakEnd? End { get; init; }

    /// <summary>What the report calls its source.</summary>
    public required string Source { get; init; }

    /// <summary>live or simulated; null in records of an older version.</summary>
    public string? SourceKind { get; init; }

    public IReadOnlyList<SoakBus> Buses { get; init; } = [];

    public IReadOnlyList<SoakFinding> Findings { get; init; } = [];

    /// <summary>More findings than are kept here.</summary>
    public bool FindingsRefused { get; init; }

    /// <summary>Times at which the service didn't run.</summary>
    public IReadOnlyList<SoakInterruption> Interruptions { get; init; } = [];

    /// <summary>Frames that were lost on our own side, in the kernel or in the queue.</summary>
    public long LostFrames { get; init; }
}

/// <summary>How a soak test ended. The names are stored.</summary>
public enum SoakEnd
{
    /// <summary>It has listened for as long as it was to.</summary>
    Complete,

    /// <summary>A person ended it before.</summary>
    Stopped,

    /// <summary>Another test was begun.</summary>
    Replaced,
}

/// <summary>One interface in a soak test.</summary>
/// <param name="Interface">Its name.</param>
/// <param name="BitRate">bit/s.</param>
/// <param name="Totals">What came during the test.</param>
/// <param name="Nodes">Nodes that were heard, as a person calls them.</param>
public sealed record SoakBus(string Interface, int? BitRate, Totals Totals, IReadOnlyList<SoakNode> Nodes)
{
    /// <summary>The adapter took no part in the bus; null = it doesn't tell.</summary>
    public bool? ListenOnly { get; init; }

    /// <summary>Known from before the test and not heard in it; null = a version that didn't tell them apart.</summary>
    public IReadOnlyList<SoakNode>? NotHeard { get; init; }
}

/// <summary>A node as it was during a soak test.</summary>
public sealed record SoakNode(int Address, string? Name, bool? Present);

/// <summary>A finding that was open at some time of a soak test.</summary>
public sealed record SoakFinding
{
    public required string Key { get; init; }

    public required string Finding { get; init; }

    /// <summary>The worst that it was: fault, warning or note.</summary>
    public required string Severity { get; init; }

    public required string Summary { get; init; }

    /// <summary>What <see cref="Summary"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? SummaryWording { get; init; }

    [JsonIgnore]
    public Sentence SummarySaid => SummaryWording ?? Sentence.Plain(Summary);

    public required Instant Start { get; init; }

    /// <summary>Null while it lasts.</summary>
    public Instant? End { get; init; }

    /// <summary>Episodes within the test.</summary>
    public required int Episodes { get; init; }
}

/// <summary>A time at which the service didn't run.</summary>
/// <param name="From">Where it had been counted to.</param>
/// <param name="To">Where it went on; null where the board's clock was behind then and hasn't been set since, so that nobody can tell.</param>
public sealed record SoakInterruption(Instant From, Instant? To);
