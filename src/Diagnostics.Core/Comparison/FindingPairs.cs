using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// Which finding of the later side is which of the earlier: the same kind and subject on the same bus; failing that, the same kind on nodes of which some are the same, because a weak
/// supply or a loose joint takes other neighbours along each time.
/// </summary>
internal sealed class FindingPairs
{
    private readonly Dictionary<ObservedFinding, List<ObservedFinding>> _after = new(ReferenceEqualityComparer.Instance);

    private readonly HashSet<ObservedFinding> _known = new(ReferenceEqualityComparer.Instance);

    /// <param name="before">Findings of one bus, earlier.</param>
    /// <param name="after">Findings of the same bus, later.</param>
    public FindingPairs(IReadOnlyList<ObservedFinding> before, IReadOnlyList<ObservedFinding> after)
    {
        foreach (ObservedFinding earlier in before)
        {
            _after[earlier] = [];
        }

        foreach (ObservedFinding later in after)
        {
            if ((before.FirstOrDefault(earlier => IsSame(earlier.Report, later.Report)) ?? before.FirstOrDefault(earlier => Overlaps(earlier.Report, later.Report))) is { } earlier)
            {
                _after[earlier].Add(later);
                _known.Add(later);
            }
        }
    }

    /// <summary>Empty where it wasn't found again.</summary>
    public IReadOnlyList<ObservedFinding> After(ObservedFinding before) => _after[before];

    /// <summary>It is a finding of the earlier side.</summary>
    public bool IsKnown(ObservedFinding finding) => _after.ContainsKey(finding);

    public bool IsNew(ObservedFinding after) => !_known.Contains(after);

    /// <summary>Nodes that it is about. A finding of the whole bus may show nodes, but isn't about them.</summary>
    public static IReadOnlyList<int> NodesOf(FindingReport finding) =>
        finding.Node is int node ? [node] : finding.Finding == Catalogue.BusRestarted.Name ? [] : finding.Nodes ?? [];

    private static bool IsSame(FindingReport a, FindingReport b) => HasSameRest(a, b) && NodesOf(a).Order().SequenceEqual(NodesOf(b).Order());

    private static bool Overlaps(FindingReport a, FindingReport b) => HasSameRest(a, b) && NodesOf(a).Intersect(NodesOf(b)).Any();

    private static bool HasSameRest(FindingReport a, FindingReport b) =>
        a.Finding == b.Finding && a.Input == b.Input && a.Output == b.Output && a.Id == b.Id && a.Segment == b.Segment;
}
