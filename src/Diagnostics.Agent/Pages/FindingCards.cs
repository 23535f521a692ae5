using Diagnostics.Core.Reporting;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The findings, what lasts and worst first: what, where, since when, how sure, by what, and what to do next.</summary>
internal static class FindingCards
{
    /// <summary>From here on a list to jump from is worth its place.</summary>
    private const int ListFrom = 3;

    public static void Write(HtmlWriter page, PageModel model)
    {
        Report report = model.Report;
        IReadOnlyList<ToldFinding> findings = ToldFinding.Of(report);
        page.Literal("<section id=\"findings\"><h2>What is wrong, and where to look</h2>");
        if (findings.Count == 0)
        {
            page.Add($"<p>{Verdict.NoFindings(report)}</p>");
        }

        else
        {
            page.Add($"<p class=\"assumed\">{Cautions.Assumed}</p>");
        }

        if (findings.Count >= ListFrom)
        {
            page.Literal("<ol class=\"overview\">");
            foreach (ToldFinding told in findings.Where(told => told.ExplainedBy is null))
            {
                FindingReport finding = told.Finding;
                page.Add($"<li><a href=\"#{PageRenderer.Anchor(told.Finding)}\"><span class=\"shape\" aria-hidden=\"true\">{(told.IsOver ? "□" : Words.Shape(told.Finding.Severity))}</span> <span>{(told.IsOver ? $"Over, {model.Times.Moments(finding.Start, finding.End ?? finding.Start, finding.Count > 1)}" : Words.Severity(told.Finding.Severity))}: {Words.Capital(finding.Summary)}</span></a></li>");
            }

            page.Literal("</ol>");
        }

        foreach (ToldFinding told in findings)
        {
            Card(page, model, told);
        }

        page.Literal("</section>");
    }

    /// <summary>Those of one thing, on its own page; what follows from a finding that isn't among them stands for itself.</summary>
    public static void Few(HtmlWriter page, PageModel model, IReadOnlyList<ToldFinding> findings)
    {
        if (findings.Count == 0)
        {
            return;
        }

        page.Add($"<section id=\"findings\"><h2>{Say($"What was found on it")}</h2><p class=\"assumed\">{Cautions.Assumed}</p>");
        foreach (ToldFinding told in findings)
        {
            Card(page, model, told.ExplainedBy is { } leader && !findings.Contains(leader) ? told with { ExplainedBy = null } : told);
        }

        page.Literal("</section>");
    }

    /// <summary>Since when, how often, and whether it lasts. The report tells when it was seen first and last, not each time.</summary>
    public static string When(FindingReport finding, PageModel model)
    {
        string first = model.Times.Short(finding.Start);
        string often = finding.Count > 1 ? $", {Words.Count(finding.Count)} times in all" : string.Empty;
        if (finding.End is not { } over)
        {
            return finding.Count > 1 ? $"first at {first}{often}, again now"
                : $"since {first}" + (model.Report.Source.End is { } now ? $", for {Times.Span(now.SecondsSince(finding.Start))}, still so" : ", still so");
        }

        string last = model.Times.Short(over);
        return first == last ? $"at {first}{often}" : finding.Count > 1
            ? $"between {first} and {last}{often}, over now"
            : $"from {first} to {last}, for {Times.Span(over.SecondsSince(finding.Start))}, over now";
    }

    private static void Card(HtmlWriter page, PageModel model, ToldFinding told)
    {
        Report report = model.Report;
        FindingReport finding = told.Finding;
        string anchor = PageRenderer.Anchor(told.Finding);
        page.Add($"<article class=\"finding is-{PageRenderer.Class(told.Finding.Severity)}{(told.ExplainedBy is null ? string.Empty : " follows")}\" id=\"{anchor}\">");
        if (told.ExplainedBy is { } leader)
        {
            page.Add($"<p class=\"part-of\">Part of the same trouble: <a href=\"#{PageRenderer.Anchor(leader.Finding)}\">what to do stands there</a></p>");
        }

        page.Add($"<p class=\"tag\"><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(told.Finding.Severity)}</span> {Words.Severity(told.Finding.Severity)}{(finding.End is null ? string.Empty : ", over now")} <span class=\"code\">{finding.Finding}</span></p>");
        page.Add($"<h3>{Words.Capital(finding.Summary)}</h3><dl class=\"facts\"><dt>Where</dt><dd>");
        bool isFirst = true;
        foreach (string part in Words.Where(report, finding))
        {
            page.Add($"{(isFirst ? string.Empty : ", ")}<bdi>{part}</bdi>");
            isFirst = false;
        }

        page.Add($"</dd><dt>When</dt><dd>{When(finding, model)}</dd>");
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
                page.Add($"<li><time datetime=\"{Times.Machine(evidence.Time)}\">{model.Times.Exact(evidence.Time)}</time> {evidence.Text}</li>");
            }

            page.Literal("</ol></details>");
        }

        Marks.OfFinding(page, model, finding);
        if (told.ExplainedBy is null)
        {
            Causes(page, finding, anchor);
        }

        Taken(page, model, finding, anchor);
        page.Literal("</article>");
    }

    /// <summary>Who took note of it, or a way to.</summary>
    private static void Taken(HtmlWriter page, PageModel model, FindingReport finding, string anchor)
    {
        if (model.AcknowledgementOf(finding) is { } known)
        {
            page.Add($"<p class=\"taken\"><span aria-hidden=\"true\">✓</span> {(known.Note.Length > 0 ? Say($"Acknowledged {model.Times.Short(known.Time)}: {known.Note}") : Say($"Acknowledged {model.Times.Short(known.Time)}."))}</p>");
        }
        else if (model.CanAct)
        {
            page.Add($"<details id=\"{anchor}-acknowledge\" class=\"acts\"><summary>{Say($"Acknowledge it")}</summary><form method=\"post\" action=\"{ReportPart.AcknowledgePath}\"><input type=\"hidden\" name=\"{ReportPart.KeyField}\" value=\"{finding.Key}\">");
            page.Add($"<p class=\"entry\"><label for=\"{anchor}-note\">{Say($"What was done, or why it may wait; may be empty")}</label><input id=\"{anchor}-note\" name=\"{Marks.NoteField}\" maxlength=\"{Limits.NoteLength}\" autocomplete=\"off\"><button>{Say($"Acknowledge")}</button></p></form>");
            page.Add($"<p>{Say($"It stays in the list; that somebody took note of it is kept in the log. If it comes back, it asks again.")}</p></details>");
        }
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

    internal static void Cause(HtmlWriter page, CauseReport cause)
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
