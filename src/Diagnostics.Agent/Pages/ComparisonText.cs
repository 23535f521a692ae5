using System.Text;
using Diagnostics.Core.Comparison;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Agent.Pages.TextLayout;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>A comparison as text, 80 columns: the verdict, the two sides, what became of each finding, the counts.</summary>
internal static class ComparisonText
{
    /// <summary>Notes are listed apart, whatever became of them.</summary>
    private static readonly (string Outcome, string Heading)[] Groups =
    [
        (ComparedFinding.New, "What is new"),
        (ComparedFinding.StillThere, "What is still there"),
        (ComparedFinding.CannotTell, "What can’t be told"),
        (ComparedFinding.NotSeenAgain, "What was not seen again, but not for long enough"),
        (ComparedFinding.Gone, "What is gone"),
    ];

    public static string Render(ComparisonReport comparison, TimeZoneInfo zone)
    {
        StringBuilder text = new();
        Times before = TimesOf(comparison.Before, zone);
        Times after = TimesOf(comparison.After, zone);
        Wrap(text, string.Empty, comparison.Sentence);
        text.Append('\n');
        Side(text, "before", comparison.Before, before);
        Side(text, "after", comparison.After, after);
        foreach (string remark in new[] { before.Remark?.English, after.Remark?.English }.OfType<string>().Distinct())
        {
            Wrap(text, "- ", remark);
        }

        foreach (string limit in comparison.Limits)
        {
            Wrap(text, "- ", limit);
        }

        if (MaySayNoErrors(comparison))
        {
            Wrap(text, "- ", "If both sides were recorded with the same adapter and settings, say --same-recorder: then a record without error messages had no errors.");
        }

        foreach ((string outcome, string heading) in Groups)
        {
            Group(text, heading, comparison, finding => finding.Severity != "note" && finding.Outcome == outcome, before, after);
        }

        Nodes(text, comparison);
        Group(text, "Worth knowing, and not judged", comparison, finding => finding.Severity == "note", before, after);
        Rates(text, comparison);
        Heading(text, "How this was judged");
        Wrap(text, string.Empty, $"At {Words.Percent(comparison.ConfidenceLevel)} confidence. Gone means: had nothing changed, it would have been found again with that probability. More or fewer than chance explains: by the exact conditional test of two rates, corrected for all rates that are listed. Both take events for independent; what comes in clusters needs longer. Loads are shown, not judged.");
        return text.ToString().TrimEnd('\n');
    }

    private static Times TimesOf(ComparedSide side, TimeZoneInfo zone) =>
        new(new(side.Kind is "log" or "bundle" ? "live" : "trace", side.Name, side.Start, side.End, new(0, 0, 0, [])), zone);

    private static bool MaySayNoErrors(ComparisonReport comparison) =>
        comparison.Before.Buses.Zip(comparison.After.Buses).Any(bus => (bus.First.ErrorEpisodes is null) != (bus.Second.ErrorEpisodes is null));

    private static void Side(StringBuilder text, string label, ComparedSide side, Times times)
    {
        string span = side is { Start: { } start, End: { } end } ? $"{times.Full(start)} to {times.Full(end)}" : "nothing was heard";
        Labelled(text, label, $"{side.Name} ({side.Kind}), {span}");
        foreach (ComparedBus bus in side.Buses)
        {
            string load = bus.LoadMean is { } mean ? $", load {Words.Percent(mean)} on average{(bus.LoadPeak1s is { } peak ? $" and {Words.Percent(peak)} in the busiest second" : string.Empty)}" : string.Empty;
            Labelled(text, string.Empty, $"{bus.Interface}: {Times.Span(bus.HeardSeconds)} heard, {Words.Amount(bus.Frames, "frame")}{load}");
        }
    }

    private static void Group(StringBuilder text, string heading, ComparisonReport comparison, Func<ComparedFinding, bool> belongs, Times before, Times after)
    {
        (ComparedFinding Finding, int Number)[] entries = [.. comparison.Findings.Select((finding, place) => (finding, place + 1)).Where(entry => belongs(entry.finding))];
        if (entries.Length == 0)
        {
            return;
        }

        Heading(text, heading);
        foreach ((ComparedFinding finding, int number) in entries)
        {
            string severity = finding.ExplainedBy is { } leader ? $"PART OF {leader + 1}" : Words.Severity(finding.Severity).English.ToUpperInvariant();
            Wrap(text, $"{number}. ", $"{severity}: {Words.Capital(finding.What)} [{finding.Finding}]");
            Labelled(text, "why", finding.Why);
            Labelled(text, finding.After is null ? "it was" : "it is", finding.Summary);
            Labelled(text, "before", finding.Before is { } earlier ? When(earlier, before) : null);
            Labelled(text, "after", finding.After is { } later ? When(later, after) : null);
        }
    }

