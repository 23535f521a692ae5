using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;

namespace Diagnostics.Core.Findings;

/// <summary>One finding while it lives in the book. Detectors write it; the report is made from it.</summary>
internal sealed class Finding
{
    private readonly List<EvidenceReport> _evidence = [];
    private Sentence _summary = Sentence.Empty;
    private Sentence _summaryOver = Sentence.Empty;

    /// <summary>Made once and not for each report, as a site may have many findings.</summary>
    private string? _english;
    private string? _englishOver;

    public required FindingKind Kind { get; init; }

    public required string Interface { get; init; }

    public required Subject Subject { get; init; }

    public required Instant Start { get; init; }

    public required Instant Raised { get; init; }

    public Severity Severity { get; set; }

    /// <summary>Last evidence of the last episode; null while it lasts.</summary>
    public Instant? End { get; set; }

    /// <summary>
    /// It came back soon after its last end: a chattering alarm. From then on an end only counts once it has lasted (<see cref="FindingBook.OffDelay"/>).
    /// </summary>
    public bool Chatters { get; set; }

    /// <summary>It chatters, and seems to have ended then.</summary>
    public Instant? SeemsEnded { get; set; }

    /// <summary>
    /// Who is at fault says when it is over, so its end needs no waiting: the report tells it at once, though more of a chattering alarm still counts as the same episode.
    /// </summary>
    public bool EndIsSaid { get; set; }

    private Instant? Over => End ?? (EndIsSaid ? SeemsEnded : null);

    /// <summary>When evidence was last seen; with <see cref="HoldOff"/> it decides when an episode is over.</summary>
    public Instant LastEvidence { get; set; }

    /// <summary>
    /// For symptoms that are events: the episode ends once this long has passed without evidence. Null where the detector says when it ends.
    /// </summary>
    public TimeSpan? HoldOff { get; set; }

    /// <summary>Nodes to show where the subject is the whole bus.</summary>
    public IReadOnlyList<int>? NodesShown { get; set; }

    public int Count { get; set; } = 1;

    public double Confidence { get; set; }

    /// <summary>One sentence: while it lasts in the present tense, once it is over in the past. Neither holds a time of day; the reader of the report has the zone.</summary>
    public Sentence Summary => Over is null ? _summary : _summaryOver;

    /// <summary>Key of a finding that this one follows from; a reader should look there first.</summary>
    public string? ExplainedBy { get; set; }

    public IReadOnlyList<MeasurementReport> Measurements { get; set; } = [];

    public IReadOnlyList<CauseReport> Causes { get; set; } = [];

    public string Key => KeyOf(Kind, Interface, Subject);

    public static string KeyOf(FindingKind kind, string bus, Subject subject) => $"{kind.Name}/{bus}/{subject.Key}";

    /// <summary>Says it: <paramref name="over"/> is how it reads once it has ended, where that differs.</summary>
    public void Tell(Sentence summary, Sentence? over = null)
    {
        _summary = summary;
        _summaryOver = over ?? summary;
        _english = null;
        _englishOver = null;
    }

    /// <summary>Keeps the first four rows, which tell how it began, and the last four.</summary>
    public void AddEvidence(Instant time, Sentence text)
    {
        if (_evidence.Count == Limits.EvidenceRows)
        {
            _evidence.RemoveAt(Limits.EvidenceRows / 2);
        }

        _evidence.Add(EvidenceReport.Of(time, text));
    }

    /// <param name="severity">Of the report: its own, or that of what it explains.</param>
    public FindingReport ToReport(Severity severity) => new()
    {
        Key = Key,
        Finding = Kind.Name,
        Severity = severity.ToString().ToLowerInvariant(),
        Interface = Interface,
        Node = Subject.Node,
        Nodes = Subject.Nodes ?? NodesShown,
        Input = Subject.Input,
        Id = Subject.Id?.ToString(),
        Start = Start,
        Raised = Raised,
        End = Over,
        Count = Count,
        Confidence = Math.Round(Confidence, 4),
        Summary = Over is null ? _english ??= _summary.English : _englishOver ??= _summaryOver.English,
        SummaryWording = Summary.WhereNeeded,
        ExplainedBy = ExplainedBy,
        Measurements = Measurements,
        Evidence = [.. _evidence],
        Causes = Causes,
    };
}
