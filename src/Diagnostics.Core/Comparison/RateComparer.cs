using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// Counts of both sides beside each other, with exact intervals of each (Garwood) and of their ratio, and whether the ratio is more than chance. The more one looks at, the
/// more often chance alone shows something, so the probabilities are corrected for all that were looked at: S. Holm, Scandinavian Journal of Statistics 6 (1979).
/// </summary>
internal static class RateComparer
{
    public const double Level = 0.95;

    /// <summary>Began behind this part of the earlier side, its rate over all of that side is too low by as much.</summary>
    private const double LateRatio = 0.2;

    private static readonly string[] OfErrors = [Catalogue.ErrorRate.Name, Catalogue.NodeErrors.Name, Catalogue.ErrorBurst.Name];

    /// <summary>What tells of restarts.</summary>
    public static readonly IReadOnlyList<string> OfRestarts = [Catalogue.NodeRestarted.Name, Catalogue.NodeUnstable.Name, Catalogue.BusRestarted.Name];

    /// <summary>Their events are counted themselves; episodes would say it twice, and worse.</summary>
    private static readonly string[] CountedElsewhere = [Catalogue.ErrorRate.Name, Catalogue.NodeErrors.Name, Catalogue.BusNotSeen.Name];

    /// <summary>Disturbances per bit; not comparable where a side doesn't know one of them.</summary>
    public static TwoRates Errors(ObservedBus before, ObservedBus after) =>
        before.Totals is { ErrorEpisodes: long earlier, Bits: double bitsBefore } && after.Totals is { ErrorEpisodes: long later, Bits: double bitsAfter }
            ? new(earlier, bitsBefore, later, bitsAfter)
            : default;

    /// <summary>Restarts that nothing explains, per hour heard.</summary>
    public static TwoRates Restarts(ObservedBus before, ObservedBus after) =>
        before.Totals.Restarts is long earlier && after.Totals.Restarts is long later
            ? new(earlier, before.Totals.HeardSeconds / 3600, later, after.Totals.HeardSeconds / 3600)
            : default;

    /// <summary>Damaged frames of one node per frame that it sent, damaged or not.</summary>
    public static TwoRates NodeErrors(ObservedBus before, ObservedBus after, int address) =>
        before.Totals.ErrorEpisodes is not null && after.Totals.ErrorEpisodes is not null
        && Node(before, address) is { Errors: long earlier, Frames: long framesBefore } && Node(after, address) is { Errors: long later, Frames: long framesAfter }
            ? new(earlier, framesBefore + earlier, later, framesAfter + later)
            : default;