    private static string When(FindingSide side, Times times) =>
        side.End is { } end ? $"first {times.Short(side.Start)}, last {times.Short(end)}" : $"since {times.Short(side.Start)}, and still so at the end";

    private static void Nodes(StringBuilder text, ComparisonReport comparison)
    {
        if (comparison.Nodes.Count == 0)
        {
            return;
        }

        Heading(text, "Who came and who went");
        bool areSeveral = comparison.Before.Buses.Count > 1 || comparison.After.Buses.Count > 1;
        foreach (ComparedNode node in comparison.Nodes)
        {
            string name = $"node {node.Address}{(node.Name is null ? string.Empty : $" “{node.Name}”")}{(areSeveral ? " on " + node.Interface : string.Empty)}";
            Wrap(text, "- ", node.Change switch
            {
                ComparedNode.Missing => $"MISSING: {name} was heard before and not once after, though it sends regularly.",
                ComparedNode.NotHeard => $"{name} was heard before and not after; that it sends regularly isn’t known.",
                _ => $"{name} was heard after and not before.",
            });
        }
    }

    private static void Rates(StringBuilder text, ComparisonReport comparison)
    {
        ComparedRate[] shown = [.. comparison.Rates.Where(rate => rate.Of != "node-errors" || rate.Change != ComparedRate.Chance)];
        if (comparison.Rates.Count == 0)
        {
            return;
        }

        Heading(text, "What was counted");
        foreach (ComparedRate rate in shown)
        {
            string change = (rate.Change, rate.Probability) switch
            {
                (_, null) => "none on either side",
                (ComparedRate.Higher, _) when rate.NotJudgedBecause is { } because => $"more than chance explains{Factor(rate)}, but {because}",
                (ComparedRate.Higher, _) => $"MORE than chance explains{Factor(rate)}",
                (ComparedRate.Lower, _) => $"fewer than chance explains{Factor(rate)}",
                _ => $"no difference beyond chance{Factor(rate)}",
            };
            Wrap(text, "- ", $"{Words.Capital(rate.What)}: before {Side(rate.Before, rate.Unit)}; after {Side(rate.After, rate.Unit)}: {change}.");
        }

        if (comparison.Rates.Count > shown.Length)
        {
            Wrap(text, "- ", $"{Words.Amount(comparison.Rates.Count - shown.Length, "count")} of single nodes without a difference beyond chance {(comparison.Rates.Count - shown.Length == 1 ? "stands" : "stand")} in the document (--json).");
        }
    }

    private static string Side(RateSide side, string unit)
    {
        Sentence exposure = unit == "h" ? Times.Span(side.Exposure * 3600) : Words.Amount((long)Math.Min(side.Exposure, 1e18), unit);
        Sentence low = Rate(side.Low, unit);
        string bounds = side.Count == 0 ? $"at most {Rate(side.High, unit)}" : $"{Rate(side.Rate, unit)}, between {low} and {Rate(side.High, unit)}";
        return $"{Words.Count(side.Count)} in {exposure} ({bounds})";
    }

    private static Sentence Rate(double rate, string unit) => unit == "h" ? Say($"{Words.Number(rate)} an hour") : Words.Rarity(rate);

    /// <summary>How many times as many, with its interval and the corrected probability of such a difference by chance.</summary>
    private static string Factor(ComparedRate rate)
    {
        string between = (rate.RatioLow, rate.RatioHigh) switch
        {
            ({ } low, { } high) => $"{Words.Number(low)} to {Words.Number(high)} times as many",
            ({ } low, null) => $"at least {Words.Number(low)} times as many",
            _ => string.Empty,
        };
        string probability = rate.ProbabilityCorrected is { } p ? (p < 0.0001 ? "p < 0.0001" : $"p = {p.ToString("0.####", System.Globalization.CultureInfo.InvariantCulture)}") : string.Empty;
        return between.Length > 0 ? $" ({between}, {probability})" : string.Empty;
    }
}
