using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The findings of a hand-over record: what, where, when, how sure, and what to check next. A reader on paper can't open anything, so each is short.</summary>
internal static class RecordFindings
{
    public static void Write(HtmlWriter page, PageModel model)
    {
        IReadOnlyList<ToldFinding> findings = ToldFinding.Of(model.Report);
        page.Add($"<section class=\"found\"><h2>{Say($"What was found, and where to look")}</h2>");
        page.Add($"<p>{(findings.Count == 0 ? Verdict.NoFindings(model.Report) : Cautions.Assumed)}</p>");
        foreach (ToldFinding told in findings.Take(Limits.FindingsOnRecord))
        {
            Finding(page, model, told);
        }

        if (findings.Count > Limits.FindingsOnRecord)
        {
            int more = findings.Count - Limits.FindingsOnRecord;
            page.Add($"<p>{Say(more, $"{more:N0} more stands in the report document.", $"{more:N0} more stand in the report document.")}</p>");
        }

        page.Literal("</section>");
    }

    /// <summary>What the log has of other runs: the verdict speaks of one only.</summary>
    public static void OfOtherRuns(HtmlWriter page, PageModel model)
    {
        if (model.Earlier is not { Findings.Count: > 0 } earlier)
        {
            return;
        }

        page.Add($"<section class=\"earlier\"><h2>{(model.ReadFrom is null ? Say($"Found before this start") : Say($"Found in other runs of this log"))}</h2><ul>");
        foreach (FindingReport finding in earlier.Findings)
        {
            page.Add($"<li><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(finding.Severity)}</span> {Words.Severity(finding.Severity)}: {finding.SummarySaid} ");
            page.Add($"{(finding.End is { } end ? Say($"From {model.Times.Full(finding.Start)} to {model.Times.Full(end)}.") : Say($"From {model.Times.Full(finding.Start)}, and still so when that run ended."))}</li>");
        }

        page.Literal("</ul></section>");
    }

    private static void Finding(HtmlWriter page, PageModel model, ToldFinding told)
    {
        FindingReport finding = told.Finding;
        page.Add($"<article class=\"finding is-{PageRenderer.Class(finding.Severity)}{(told.ExplainedBy is null ? string.Empty : " follows")}\">");
        FindingCards.Facts(page, model, finding, leadsToTime: false);
        if (told.ExplainedBy is not null)
        {
            page.Add($"<dt>{Say($"Look here next")}</dt><dd>{Say($"Part of the trouble above; what to do stands there.")}</dd></dl></article>");
            return;
        }

        page.Literal("</dl>");
        Causes(page, finding);
        page.Literal("</article>");
    }

    private static void Causes(HtmlWriter page, FindingReport finding)
    {
        if (finding.Causes.Count == 0)
        {
            return;
        }

        page.Add($"<div class=\"next\"><h4>{Say($"Look here next")}</h4>");
        FindingCards.Cause(page, finding.Causes[0]);
        CauseReport[] others = [.. finding.Causes.Skip(1).Take(Limits.FurtherCauses)];
        if (others.Length > 0)
        {
            page.Add($"<p class=\"others\">{Say($"If it isn’t that:")} ");
            foreach (CauseReport cause in others)
            {
                page.Literal(cause == others[0] ? string.Empty : "; ");
                page.Add($"{Words.Cause(cause.Cause)} ({Words.Probability(cause.Probability)})");
            }

            page.Literal(".</p>");
        }

        page.Literal("</div>");
    }
}
