using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// "Is it fixed?": what became of what was found before, what is new, and what the counts say. Both sides are judged by the same findings; a fault or warning of the later
/// side that the earlier one hasn't is new, whatever the reason. Notes and loads are shown and not judged. Frames lost on our own side are no trouble of the site: they are
/// told as what couldn't be seen.
/// </summary>
public static class Comparer
{
    /// <summary>Below this nothing worth a sentence was missed.</summary>
    private const double NotableSeconds = 1;

    /// <summary>Earlier dates than this are counters of recorders that knew no time of day, not dates.</summary>
    private static readonly Instant EarliestReal = Instant.FromDateTime(new(2000, 1, 1, 0, 0, 0, TimeSpan.Zero));

    /// <summary>Why the two sides can't be compared at all (not one site, no common interface, the later one first), as words behind a colon; null where they can.</summary>
    public static string? Mismatch(ObservedPeriod before, ObservedPeriod after) =>
        BusPairs.Mismatch(before, after)
        ?? (after.Start >= EarliestReal && before.Start > after.Start && before.End > after.End
            ? "the first is the later one, so \"gone\" would mean \"came\""
            : null);

    /// <param name="before">The earlier side.</param>
    /// <param name="after">The later side.</param>
    /// <param name="sameRecorder">
    /// Both sides were recorded with the same adapter and settings: where one of them holds errors, their absence in the other means that there were none.
    /// </param>
    public static ComparisonReport Compare(ObservedPeriod before, ObservedPeriod after, bool sameRecorder = false)
    {
        IReadOnlyList<BusPair> pairs = BusPairs.Of(before, after);
        if (sameRecorder)
        {
            pairs = [.. pairs.Select(SeeingAlike)];
        }

        bool areSeveral = pairs.Count > 1;
        List<ComparedFinding> findings = [];
        List<ComparedNode> nodes = [];
        List<ComparedRate> rates = [];
        foreach (BusPair pair in pairs)
        {
            string? bus = areSeveral ? pair.Name : null;
            ObservedFinding[] earlier = OfBus(before, pair.Before, isFirst: ReferenceEquals(pair, pairs[0]));
            ObservedFinding[] later = OfBus(after, pair.After, isFirst: ReferenceEquals(pair, pairs[0]));
            FindingPairs matches = new(earlier, later);
            AbsenceJudge judge = new(pair, after);
            int first = findings.Count;
            findings.AddRange(earlier.Select(finding => Known(finding, matches.After(finding), pair, bus, judge)));
            findings.AddRange(later.Where(matches.IsNew).Select(finding => New(finding, pair, bus)));
            Explain(findings, first, [.. earlier, .. later.Where(matches.IsNew)], matches);
            nodes.AddRange(NodesOf(pair));
            rates.AddRange(RateComparer.Of(
                pair,
                bus,
                [.. earlier.Select(finding => (finding, matches.After(finding), Phrases.Of(finding.Report, pair.NameOf, bus)))],
                later.Any(finding => finding.Report.Severity != "note" && RateComparer.OfRestarts.Contains(finding.Report.Finding)),
                before.Start));
        }

        IReadOnlyList<ComparedRate> corrected = RateComparer.Corrected(rates);
        IReadOnlyList<ComparedFinding> ordered = InOrder(findings);
        (string verdict, string sentence) = ComparisonVerdict.Of(before, after, pairs, ordered, nodes, corrected);
        return new(
            ComparisonReport.CurrentSchema,
            verdict,
            sentence,
            RateComparer.Level,
            Side(before, pairs.Select(pair => pair.Before)),
            Side(after, pairs.Select(pair => pair.After)),
            ordered,
            nodes,
            corrected,
            [.. Overlap(before, after), .. LimitsOf("before", before), .. LimitsOf("after", after), .. pairs.SelectMany(pair => LimitsOf(pair, areSeveral))]);
    }

