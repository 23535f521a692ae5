using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Findings;

/// <summary>
/// The open and closed findings of one source. A symptom that comes back is the same finding with one more episode, never a second line.
/// </summary>
internal sealed class FindingBook
{
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
            if (known.End is not null)
            {
                known.End = null;
                known.Count++;
            }

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

    public bool IsOpen(FindingKind kind, string bus, Subject subject) => Find(kind, bus, subject) is { End: null };

    public void Close(FindingKind kind, string bus, Subject subject, Instant lastEvidence)
    {
        if (Find(kind, bus, subject) is Finding { End: null } finding)
        {
            finding.End = lastEvidence;
        }
    }

    /// <summary>Ends the episodes of events that have not come back within their hold-off.</summary>
    public void OnTick(Instant now)
    {
        foreach (Finding finding in _byKey.Values)
        {
            if (finding is { End: null, HoldOff: TimeSpan holdOff } && now - finding.LastEvidence > holdOff)
            {
                finding.End = finding.LastEvidence;
            }
        }
    }

    /// <summary>By severity (fault first), start, finding, interface, node, identifier.</summary>
    public IReadOnlyList<FindingReport> ToReport() =>
    [
        .. _byKey.Values
            .OrderBy(finding => finding.Severity)
            .ThenBy(finding => finding.Start)
            .ThenBy(finding => finding.Kind.Name, StringComparer.Ordinal)
            .ThenBy(finding => finding.Interface, StringComparer.Ordinal)
            .ThenBy(finding => finding.Subject.Node ?? finding.Subject.Nodes?[0] ?? 0)
            .ThenBy(finding => finding.Subject.Id?.ArbitrationKey ?? 0)
            .ThenBy(finding => finding.Key, StringComparer.Ordinal)
            .Select(finding => finding.ToReport()),
    ];
}
