using System.Globalization;
using System.Text;
using Diagnostics.Core.Counting;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>The published table, in Markdown. All intervals are exact and hold at 95 %.</summary>
internal static class AccuracyTable
{
    private const double Level = 0.95;

    public static string Write(IReadOnlyList<SiteRun> runs, ulong seed)
    {
        StringBuilder text = new();
        SiteRun[] faulty = [.. runs.Where(run => run.Scenario.Finding is not null)];
        SiteRun[] clean = [.. runs.Where(run => run.IsClean && run.Report is not null)];
        Line(text, $"{runs.Count(run => run.Report is not null)} simulated site runs, {runs.Where(run => run.Report is not null).Sum(run => run.Hours):0} site-hours, seeds {seed}–{seed + (ulong)runs.Count - 1} (those below {AccuracyCommand.PublishedSeeds} served for tuning). Sites of 5–60 nodes, 20–250 kbit/s, drawn at random. Intervals: 95 %, exact (Clopper and Pearson 1934; Garwood 1936).");
        Line(text, $"");
        Line(text, $"## Faults found");
        Line(text, $"");
        Line(text, $"| staged | finding | found | recall | interval | median delay | 95 % within | can't show | can show if |");
        Line(text, $"| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | --- |");
        foreach (IGrouping<Scenario, SiteRun> group in faulty.GroupBy(run => run.Scenario))
        {
            Row(text, group.Key.Name, group.Key.Finding!, [.. group], group.Key.Rule);
        }

        Line(text, $"");
        Line(text, $"## By finding");
        Line(text, $"");
        Line(text, $"| finding | found | recall | interval | median delay | 95 % within |");
        Line(text, $"| --- | ---: | ---: | ---: | ---: | ---: |");
        foreach (IGrouping<string, SiteRun> group in faulty.GroupBy(run => run.Scenario.Finding!).OrderBy(group => group.Key, StringComparer.Ordinal).Append(faulty.GroupBy(_ => "all").FirstOrDefault()!))
        {
            if (group is not null)
            {
                Line(text, $"| {group.Key} | {Recall([.. group])} |");
            }
        }

        Clean(text, clean);
        Claims(text, runs, faulty, clean);
        return text.ToString();
    }

    private static void Row(StringBuilder text, string name, string finding, SiteRun[] runs, string rule) =>
        Line(text, $"| {name} | {finding} | {Recall(runs)} | {runs.Count(run => !run.CanShow)} | {rule} |");

    private static string Recall(SiteRun[] runs)
    {
        SiteRun[] able = [.. runs.Where(run => run.CanShow && run.Report is not null)];
        double[] delays = [.. able.Where(run => run.Delay is not null).Select(run => run.Delay!.Value).Order()];
        if (able.Length == 0)
        {
            return "0 of 0 | – | – | – | –";
        }

        (double low, double high) = ExactIntervals.Binomial(delays.Length, able.Length, Level);
        string times = delays.Length == 0 ? "– | –" : Text($"{Seconds(Quantile(delays, 0.5))} | {Seconds(Quantile(delays, 0.95))}");
        return Text($"{delays.Length} of {able.Length} | {Percent(delays.Length / (double)able.Length)} | {Percent(low)}–{Percent(high)} | {times}");
    }

    private static void Clean(StringBuilder text, SiteRun[] clean)
    {
        Line(text, $"");
        Line(text, $"## False alarms where nothing is wrong");
        Line(text, $"");
        Line(text, $"Findings of severity fault or warning that nothing staged explains.");
        Line(text, $"");
        Line(text, $"| staged | runs | site-hours | false alarms | in 100 site-hours | interval |");
        Line(text, $"| --- | ---: | ---: | ---: | ---: | ---: |");
        foreach (IGrouping<string, SiteRun> group in clean.GroupBy(run => run.Scenario.Name).Append(clean.GroupBy(_ => "all").FirstOrDefault()!))
        {
            if (group is null)
            {
                continue;
            }

            double hours = group.Sum(run => run.Hours);
            int alarms = group.Sum(run => run.FalseAlarms.Count);
            (double low, double high) = ExactIntervals.Poisson(alarms, Level);
            Line(text, $"| {group.Key} | {group.Count()} | {hours:0.0} | {alarms} | {100 * alarms / hours:0.0} | {100 * low / hours:0.0}–{100 * high / hours:0.0} |");
        }

        Line(text, $"");
        Line(text, $"Asked: at most 1 in 100 site-hours.");
        foreach (IGrouping<string, Core.Reporting.FindingReport> kind in clean.SelectMany(run => run.FalseAlarms).GroupBy(finding => finding.Finding).OrderByDescending(group => group.Count()))
        {
            Line(text, $"");
            Line(text, $"{kind.Key}: {kind.Count()}.");
        }
    }