    private static BusPair SeeingAlike(BusPair pair)
    {
        return pair is { Before: { } before, After: { } after } ? new(Seeing(before, after), Seeing(after, before)) : pair;

        static ObservedBus Seeing(ObservedBus bus, ObservedBus other) =>
            bus.Totals.ErrorEpisodes is null && bus.ErrorReporting != false && other.Totals.ErrorEpisodes is not null ? bus with { Totals = bus.Totals with { ErrorEpisodes = 0 } } : bus;
    }

    /// <summary>What a side found on a bus. What names no interface, or one that is no longer listened to, goes with the first.</summary>
    private static ObservedFinding[] OfBus(ObservedPeriod period, ObservedBus? bus, bool isFirst) =>
    [
        .. period.Findings.Where(finding => finding.Report.Finding != Catalogue.BusNotSeen.Name
            && ((bus is not null && finding.Report.Interface == bus.Interface) || (isFirst && period.Buses.All(known => known.Interface != finding.Report.Interface)))),
    ];

    private static ComparedFinding Known(ObservedFinding finding, IReadOnlyList<ObservedFinding> again, BusPair pair, string? bus, AbsenceJudge judge)
    {
        AbsenceJudge.Judgement judgement = again.Count == 0 ? judge.Of(finding) : judge.OfCarriedOver(finding, again) ?? StillThere(finding, again, pair, judge.AfterStart);
        FindingReport shown = again.Count > 0 ? again[0].Report : finding.Report;
        return Entry(shown, pair, bus) with
        {
            Outcome = judgement.Outcome,
            Why = judgement.Why,
            MoreSeconds = judgement.MoreSeconds,
            Before = SideOf([finding]),
            After = again.Count > 0 ? SideOf(again) : null,
        };
    }

    private static AbsenceJudge.Judgement StillThere(ObservedFinding finding, IReadOnlyList<ObservedFinding> again, BusPair pair, Can.Instant? start)
    {
        string before = Seen(finding.Began, finding.Lasts, pair.Before);
        string after = Seen(again.Sum(later => later.Began), again.Any(later => later.Lasts), pair.After);

        // Who gives the moment of the repair by a clock on the wall is easily a minute early.
        if (again.All(later => later is { Began: 0, Lasts: false }) && start is { } cut && again.Select(later => later.Report.End ?? cut).Aggregate(Can.Instant.Max) is var last)
        {
            after = Text.Of($"what had begun before, last {Text.Seconds(Math.Max(0, last.SecondsSince(cut)))} behind the cut");
        }

        string grade = Rank(again.Select(later => later.Report.Severity).MinBy(Rank)!).CompareTo(Rank(finding.Report.Severity)) switch
        {
            < 0 => Text.Of($" It was a {finding.Report.Severity} and is a {again.Select(later => later.Report.Severity).MinBy(Rank)} now."),
            > 0 => Text.Of($" It was a {finding.Report.Severity} and is only a {again.Select(later => later.Report.Severity).MinBy(Rank)} now."),
            _ => string.Empty,
        };
        return new(ComparedFinding.StillThere, $"Before: {before}; after: {after}.{grade}");
    }

    /// <summary>"3 times in 2 h, and at the end".</summary>
    private static string Seen(long began, bool lasts, ObservedBus? bus)
    {
        if (began == 0)
        {
            return lasts ? "ever since, and at the end" : "what had begun earlier";
        }

        string heard = bus is null ? string.Empty : " in " + Text.Seconds(bus.Totals.HeardSeconds);
        return Phrases.Times(began) + heard + (lasts ? ", and at the end" : string.Empty);
    }

    private static ComparedFinding New(ObservedFinding finding, BusPair pair, string? bus)
    {
        FindingReport report = finding.Report;
        string why = pair switch
        {
            { Before: null } => "This interface wasn't listened to before, so it may have been there.",
            { Before.Totals.Frames: 0 } => "Nothing was heard before, so it may have been there.",
            { Before: { } before, After: { } after } when new TwoRates(Math.Max(1, finding.Began), after.Totals.HeardSeconds, 0, before.Totals.HeardSeconds) is var rates
                && (before.Totals.HeardSeconds < report.Raised.SecondsSince(report.Start) || rates.ProbabilityOfSoFew >= AbsenceJudge.Doubt) =>
                Text.Of($"{Capital(Seen(finding.Began, finding.Lasts, after))}; not once in the {Text.Seconds(before.Totals.HeardSeconds)} before, which is too short to rule out chance."),
            _ => Text.Of($"{Capital(Seen(finding.Began, finding.Lasts, pair.After))}; not once in the {Text.Seconds(pair.Before!.Totals.HeardSeconds)} before."),
        };
        return Entry(report, pair, bus) with { Outcome = ComparedFinding.New, Why = why, After = SideOf([finding]) };
    }

