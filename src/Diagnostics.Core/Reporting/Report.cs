using System.Text.Json.Serialization;
using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Reporting;

/// <summary>
/// The report document, schema 1: what the analysis knows at one moment. The page, the log and <c>--json</c> all read this and nothing else.
/// Durations are seconds, ratios 0–1, null = unknown (never 0).
/// </summary>
public sealed record Report(
    int Schema,
    SourceReport Source,
    IReadOnlyList<BusReport> Buses,
    IReadOnlyList<FindingReport> Findings,
    IReadOnlyList<AssuranceReport> Assurances)
{
    public const int CurrentSchema = 1;

    /// <summary>What the board measures beside the buses; empty without sensors, and in documents of an older version.</summary>
    public IReadOnlyList<QuantityReport> Measurements { get; init; } = [];
}

/// <summary><paramref name="Kind"/> = live, trace or simulated.</summary>
public sealed record SourceReport(string Kind, string Name, Instant? Start, Instant? End, NotSeenReport NotSeen);

public sealed record NotSeenReport(long KernelDropped, long QueueDropped, long DamagedRecords, IReadOnlyList<GapReport> Gaps)
{
    /// <summary>Whether more findings were raised than are kept, so that later ones are missing here.</summary>
    public bool FindingsRefused { get; init; }

    /// <summary>Values of the board's sensors that were not used: out of order, no number, or too many at once.</summary>
    public long MeasurementsRefused { get; init; }
}

public sealed record GapReport(string? Interface, Instant Start, Instant End, string Why)
{
    /// <summary>What <see cref="Why"/> is made from; null where it has no parameters, and in documents of an older version. So it is with all members of this kind.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? WhyWording { get; init; }

    /// <summary>Why, to be said in a reader's language.</summary>
    [JsonIgnore]
    public Sentence WhySaid => WhyWording ?? Sentence.Plain(Why);
}

public sealed record BusReport
{
    public required string Interface { get; init; }

    public int? BitRate { get; init; }

    public int? DataBitRate { get; init; }

    /// <summary>interface, option, site, data-sheet, detected or unknown.</summary>
    public required string BitRateSource { get; init; }

    public required string Protocol { get; init; }

    public bool? ListenOnly { get; init; }

    /// <summary>False where the driver can't report single errors, so that error positions can't be seen; null = unknown.</summary>
    public bool? ErrorReporting { get; init; }

    public long Frames { get; init; }

    public long RemoteFrames { get; init; }

    public long ErrorMessages { get; init; }

    public double? LoadMean { get; init; }

    public double? LoadPeak1s { get; init; }

    public double? LoadPeak100ms { get; init; }

    /// <summary>Whole seconds, in the order of time, that no later one reached: the first that ended behind a moment is the busiest since. For the log, not for readers.</summary>
    [JsonIgnore]
    public IReadOnlyList<BusySecond> BusiestSeconds { get; init; } = [];

    public double? ErrorLoadMean { get; init; }

    /// <summary>The time that the mean loads are taken over, s: since the start, less what this interface didn't hear. Other interfaces have their own.</summary>
    public double HeardSeconds { get; init; }

    /// <summary>
    /// What an error ratio is counted over: bits of frames in that time in which an error would have counted, in nominal bit times. Not those of intermissions,
    /// where none can show, nor those within 50 ms behind an error, which belong to the same disturbance.
    /// </summary>
    public double BitsHeard { get; init; }

    /// <summary>Errors on the wire that were apart by 50 ms or more: one disturbance that hits several frames counts once. Null where none is in the record and nothing says that any would be.</summary>
    public long? ErrorEpisodes { get; init; }

    public string? ControllerState { get; init; }

    public int? TransmitErrorCounter { get; init; }

    public int? ReceiveErrorCounter { get; init; }

    public required ErrorsReport Errors { get; init; }

    public long BusOff { get; init; }

    /// <summary>Messages that the protocol decoder could not read, by reason.</summary>
    public IReadOnlyDictionary<string, long>? Undecodable { get; init; }

    /// <summary>What a reader should know about how this bus was read, as whole sentences.</summary>
    public IReadOnlyList<string> Remarks { get; init; } = [];

    /// <summary>What <see cref="Remarks"/> are made from, in their order; null where there are none.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public IReadOnlyList<Sentence>? RemarkWordings { get; init; }

    [JsonIgnore]
    public IReadOnlyList<Sentence> RemarksSaid => RemarkWordings is { } wordings && wordings.Count == Remarks.Count ? wordings : [.. Remarks.Select(Sentence.Plain)];

    public required IReadOnlyList<NodeReport> Nodes { get; init; }

    public required IReadOnlyList<IdentifierReport> Identifiers { get; init; }

    /// <summary>Frames whose identifiers found no room in <see cref="Identifiers"/>: they are counted, but nothing is found on them.</summary>
    public long UntrackedFrames { get; init; }
}

/// <summary>A whole second of the bus's own time line, by its end, and its load.</summary>
public readonly record struct BusySecond(Instant End, double Load);

public sealed record ErrorsReport(long Bit, long Stuff, long Form, long Crc, long Ack, long Other);

public sealed record NodeReport
{
    public required int Address { get; init; }

    public string? Name { get; init; }

    /// <summary>initialising, pre-operational, operational, stopped or null.</summary>
    public string? State { get; init; }

    /// <summary>Null where silence can't be noticed in time.</summary>
    public bool? Present { get; init; }

    public Instant FirstHeard { get; init; }

    public Instant LastHeard { get; init; }

    public long Frames { get; init; }

    public double TrafficShare { get; init; }

