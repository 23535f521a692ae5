using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// The comparison document, schema 1: what became of what was found before, and what is new. Durations are seconds, ratios 0–1, null = unknown or without bound (never 0).
/// </summary>
/// <param name="Schema">1.</param>
/// <param name="Verdict">fixed, no-worse, not-fixed, worse or cannot-tell.</param>
/// <param name="Sentence">The verdict in plain words.</param>
/// <param name="ConfidenceLevel">Of every interval and of every "gone", and of all "more than chance" together.</param>
/// <param name="Before">The first side.</param>
/// <param name="After">The second side.</param>
/// <param name="Findings">Those of both sides, one entry each: what is new or still there first, then what can't be told, then what is gone.</param>
/// <param name="Nodes">Who came and who went.</param>
/// <param name="Rates">What was counted on both sides.</param>
/// <param name="Limits">What the comparison could not see, one sentence each.</param>
public sealed record ComparisonReport(
    int Schema,
    string Verdict,
    string Sentence,
    double ConfidenceLevel,
    ComparedSide Before,
    ComparedSide After,
    IReadOnlyList<ComparedFinding> Findings,
    IReadOnlyList<ComparedNode> Nodes,
    IReadOnlyList<ComparedRate> Rates,
    IReadOnlyList<string> Limits)
{
    public const int CurrentSchema = 1;
    public const string Fixed = "fixed";
    public const string NoWorse = "no-worse";
    public const string NotFixed = "not-fixed";
    public const string Worse = "worse";
    public const string CannotTell = "cannot-tell";

    /// <summary>No worse, nothing new, and all that was found before is shown to be gone.</summary>
    public bool IsGood() => Verdict is Fixed or NoWorse;
}

/// <summary>One side, as far as it was heard.</summary>
public sealed record ComparedSide(string Kind, string Name, Instant? Start, Instant? End, IReadOnlyList<ComparedBus> Buses);

/// <summary>One interface of one side. Loads are shown, not judged.</summary>
public sealed record ComparedBus(string Interface, double HeardSeconds, long Frames, double? Bits, long? ErrorEpisodes, long? Restarts, double? LoadMean, double? LoadPeak1s);

/// <summary>What became of one finding.</summary>
public sealed record ComparedFinding
{
    public const string New = "new";
    public const string StillThere = "still-there";
    public const string CannotTell = "cannot-tell";
    public const string NotSeenAgain = "not-seen-again";
    public const string Gone = "gone";

    /// <summary>new, still-there, cannot-tell, not-seen-again (but not for long enough) or gone.</summary>
    public required string Outcome { get; init; }

    /// <summary>Name in the catalogue.</summary>
    public required string Finding { get; init; }

    /// <summary>fault, warning or note; as it is after, where it is still there or new.</summary>
    public required string Severity { get; init; }

    /// <summary>What it is, in a few words with its place: "damaged frames of node 9".</summary>
    public required string What { get; init; }

    /// <summary>Why this is its outcome, one sentence.</summary>
    public required string Why { get; init; }

    /// <summary>Its own sentence in the later report that has it.</summary>
    public required string Summary { get; init; }

    /// <summary>The same bus may have another name on each side; this is the earlier one.</summary>
    public string? Interface { get; init; }

    public int? Node { get; init; }

    public IReadOnlyList<int>? Nodes { get; init; }

    public int? Input { get; init; }

    public int? Output { get; init; }

    public string? Id { get; init; }

    public string? Segment { get; init; }

    /// <summary>Null where it is new.</summary>
    public FindingSide? Before { get; init; }

    /// <summary>Null where it wasn't found after.</summary>
    public FindingSide? After { get; init; }

    /// <summary>So much more has to be heard without it, s; null where that is no question of time.</summary>
    public double? MoreSeconds { get; init; }

    /// <summary>Place in this list, from 0, of the finding that this one follows from; null for most.</summary>
    public int? ExplainedBy { get; init; }
}

/// <summary>One finding on one side.</summary>
/// <param name="Count">Episodes that began within it; 0 where the only one began earlier.</param>
/// <param name="Start">First evidence.</param>
/// <param name="End">Last evidence; null where it lasts.</param>
public sealed record FindingSide(long Count, Instant Start, Instant? End);

/// <summary>A device that came or went.</summary>
/// <param name="Interface">The earlier name of the bus.</param>
/// <param name="Address">Of the node.</param>
/// <param name="Name">Null = none is known.</param>
/// <param name="Change">missing (it should have been heard), not-heard (it sends nothing regularly, so that can't be told) or new.</param>
public sealed record ComparedNode(string Interface, int Address, string? Name, string Change)
{
    public const string Missing = "missing";
    public const string NotHeard = "not-heard";
    public const string New = "new";
}

/// <summary>One count over both sides.</summary>
public sealed record ComparedRate
{
    public const string Higher = "higher";
    public const string Lower = "lower";
    public const string Chance = "chance";

    /// <summary>What is counted: errors, restarts, node-errors, or the name of a finding whose episodes these are.</summary>
    public required string Of { get; init; }

    /// <summary>The same in words, with the place.</summary>
    public required string What { get; init; }

    /// <summary>The earlier name of the bus.</summary>
    public required string Interface { get; init; }

    public int? Node { get; init; }

    /// <summary>What the rate is per: bit, frame or h.</summary>
    public required string Unit { get; init; }

    public required RateSide Before { get; init; }

    public required RateSide After { get; init; }

    /// <summary>Rate after over rate before; null where nothing was counted before.</summary>
    public double? Ratio { get; init; }

    public double? RatioLow { get; init; }

    /// <summary>Null = without bound.</summary>
    public double? RatioHigh { get; init; }

    /// <summary>Of such a difference, either way, if nothing had changed; null where nothing was counted at all.</summary>
    public double? Probability { get; init; }

    /// <summary>The same, corrected for all rates that were looked at.</summary>
    public double? ProbabilityCorrected { get; init; }

    /// <summary>higher, lower, or chance: no difference that chance doesn't explain.</summary>
    public required string Change { get; init; }

    /// <summary>Why "higher" doesn't make the verdict worse, as words; null where it does.</summary>
    public string? NotJudgedBecause { get; init; }
}

/// <summary>One count over one side, with its exact interval.</summary>
public sealed record RateSide(long Count, double Exposure, double Rate, double Low, double High);