    private static ComparedFinding Entry(FindingReport report, BusPair pair, string? bus) => new()
    {
        Outcome = string.Empty,
        Why = string.Empty,
        Finding = report.Finding,
        Severity = report.Severity,
        What = Phrases.Of(report, pair.NameOf, bus),
        Summary = report.Summary,
        Interface = pair.Name,
        Node = report.Node,
        Nodes = report.Nodes,
        Input = report.Input,
        Output = report.Output,
        Id = report.Id,
        Segment = report.Segment,
    };

    private static FindingSide SideOf(IReadOnlyList<ObservedFinding> findings) => new(
        findings.Sum(finding => finding.Began),
        findings.Select(finding => finding.First).Aggregate(Can.Instant.Min),
        findings.Any(finding => finding.Lasts || finding.Report.End is null) ? null : findings.Select(finding => finding.Report.End!.Value).Aggregate(Can.Instant.Max));

    /// <summary>Who follows from whom, on the side where the finding is shown from. Places are those before ordering.</summary>
    private static void Explain(List<ComparedFinding> findings, int first, ObservedFinding[] observed, FindingPairs matches)
    {
        string?[] keys = [.. observed.Select(finding => finding.Report.Key)];
        string?[] keysAfter = [.. observed.Select(finding => matches.IsKnown(finding) ? matches.After(finding).FirstOrDefault()?.Report.Key : finding.Report.Key)];
        for (int place = 0; place < observed.Length; place++)
        {
            bool isOfBefore = matches.IsKnown(observed[place]) && matches.After(observed[place]).Count == 0;
            string? leader = isOfBefore ? observed[place].Report.ExplainedBy
                : matches.IsKnown(observed[place]) ? matches.After(observed[place])[0].Report.ExplainedBy
                : observed[place].Report.ExplainedBy;
            int found = leader is null ? -1 : Array.IndexOf(isOfBefore ? keys : keysAfter, leader);
            if (found >= 0 && found != place)
            {
                findings[first + place] = findings[first + place] with { ExplainedBy = first + found };
            }
        }
    }

    private static IEnumerable<ComparedNode> NodesOf(BusPair pair)
    {
        // Where no device at all was recognised, none is missed by name.
        if (pair is not { Before: { } before, After: { Nodes.Count: > 0 } after })
        {
            yield break;
        }

        foreach (ObservedNode node in before.Nodes.Where(node => after.Nodes.All(later => later.Address != node.Address)).OrderBy(node => node.Address))
        {
            // Whose silence was found before is no new loss; its finding tells what became of it.
            if (node.IsPresent != false)
            {
                bool wasDue = node.SilenceNoticedWithinSeconds is double limit && after.Totals.HeardSeconds > limit;
                yield return new(pair.Name, node.Address, node.Name, wasDue ? ComparedNode.Missing : ComparedNode.NotHeard);
            }
        }

        foreach (ObservedNode node in after.Nodes.Where(node => before.Nodes.All(earlier => earlier.Address != node.Address)).OrderBy(node => node.Address))
        {
            yield return new(pair.Name, node.Address, node.Name, ComparedNode.New);
        }
    }

    private static ComparedSide Side(ObservedPeriod period, IEnumerable<ObservedBus?> buses) => new(
        period.Kind,
        period.Name,
        period.Start,
        period.End,
        [
            .. buses.OfType<ObservedBus>().Select(bus => new ComparedBus(
                bus.Interface, Math.Round(bus.Totals.HeardSeconds, 3), bus.Totals.Frames, bus.Totals.Bits, bus.Totals.ErrorEpisodes, bus.Totals.Restarts, bus.LoadMean, bus.LoadPeak)),
        ]);

