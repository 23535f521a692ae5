using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Agent.Pages;

/// <summary>The findings, worst first as the report orders them: what, where, since when, how sure, by what, and what to do next.</summary>
internal static class FindingCards
{
    /// <summary>From here on a list to jump from is worth its place.</summary>
    private const int ListFrom = 3;

    public static void Write(HtmlWriter page, Report report)
    {
        page.Literal("<section id=\"findings\"><h2>What is wrong, and where to look</h2>");
        if (report.Findings.Count == 0)
        {
            page.Add($"<p>{Verdict.NoFindings(report)}</p>");
        }

        if (report.Findings.Count >= ListFrom)
        {
            page.Literal("<ol class=\"overview\">");
            for (int position = 0; position < report.Findings.Count; position++)
            {
                FindingReport finding = report.Findings[position];
                page.Add($"<li><a href=\"#{PageRenderer.Anchor(position)}\"><span class=\"shape\" aria-hidden=\"true\">{(finding.End is null ? Words.Shape(finding.Severity) : "□")}</span> <span>{(finding.End is null ? Words.Severity(finding.Severity) : $"Over since {Times.Short(finding.End.Value, report.Source.End)}")}: {finding.Summary}</span></a></li>");
            }

            page.Literal("</ol>");
        }

        for (int position = 0; position < report.Findings.Count; position++)
        {
            Card(page, report, report.Findings[position], PageRenderer.Anchor(position));
        }

        page.Literal("</section>");
    }

    /// <summary>Since when, and whether it lasts.</summary>
    public static string Since(FindingReport finding, Instant? end)
    {
        string since = Times.Short(finding.Start, end);
        return finding.End is { } over
            ? $"{since} until {Times.Short(over, end)} ({Times.Span(over.SecondsSince(finding.Start))}), over now"
            : since + (end is { } now ? $", for {Times.Span(now.SecondsSince(finding.Start))}, still so" : ", still so");
    }

    private static void Card(HtmlWriter page, Report report, FindingReport finding, string anchor)
    {
        Instant? end = report.Source.End;
        page.Add($"<article class=\"finding is-{PageRenderer.Class(finding.Severity)}\" id=\"{anchor}\">");
        page.Add($"<p class=\"tag\"><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(finding.Severity)}</span> {Words.Severity(finding.Severity)}{(finding.End is null ? string.Empty : ", over now")} <span class=\"code\">{finding.Finding}</span></p>");
        page.Add($"<h3>{finding.Summary}</h3><dl class=\"facts\"><dt>Where</dt><dd>");
        bool isFirst = true;
        foreach (string part in Words.Where(report, finding))
        {
            page.Add($"{(isFirst ? string.Empty : ", ")}<bdi>{part}</bdi>");
            isFirst = false;
        }

        page.Add($"</dd><dt>Since</dt><dd>{Since(finding, end)}</dd>");
        if (finding.Count > 1)
        {
            page.Add($"<dt>How often</dt><dd>{finding.Count} times</dd>");
        }

        page.Add($"<dt>How sure</dt><dd>{Words.Confidence(finding.Confidence)}</dd>");
        foreach (MeasurementReport measurement in finding.Measurements)
        {
            (string name, string value) = Words.Measurement(measurement);
            page.Add($"<dt>{name}</dt><dd>{value}</dd>");
        }

        page.Literal("</dl>");
        if (finding.Evidence.Count > 0)
        {
            page.Add($"<details id=\"{anchor}-evidence\"><summary>What was seen ({finding.Evidence.Count})</summary><ol class=\"evidence\">");
            foreach (EvidenceReport evidence in finding.Evidence)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(evidence.Time)}\">{Times.Exact(evidence.Time, end)}</time> {evidence.Text}</li>");
            }

            page.Literal("</ol></details>");
        }

        Causes(page, finding, anchor);
        page.Literal("</article>");
    }

    private static void Causes(HtmlWriter page, FindingReport finding, string anchor)
    {
        if (finding.Causes.Count == 0)
        {
            return;
        }

        page.Literal("<div class=\"next\"><h4>Look here next</h4>");
        Cause(page, finding.Causes[0]);
        page.Literal("</div>");
        CauseReport[] others = finding.Causes.Skip(1).Take(Limits.FurtherCauses).ToArray();
        if (others.Length == 0)
        {
            return;
        }

        page.Add($"<details id=\"{anchor}-causes\"><summary>If it isn’t that: {others.Length} other {(others.Length == 1 ? "cause" : "causes")}</summary>");
        foreach (CauseReport cause in others)
        {
            page.Literal("<div class=\"other\">");
            Cause(page, cause);
            page.Literal("</div>");
        }

        page.Literal("</details>");
    }

    private static void Cause(HtmlWriter page, CauseReport cause)
    {
        page.Add($"<p class=\"cause\"><b>{Words.Cause(cause.Cause)}</b> <span class=\"probability\">{Words.Probability(cause.Probability)}</span></p>");
        Line(page, "why", "Because", cause.Why);
        Line(page, "check", "Check", cause.NextCheck);
        Line(page, "expect", "Expect", cause.Expect);
        Line(page, "caution", "Careful", cause.Caution);
    }

    private static void Line(HtmlWriter page, string name, string label, string? text)
    {
        if (!string.IsNullOrWhiteSpace(text))
        {
            page.Add($"<p class=\"{name}\"><b>{label}:</b> {text}</p>");
        }
    }
}