    public long ErrorsOnItsFrames { get; init; }

    public int Restarts { get; init; }

    /// <summary>Those of them that no command, no download and no switched supply on this bus explains; a restart close to lost frames isn't counted here.</summary>
    public int RestartsUnexplained { get; init; }

    public double? HeartbeatSeconds { get; init; }

    /// <summary>
    /// Limit of its silence. It is looked at once a second, and waits once more as long at most for others that are late, so that those that stop together are one finding.
    /// </summary>
    public double? SilenceNoticedWithinSeconds { get; init; }

    /// <summary>It sends nothing regular, but answers commands: so many in a row without an answer are noticed. Null where silence is noticed by time, or not at all.</summary>
    public int? SilenceNoticedAfterCommands { get; init; }

    public required IdentityReport Identity { get; init; }
}

public sealed record IdentityReport(string? Vendor, string? Product, string? Revision, string? Serial, string? Name, string? Firmware);

public sealed record IdentifierReport(
    string Id, long Frames, double? PeriodSeconds, double? PeriodJitterSeconds, double TrafficShare, int? Node)
{
    /// <summary>It arrives in two phases at once, as from two senders; the period is that of each, and nothing is said of its jitter.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)]
    public bool TwoPhases { get; init; }
}

public sealed record FindingReport
{
    /// <summary>Names the triple of finding, interface and subject; stable for the life of the log.</summary>
    public required string Key { get; init; }

    public required string Finding { get; init; }

    /// <summary>fault, warning or note.</summary>
    public required string Severity { get; init; }

    public string? Interface { get; init; }

    public int? Node { get; init; }

    public IReadOnlyList<int>? Nodes { get; init; }

    public int? OtherNode { get; init; }

    public int? Input { get; init; }

    public int? Output { get; init; }

    public string? Id { get; init; }

    public string? Segment { get; init; }

    public required Instant Start { get; init; }

    public required Instant Raised { get; init; }

    public Instant? End { get; init; }

    public required int Count { get; init; }

    public required double Confidence { get; init; }

    public required string Summary { get; init; }

    /// <summary>What <see cref="Summary"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? SummaryWording { get; init; }

    [JsonIgnore]
    public Sentence SummarySaid => SummaryWording ?? Sentence.Plain(Summary);

    /// <summary>Key of the finding that this one follows from, so that one thing that shows twice is read as one; null for most.</summary>
    public string? ExplainedBy { get; init; }

    public required IReadOnlyList<MeasurementReport> Measurements { get; init; }

    public required IReadOnlyList<EvidenceReport> Evidence { get; init; }

    public required IReadOnlyList<CauseReport> Causes { get; init; }
}

public sealed record MeasurementReport(string Name, double Value, string Unit, double? Low = null, double? High = null, double? ConfidenceLevel = null);

public sealed record EvidenceReport(Instant Time, string Text)
{
    /// <summary>What <see cref="Text"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? Wording { get; init; }

    [JsonIgnore]
    public Sentence Said => Wording ?? Sentence.Plain(Text);

    public static EvidenceReport Of(Instant time, Sentence text) => new(time, text.English) { Wording = text.WhereNeeded };
}

public sealed record CauseReport(string Cause, double Probability, string Why, string NextCheck, string Expect, string? Caution)
{
    /// <summary>What <see cref="Why"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? WhyWording { get; init; }

    /// <summary>What <see cref="NextCheck"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? NextCheckWording { get; init; }

    /// <summary>What <see cref="Expect"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? ExpectWording { get; init; }

    /// <summary>What <see cref="Caution"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? CautionWording { get; init; }

    [JsonIgnore]
    public Sentence WhySaid => WhyWording ?? Sentence.Plain(Why);

    [JsonIgnore]
    public Sentence NextCheckSaid => NextCheckWording ?? Sentence.Plain(NextCheck);

    [JsonIgnore]
    public Sentence ExpectSaid => ExpectWording ?? Sentence.Plain(Expect);

    [JsonIgnore]
    public Sentence? CautionSaid => CautionWording ?? (Caution is null ? null : Sentence.Plain(Caution));

    public static CauseReport Of(string cause, double probability, Sentence why, Sentence nextCheck, Sentence expect, Sentence? caution) =>
        new CauseReport(cause, probability, why.English, string.Empty, string.Empty, null) { WhyWording = why.WhereNeeded }.Advised(nextCheck, expect, caution);

    /// <summary>The same with other advice.</summary>
    public CauseReport Advised(Sentence nextCheck, Sentence expect, Sentence? caution) => this with
    {
        NextCheck = nextCheck.English,
        NextCheckWording = nextCheck.WhereNeeded,
        Expect = expect.English,
        ExpectWording = expect.WhereNeeded,
        Caution = caution?.English,
        CautionWording = caution?.WhereNeeded,
    };
}

/// <summary><paramref name="Observed"/> counts what <paramref name="Unit"/> names (frame, bit, heartbeat, h); <paramref name="Bound"/> is per one of it.</summary>
public sealed record AssuranceReport(string Subject, string Statement, double Observed, double? Bound, double? ConfidenceLevel, string? Unit = null)
{
    /// <summary>What <see cref="Subject"/> is made from.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public Sentence? SubjectWording { get; init; }

    [JsonIgnore]
    public Sentence SubjectSaid => SubjectWording ?? Sentence.Plain(Subject);

    [JsonIgnore]
    public Sentence StatementSaid => Sentence.Plain(Statement);

    /// <summary>Statement of a whole bus on which errors were heard, and surely fewer than on an industrial production line.</summary>
    public const string FewErrors = "no more errors on the wire than on a healthy bus";
}