    /// <summary>New and still there first, by severity; what follows from another finding right behind it.</summary>
    private static ComparedFinding[] InOrder(List<ComparedFinding> findings)
    {
        string[] outcomes = [ComparedFinding.New, ComparedFinding.StillThere, ComparedFinding.CannotTell, ComparedFinding.NotSeenAgain, ComparedFinding.Gone];
        int[] order =
        [
            .. Enumerable.Range(0, findings.Count)
                .OrderBy(place => findings[place].Severity == "note")
                .ThenBy(place => Array.IndexOf(outcomes, findings[place].Outcome))
                .ThenBy(place => Rank(findings[place].Severity))
                .ThenBy(place => findings[place].ExplainedBy is not null)
                .ThenBy(place => place),
        ];
        return [.. order.Select(place => findings[place].ExplainedBy is int leader ? findings[place] with { ExplainedBy = Array.IndexOf(order, leader) } : findings[place])];
    }

    /// <summary>Two bundles of one log, or a record and a longer one of the same time: "before" is a part of "after".</summary>
    private static IEnumerable<string> Overlap(ObservedPeriod before, ObservedPeriod after)
    {
        if (before is { Start: { } begin, End: { } end } && after is { Start: { } start, End: { } last } && start >= EarliestReal
            && Instant.Min(end, last).SecondsSince(Instant.Max(begin, start)) is var both and > NotableSeconds)
        {
            yield return Text.Of($"The two records overlap by {Text.Seconds(both)}: what happened then counts before and after alike, so \"still there\" may only mean that it hadn't been mended yet. If both are of one log, compare the longer one with itself, by --at and the moment of the repair.");
        }
    }

    private static IEnumerable<string> LimitsOf(string side, ObservedPeriod period)
    {
        if (period.Lost > 0)
        {
            yield return Text.Of($"{Capital(side)}: {(period.Lost == 1 ? "one frame or record was" : Text.Of($"{period.Lost:N0} frames or records were"))} lost on our own side.");
        }

        if (period.FindingsRefused)
        {
            yield return $"{Capital(side)}: more findings came up than are kept.";
        }

        double span = period is { Start: { } start, End: { } end } ? end.SecondsSince(start) : 0;
        foreach (ObservedBus bus in period.Buses.Where(bus => span - bus.Totals.HeardSeconds > NotableSeconds))
        {
            yield return Text.Of($"{Capital(side)}: {bus.Interface} was heard for {Text.Seconds(bus.Totals.HeardSeconds)} of {Text.Seconds(span)}.");
        }
    }

    private static IEnumerable<string> LimitsOf(BusPair pair, bool areSeveral)
    {
        string on = areSeveral ? pair.Name + ": " : string.Empty;
        if (pair.Before is null || pair.After is null)
        {
            yield return $"{pair.Name} was listened to on one side only.";
            yield break;
        }

        if (pair.IsKnownOnOneSide)
        {
            yield return $"{on}No device was recognised {(pair.Before.Nodes.Count == 0 ? "before" : "after")}, so whether both records are of one bus isn't known: with records of two sites, nothing here means anything.";
        }

        if (pair.Before.Interface != pair.After.Interface)
        {
            yield return $"{pair.Before.Interface} before and {pair.After.Interface} after are taken for the same bus: each side has one.";
        }

        if (pair.Before.Totals.ErrorEpisodes is null || pair.After.Totals.ErrorEpisodes is null)
        {
            string side = (pair.Before.Totals.ErrorEpisodes, pair.After.Totals.ErrorEpisodes) switch { (null, null) => "on either side", (null, _) => "before", _ => "after" };
            yield return $"{on}Errors on the wire couldn't be seen {side}, so they aren't compared.";
        }
        else if (pair.Before.Totals.Bits is null || pair.After.Totals.Bits is null)
        {
            yield return $"{on}How many bits were sent isn't known for all of it, so errors aren't compared.";
        }
    }

    internal static int Rank(string severity) => severity switch { "fault" => 0, "warning" => 1, _ => 2 };

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];
}