    private static void Claims(StringBuilder text, IReadOnlyList<SiteRun> runs, SiteRun[] faulty, SiteRun[] clean)
    {
        Line(text, $"");
        Line(text, $"## Against published anchors");
        Line(text, $"");
        Line(text, $"| claim | asked | measured | met |");
        Line(text, $"| --- | --- | --- | --- |");

        double[] errors = [.. runs.Where(run => run.LoadError is not null).Select(run => run.LoadError!.Value)];
        if (errors.Length > 0)
        {
            Claim(text, "T1 mean load against the bits that the simulation put on the wire", "error at most 0.1 %", $"largest of {errors.Length} runs {100 * errors.Max():0.0000} %", errors.Max() <= 0.001);
        }

        SiteRun[] thirty = [.. clean.Where(run => run.Options is not null)];
        double hours = thirty.Sum(run => run.Hours);
        if (hours > 0)
        {
            int duplicates = thirty.Sum(run => run.FalseAlarms.Count(finding => finding.Finding == "node.duplicate-address"));
            Claim(text, "T2 false duplicates on a clean bus of 30 nodes", "at most 1 in 60 h", $"{duplicates} in {hours:0} h, interval {60 * ExactIntervals.Poisson(duplicates, Level).Low / hours:0.00}–{60 * ExactIntervals.Poisson(duplicates, Level).High / hours:0.00} in 60 h", duplicates * 60 <= hours);
        }

        SiteRun[] grades = [.. runs.Where(run => run.Grade is not null && run.Report is not null)];
        if (grades.Length > 0)
        {
            int right = grades.Count(run => run.GradeIsRight);
            (double low, double high) = ExactIntervals.Binomial(right, grades.Length, Level);
            SiteRun[] graded = [.. grades.Where(run => run.IntervalHoldsRatio is not null)];
            Claim(text, "T5 grade of the error rate (1e-9: none, 6e-8: warning, 5e-6: fault)", "only when the interval excludes the neighbouring class", $"{right} of {grades.Length} right, {Percent(low)}–{Percent(high)}; the reported interval holds the true ratio in {graded.Count(run => run.IntervalHoldsRatio == true)} of {graded.Length}", right == grades.Length);
        }

        SiteRun[] told = [.. faulty.Where(run => run.Delay is not null)];
        if (told.Length > 0)
        {
            int most = told.Max(run => run.FalseAlarmsBeforeTruth);
            Claim(text, "T8 false alarms before the first true detection", "at most 1", $"at most {most}; none in {told.Count(run => run.FalseAlarmsBeforeTruth == 0)} of {told.Length}", most <= 1);
            int unexplained = faulty.Sum(run => run.FalseAlarms.Count);
            Line(text, $"| beside a fault: findings that it doesn't explain | – | {unexplained} in {faulty.Count(run => run.Report is not null)} runs | – |");
        }

        if (clean.Length > 0)
        {
            int most = clean.Max(run => run.MostFindingsInTenMinutes);
            Claim(text, "T9 findings that stand for themselves, in any ten minutes where nothing is wrong", "at most 1", $"at most {most}", most <= 1);
        }

        if (told.Length > 0)
        {
            int worst = faulty.Where(run => run.Report is not null).Max(run => run.MostFindingsInTenMinutes);
            double mean = faulty.Where(run => run.Report is not null).Sum(run => run.Report!.Findings.Count(finding => finding is { Severity: not "note", ExplainedBy: null })) / faulty.Where(run => run.Report is not null).Sum(run => run.Hours * 6);
            Claim(text, "T9 findings that stand for themselves, in ten minutes while a fault is there", "at most 1 on average, 10 in a flood", $"{mean:0.00}; at most {worst}", mean <= 1 && worst <= 10);
        }

        int chattering = runs.Sum(run => run.Chattering);
        Claim(text, "T9 findings that open and close three times a minute", "none", $"{chattering}", chattering == 0);
    }

    private static void Claim(StringBuilder text, string claim, string asked, FormattableString measured, bool met) =>
        Line(text, $"| {claim} | {asked} | {Text(measured)} | {(met ? "yes" : "no")} |");

    private static double Quantile(double[] sorted, double share) => sorted[Math.Min(sorted.Length - 1, (int)Math.Ceiling(share * sorted.Length) - 1)];

    private static string Seconds(double seconds) => seconds < 120 ? Text($"{seconds:0.0} s") : Text($"{seconds / 60:0.0} min");

    private static string Percent(double ratio) => Text($"{100 * ratio:0.#} %");

    private static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    private static void Line(StringBuilder text, FormattableString line) => text.Append(Text(line)).Append('\n');
}
