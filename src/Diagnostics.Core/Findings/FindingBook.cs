using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Findings;

/// <summary>
/// The open and closed findings of one source. A symptom that comes back is the same finding with one more episode, never a second line.
/// One that keeps coming and going is one episode: after it came back within a minute its end is delayed by a minute
/// (chattering alarm and off-delay, IEC 62682; the minute is common practice, no source).
/// </summary>
internal sealed class FindingBook
{
    public static readonly TimeSpan OffDelay = TimeSpan.FromMinutes(1);

    private readonly Dictionary<string, Finding> _byKey = [];

    /// <summary>Kinds that were ever raised: asking for any other needs no key, and detectors ask often.</summary>
    private readonly HashSet<FindingKind> _kinds = new(ReferenceEqualityComparer.Instance);

    /// <summary>Findings that found no room (<see cref="Limits.Findings"/>).</summary>
    public long Refused { get; private set; }

    public IEnumerable<Finding> All => _byKey.Values;

    /// <summary>
    /// Opens the finding, or its next episode, or returns the one that is open. The caller then sets summary, measurements and causes.
    /// </summary>
    /// <param name="kind">Entry of the catalogue.</param>
    /// <param name="bus">Interface name.</param>
    /// <param name="subject">What it is about.</param>
    /// <param name="start">First evidence.</param>
    /// <param name="now">When it is sure enough to say so.</param>
    /// <param name="confidence">Probability that the symptom is real.</param>
    public Finding Raise(FindingKind kind, string bus, Subject subject, Instant start, Instant now, double confidence)
    {
        string key = Finding.KeyOf(kind, bus, subject);
        if (_byKey.TryGetValue(key, out Finding? known))
        {
            if (known.End is Instant ended)
            {
                known.Chatters = now - ended < OffDelay;
                known.End = null;
                known.Count++;
            }

            known.SeemsEnded = null;

            known.Confidence = Math.Max(known.Confidence, confidence);
            known.LastEvidence = now;
            return known;
        }

        Finding finding = new()
        {
            Kind = kind,
            Interface = bus,
            Subject = subject,
            Start = start,
            Raised = now,
            Severity = kind.Usual,
            Confidence = confidence,
            LastEvidence = now,
        };
        if (_byKey.Count < Limits.Findings)
        {
            _byKey.Add(key, finding);
            _kinds.Add(kind);
        }
        else
        {
            Refused++;
        }

        return finding;
    }

    public Finding? Find(FindingKind kind, string bus, Subject subject) =>
        _kinds.Contains(kind) ? _byKey.GetValueOrDefault(Finding.KeyOf(kind, bus, subject)) : null;

    public bool IsOpen(FindingKind kind, string bus, Subject subject) => Find(kind, bus, subject) is { End: null, SeemsEnded: null };

    public void Close(FindingKind kind, string bus, Subject subject, Instant lastEvidence)
    {
        if (Find(kind, bus, subject) is not Finding { End: null } finding)
        {
            return;
        }

        if (finding.Chatters)
        {
            finding.SeemsEnded ??= lastEvidence;
        }
        else
        {
            finding.End = lastEvidence;
        }
    }

    /// <summary>Ends the episodes of events that have not come back within their hold-off, and of what chattered and has rested.</summary>
    public void OnTick(Instant now)
    {
        foreach (Finding finding in _byKey.Values)
        {
            if (finding is { End: null, HoldOff: TimeSpan holdOff } && now - finding.LastEvidence > holdOff)
            {
                finding.End = finding.LastEvidence;
            }

            if (finding is { End: null, SeemsEnded: Instant seems } && now - seems > OffDelay)
            {
                finding.End = seems;
                finding.SeemsEnded = null;
            }
        }
    }

    /// <summary>
    /// By severity (fault first), start, finding, interface, node, identifier. What explains another finding is at least as severe as that one, because it is
    /// where a reader looks first.
    /// </summary>
    public IReadOnlyList<FindingReport> ToReport()
    {
        ILookup<string, Severity> explained = _byKey.Values.Where(finding => finding.ExplainedBy is not null).ToLookup(finding => finding.ExplainedBy!, finding => finding.Severity);
        return
        [
            .. _byKey.Values
                .Select(finding => (Finding: finding, Severity: explained[finding.Key].Append(finding.Severity).Min()))
                .OrderBy(entry => entry.Severity)
                .ThenBy(entry => entry.Finding.Start)
                .ThenBy(entry => entry.Finding.Kind.Name, StringComparer.Ordinal)
                .ThenBy(entry => entry.Finding.Interface, StringComparer.Ordinal)
                .ThenBy(entry => entry.Finding.Subject.Node ?? entry.Finding.Subject.Nodes?[0] ?? 0)
                .ThenBy(entry => entry.Finding.Subject.Id?.ArbitrationKey ?? 0)
                .ThenBy(entry => entry.Finding.Key, StringComparer.Ordinal)
                .Select(entry => entry.Finding.ToReport(entry.Severity)),
        ];
    }
}
