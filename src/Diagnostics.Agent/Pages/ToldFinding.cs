using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// A finding as a reader meets it. The document has one entry a finding; a person should be told one thing once, so what follows from another finding stands
/// right under that one; what lasts stands before what is over, what hurts most first, and what is only worth knowing last.
/// </summary>
/// <param name="Finding">Of the report.</param>
/// <param name="Number">Its place in the reader's order, from 1.</param>
/// <param name="IsOver">The thing as a whole.</param>
/// <param name="ExplainedBy">What it follows from; null where it stands for itself.</param>
internal sealed record ToldFinding(FindingReport Finding, int Number, bool IsOver, ToldFinding? ExplainedBy)
{
    public static IReadOnlyList<ToldFinding> Of(Report report)
    {
        Dictionary<string, FindingReport> leaders = report.Findings.Where(finding => finding.ExplainedBy is null).DistinctBy(finding => finding.Key).ToDictionary(finding => finding.Key, StringComparer.Ordinal);
        ILookup<string, FindingReport> followers = report.Findings.Where(finding => Leader(finding) is not null).ToLookup(finding => finding.ExplainedBy!, StringComparer.Ordinal);
        List<ToldFinding> told = [];
        foreach ((FindingReport leader, FindingReport[] all) in report.Findings
            .Where(finding => Leader(finding) is null)
            .Select(finding => (Leader: finding, All: (FindingReport[])[finding, .. followers[finding.Key]]))
            .OrderBy(thing => thing.Leader.Severity == "note")
            .ThenBy(thing => thing.All.All(finding => finding.End is not null))
            .ThenBy(thing => Hurt(thing.Leader.Severity, thing.Leader.Finding, thing.Leader.Node is not null)))
        {
            ToldFinding first = new(leader, told.Count + 1, all.All(finding => finding.End is not null), null);
            told.Add(first);
            told.AddRange(all[1..].Select((finding, index) => first with { Finding = finding, Number = first.Number + 1 + index, ExplainedBy = first }));
        }

        return told;

        FindingReport? Leader(FindingReport finding) => finding.ExplainedBy is { } key ? leaders.GetValueOrDefault(key) : null;
    }

    /// <summary>
    /// Which of several faults that last is said first: where nothing works at all the others can wait, then what is missing or can't be trusted, then the rest
    /// in the order of the document. The oldest is often the least of them.
    /// </summary>
    public static int Hurt(string severity, string finding, bool isOfNode) => (severity, finding) switch
    {
        (not "fault", _) => 3,
        (_, "bus.no-traffic" or "bus.bit-rate-mismatch" or "bus.flood" or "bus.no-acknowledge") => 0,
        (_, "bus.off") => isOfNode ? 1 : 0,
        (_, "node.silent" or "node.duplicate-address" or "node.unstable") => 1,
        _ => 2,
    };
}