    /// <summary>All rates of one pair of buses, not yet corrected.</summary>
    /// <param name="pair">The bus.</param>
    /// <param name="bus">Its name where there are several, null where there is one.</param>
    /// <param name="findings">Earlier findings, each with what it became.</param>
    /// <param name="accused">Somebody is accused of restarting after: a site that gets its power back starts as a whole, and nobody is.</param>
    /// <param name="start">Where the earlier side begins.</param>
    public static IEnumerable<ComparedRate> Of(
        BusPair pair, string? bus, IReadOnlyList<(ObservedFinding Before, IReadOnlyList<ObservedFinding> After, string What)> findings, bool accused, Instant? start)
    {
        if (pair is not { Before: { } before, After: { } after })
        {
            yield break;
        }

        string on = bus is null ? string.Empty : " on " + bus;
        if (Errors(before, after) is { ExposureBefore: > 0, ExposureAfter: > 0 } errors)
        {
            yield return Rate("errors", $"disturbances{on}", pair, "bit", errors) with { NotJudgedBecause = BeganLate(finding => OfErrors.Contains(finding.Report.Finding)) };
        }

        if (before.Nodes.Count + after.Nodes.Count > 0 && Restarts(before, after) is { ExposureBefore: > 0, ExposureAfter: > 0 } restarts)
        {
            yield return Rate("restarts", $"restarts that nobody commanded{on}", pair, "h", restarts) with
            {
                NotJudgedBecause = accused ? BeganLate(finding => OfRestarts.Contains(finding.Report.Finding)) : "no finding accuses anybody of them",
            };
        }

        foreach (int address in before.Nodes.Select(node => node.Address).Order())
        {
            if (NodeErrors(before, after, address) is { IsComparable: true } ofNode)
            {
                yield return Rate("node-errors", $"damaged frames of {Phrases.Node(address, pair.NameOf(address))}{on}", pair, "frame", ofNode) with
                {
                    Node = address,
                    NotJudgedBecause = BeganLate(finding => finding.Report.Finding == Catalogue.NodeErrors.Name && finding.Report.Node == address),
                };
            }
        }

        // What lasts has no rate.
        foreach ((ObservedFinding earlier, IReadOnlyList<ObservedFinding> later, string what) in findings)
        {
            if (!CountedElsewhere.Contains(earlier.Report.Finding) && later.Count > 0 && !(earlier is { Lasts: true, Began: <= 1 }) && !later.Any(finding => finding is { Lasts: true, Began: <= 1 }))
            {
                TwoRates episodes = new(earlier.Began, before.Totals.HeardSeconds / 3600, later.Sum(finding => finding.Began), after.Totals.HeardSeconds / 3600);
                if (episodes.IsComparable)
                {
                    yield return Rate(earlier.Report.Finding, what, pair, "h", episodes) with { Node = earlier.Report.Node, NotJudgedBecause = BeganLate(finding => ReferenceEquals(finding, earlier)) };
                }
            }
        }

        // Over all of the earlier side it looks rarer than it was.
        string? BeganLate(Func<ObservedFinding, bool> isAbout) =>
            start is { } begin && findings.Any(finding => isAbout(finding.Before) && finding.Before.First.SecondsSince(begin) > LateRatio * before.Totals.HeardSeconds)
                ? "this trouble began late in the earlier side"
                : null;
    }

    /// <summary>Holm: the smallest of m probabilities is multiplied by m, the next by m − 1 and so on, none below the one before it; "more than chance" is what stays below 5 %.</summary>
    public static IReadOnlyList<ComparedRate> Corrected(IReadOnlyList<ComparedRate> rates)
    {
        ComparedRate[] corrected = [.. rates];
        int[] order = [.. Enumerable.Range(0, rates.Count).Where(place => rates[place].Probability is not null).OrderBy(place => rates[place].Probability)];
        double least = 0;
        for (int rank = 0; rank < order.Length; rank++)
        {
            ComparedRate rate = rates[order[rank]];
            least = Math.Min(1, Math.Max(least, rate.Probability!.Value * (order.Length - rank)));
            corrected[order[rank]] = rate with
            {
                ProbabilityCorrected = least,
                Change = least >= 1 - Level ? ComparedRate.Chance : rate.After.Rate > rate.Before.Rate ? ComparedRate.Higher : ComparedRate.Lower,
            };
        }

        return corrected;
    }

    private static ComparedRate Rate(string of, string what, BusPair pair, string unit, TwoRates rates)
    {
        (double low, double high) = rates.IsComparable ? rates.RatioInterval(Level) : (0, double.PositiveInfinity);
        return new()
        {
            Of = of,
            What = what,
            Interface = pair.Name,
            Unit = unit,
            Before = Side(rates.Before, rates.ExposureBefore),
            After = Side(rates.After, rates.ExposureAfter),
            Ratio = rates.Before > 0 ? rates.RateAfter / rates.RateBefore : null,
            RatioLow = rates.IsComparable ? low : null,
            RatioHigh = rates.IsComparable && double.IsFinite(high) ? high : null,
            Probability = rates.IsComparable ? rates.TwoSided : null,
            Change = ComparedRate.Chance,
        };
    }

    private static RateSide Side(long count, double exposure)
    {
        (double low, double high) = ExactIntervals.Poisson(count, Level);
        return new(count, exposure, count / exposure, low / exposure, high / exposure);
    }

    private static ObservedNode? Node(ObservedBus bus, int address) => bus.Nodes.FirstOrDefault(node => node.Address == address);
}
