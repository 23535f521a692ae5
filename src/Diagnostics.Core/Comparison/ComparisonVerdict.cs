using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>
/// The answer to "is it fixed?". Fixed only where all that was wrong before is shown to be gone and nothing is new or worse; what couldn't be shown is no "fixed", since
/// what was to be judged wasn't judged good.
/// </summary>
internal static class ComparisonVerdict
{
    public static (string Verdict, string Sentence) Of(
        ObservedPeriod before, ObservedPeriod after, IReadOnlyList<BusPair> pairs, IReadOnlyList<ComparedFinding> findings, IReadOnlyList<ComparedNode> nodes, IReadOnlyList<ComparedRate> rates)
    {
        // What follows from another finding is told with that one; it counts by itself where its leader's outcome is another.
        ComparedFinding[] things =
            [.. findings.Where(finding => finding.Severity != "note" && !(finding.ExplainedBy is int leader && findings[leader].Outcome == finding.Outcome && findings[leader].Severity != "note"))];
        string[] added =
        [
            .. Of(ComparedFinding.New),
            .. nodes.Where(node => node.Change == ComparedNode.Missing).Select(node => "silence of " + Phrases.Node(node.Address, node.Name)),
        ];
        string[] still = [.. Of(ComparedFinding.StillThere)];
        string[] higher = [.. rates.Where(rate => rate is { NotJudgedBecause: null, Change: ComparedRate.Higher }).Select(rate => rate.What)];
        ComparedFinding[] open = [.. things.Where(thing => thing.Outcome is ComparedFinding.CannotTell or ComparedFinding.NotSeenAgain)];
        string[] gone = [.. Of(ComparedFinding.Gone)];
        if (!Heard(after))
        {
            return (ComparisonReport.CannotTell, "Can't tell: nothing was heard after. A plug that is out, a bus without supply or a wrong bit rate would look the same from here.");
        }

        if (!Heard(before) && before.Findings.Count == 0)
        {
            return (ComparisonReport.CannotTell, "Can't tell: nothing was heard before, so there is nothing to compare with.");
        }

        List<string> parts = [];
        if (still.Length > 0)
        {
            parts.Add($"Still there: {Phrases.List(still)}.");
        }

        if (added.Length > 0)
        {
            parts.Add($"New: {Phrases.List(added)}.");
        }

        if (higher.Length > 0)
        {
            parts.Add($"More than before, beyond chance: {Phrases.List(higher)}.");
        }

        if (added.Length + higher.Length + still.Length > 0)
        {
            if (open.Length > 0)
            {
                parts.Add($"Not shown to be gone: {Phrases.List([.. open.Select(thing => thing.What)])}.");
            }

            if (gone.Length > 0)
            {
                parts.Add($"Gone: {Phrases.List(gone)}.");
            }

            bool isWorse = added.Length + higher.Length > 0;
            string lead = (still.Length > 0, isWorse) switch { (true, true) => "Not fixed, and worse.", (true, false) => "Not fixed.", _ => "Worse." };
            return (isWorse ? ComparisonReport.Worse : ComparisonReport.NotFixed, $"{lead} {string.Join(' ', parts)}");
        }

        if (open.Length > 0)
        {
            string also = gone.Length > 0 ? $" Gone: {Phrases.List(gone)}." : string.Empty;
            return (ComparisonReport.CannotTell, Undecided(open) + also + " Nothing new was found.");
        }

        if (pairs.FirstOrDefault(pair => pair.IsKnownOnOneSide) is { } blind)
        {
            return (ComparisonReport.CannotTell, blind is { Before: { Nodes.Count: > 0 } known, After: { } unknown }
                ? Text.Of($"Can't tell: not one device was recognised on {unknown.Interface} after, though {known.Nodes.Count} were before.")
                : Text.Of($"Can't tell: not one device was recognised on {blind.Before!.Interface} before, though {blind.After!.Nodes.Count} were after."));
        }

        double longest = after.Buses.Max(bus => bus.Totals.HeardSeconds);
        if (longest < AbsenceJudge.LearningSeconds)
        {
            return (ComparisonReport.CannotTell, Text.Of($"Can't tell: in {Text.Seconds(longest)} hardly anything would have been found; listen {Text.Seconds(AbsenceJudge.LearningSeconds - longest)} more."));
        }

        string heard = Text.Seconds(longest).English;
        string[] unheard = [.. nodes.Where(node => node.Change == ComparedNode.NotHeard).Select(node => Phrases.Node(node.Address, node.Name))];
        string but = unheard.Length == 0 ? string.Empty : $" Not heard after, and not known to send regularly: {Phrases.List(unheard)}.";
        return gone.Length > 0
            ? (ComparisonReport.Fixed, $"Fixed: {Phrases.List(gone)}. Not found in {heard} after, which is long enough to say so, and nothing is new or worse.{but}")
            : before.Findings.Any(finding => finding.Report.Severity != "note" && finding.Report.Finding != Catalogue.BusNotSeen.Name)
            ? (ComparisonReport.NoWorse, $"No worse: what was wrong before is only worth a note now, and nothing is new or worse in {heard} after.{but}")
            : (ComparisonReport.NoWorse, $"No worse: nothing was wrong before that would have to be gone, and nothing is new or worse in {heard} after.{but}");

        IEnumerable<string> Of(string outcome) => things.Where(thing => thing.Outcome == outcome).Select(thing => thing.What);
    }

    private static string Undecided(ComparedFinding[] open)
    {
        string[] short_ = [.. open.Where(thing => thing.Outcome == ComparedFinding.NotSeenAgain).Select(thing => thing.What)];
        string[] hidden = [.. open.Where(thing => thing.Outcome == ComparedFinding.CannotTell).Select(thing => thing.What)];
        double? more = open.Max(thing => thing.MoreSeconds);
        string sentence = hidden.Length == 0 ? "Can't tell yet." : "Can't tell.";
        if (hidden.Length > 0)
        {
            sentence += $" {Capital(Phrases.List(hidden))}: {LowerFirst(open.First(thing => thing.Outcome == ComparedFinding.CannotTell).Why)}";
        }

        if (short_.Length > 0)
        {
            sentence += $" {Capital(Phrases.List(short_))}: not seen again, but that may be chance; listen {Text.Seconds(more ?? 0)} more.";
        }

        return sentence;
    }

    private static bool Heard(ObservedPeriod period) => period.Buses.Any(bus => bus.Totals.Frames > 0);

    private static string Capital(string text) => char.ToUpperInvariant(text[0]) + text[1..];

    private static string LowerFirst(string text) => text.Length > 1 && char.IsLower(text[1]) ? char.ToLowerInvariant(text[0]) + text[1..] : text;
}
