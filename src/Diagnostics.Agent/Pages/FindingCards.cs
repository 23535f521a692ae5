using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
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
        page.Add($"<section id=\"findings\"><h2>{Say($"What is wrong, and where to look")}</h2>");
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
                Sentence summary = Capital(finding.SummarySaid);
                Sentence line = told.IsOver
                    ? Say($"Over, {model.Times.Moments(finding.Start, finding.End ?? finding.Start, finding.Count > 1)}: {summary}")
                    : Say($"{Words.Severity(finding.Severity)}: {summary}");
                page.Add($"<li><a href=\"#{PageRenderer.Anchor(finding)}\"><span class=\"shape\" aria-hidden=\"true\">{(told.IsOver ? "□" : Words.Shape(finding.Severity))}</span> <span>{line}</span></a></li>");
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
    public static Sentence When(FindingReport finding, PageModel model)
    {
        Sentence first = model.Times.Short(finding.Start);
        if (finding.End is not { } over)
        {
            return finding.Count > 1 ? Say($"first at {first}, {finding.Count:N0} times in all, again now")
                : model.Report.Source.End is { } now ? Say($"since {first}, for {Times.Span(now.SecondsSince(finding.Start))}, still so")
                : Say($"since {first}, still so");
        }

        Sentence last = model.Times.Short(over);
        bool isMoment = first == last;
        return (isMoment, finding.Count > 1) switch
        {
            (true, true) => Say($"at {first}, {finding.Count:N0} times in all"),
            (true, _) => Say($"at {first}"),
            (_, true) => Say($"between {first} and {last}, {finding.Count:N0} times in all, over now"),
            _ => Say($"from {first} to {last}, for {Times.Span(over.SecondsSince(finding.Start))}, over now"),
        };
    }

    /// <summary>What a reader on a ladder needs of it at once, below the sentence that says what it is and since when; the card has the rest.</summary>
    public static void Glance(HtmlWriter page, FindingReport finding)
    {
        Line(page, "sure", Say($"How sure"), Words.Confidence(finding.Confidence));
        if (finding.Causes is [var likeliest, ..])
        {
            Line(page, "check", Say($"Check first"), likeliest.NextCheckSaid);
            Line(page, "caution", Say($"Careful"), likeliest.CautionSaid);
        }

        page.Add($"<p class=\"to-finding\"><a href=\"#{PageRenderer.Anchor(finding)}\">{Say($"Why, and what to expect there")}</a></p>");
    }

    private static void Card(HtmlWriter page, PageModel model, ToldFinding told)
    {
        FindingReport finding = told.Finding;
        string anchor = PageRenderer.Anchor(told.Finding);
        page.Add($"<article class=\"finding is-{PageRenderer.Class(told.Finding.Severity)}{(told.ExplainedBy is null ? string.Empty : " follows")}\" id=\"{anchor}\">");
        if (told.ExplainedBy is { } leader)
        {
            page.Add($"<p class=\"part-of\">{Say($"Part of the same trouble:")} <a href=\"#{PageRenderer.Anchor(leader.Finding)}\">{Say($"what to do stands there")}</a></p>");
        }

        Facts(page, model, finding, leadsToTime: true);
        page.Literal("</dl>");
        if (finding.Evidence.Count > 0)
        {
            page.Add($"<details id=\"{anchor}-evidence\"><summary>{Say($"What was seen ({finding.Evidence.Count})")}</summary><ol class=\"evidence\">");
            foreach (EvidenceReport evidence in finding.Evidence)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(evidence.Time)}\">{model.Times.Exact(evidence.Time)}</time> {evidence.Said}</li>");
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

    /// <summary>What, where, when, how sure, by which numbers; the list of facts is left open for who has more of them.</summary>
    internal static void Facts(HtmlWriter page, PageModel model, FindingReport finding, bool leadsToTime)
    {
        page.Add($"<p class=\"tag\"><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(finding.Severity)}</span> {(finding.End is null ? Words.Severity(finding.Severity) : Say($"{Words.Severity(finding.Severity)}, over now"))} <span class=\"code\">{finding.Finding}</span></p>");
        page.Add($"<h3>{Capital(finding.SummarySaid)}</h3><dl class=\"facts\"><dt>{Say($"Where")}</dt><dd>");
        bool isFirst = true;
        foreach (Sentence part in Words.Where(model.Report, finding))
        {
            page.Add($"{(isFirst ? string.Empty : ", ")}<bdi>{part}</bdi>");
            isFirst = false;
        }

        page.Add($"</dd><dt>{Say($"When")}</dt><dd>{When(finding, model)}");
        if (leadsToTime)
        {
            TimeLink.Write(page, model, finding.Start);
        }

        page.Literal("</dd>");
        page.Add($"<dt>{Say($"How sure")}</dt><dd>{Words.Confidence(finding.Confidence)}</dd>");
        foreach (MeasurementReport measurement in finding.Measurements)
        {
            (Sentence name, Sentence value) = Words.Measurement(measurement);
            page.Add($"<dt>{name}</dt><dd>{value}</dd>");
        }
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

        page.Add($"<div class=\"next\"><h4>{Say($"Look here next")}</h4>");
        Cause(page, finding.Causes[0]);
        page.Literal("</div>");
        CauseReport[] others = finding.Causes.Skip(1).Take(Limits.FurtherCauses).ToArray();
        if (others.Length == 0)
        {
            return;
        }

        page.Add($"<details id=\"{anchor}-causes\"><summary>{Say(others.Length, $"If it isn’t that: 1 other cause", $"If it isn’t that: {others.Length} other causes")}</summary>");
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
        Line(page, "why", Say($"Because"), cause.WhySaid);
        Line(page, "check", Say($"Check"), cause.NextCheckSaid);
        Line(page, "expect", Say($"Expect"), cause.ExpectSaid);
        Line(page, "caution", Say($"Careful"), cause.CautionSaid);
    }

    private static void Line(HtmlWriter page, string name, Sentence label, Sentence? text)
    {
        if (text is { IsEmpty: false })
        {
            page.Add($"<p class=\"{name}\"><b>{label}:</b> {text}</p>");
        }
    }
}
