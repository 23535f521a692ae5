using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>What the log remembers from before this start: who looks on Monday must not take a quiet hour for a quiet weekend.</summary>
internal static class Before
{
    /// <summary>Up to so many stand open.</summary>
    private const int Open = 5;

    /// <summary>One line right below the verdict, which speaks of this run only.</summary>
    public static void Hint(HtmlWriter page, PageModel model)
    {
        if (model.Earlier is { Findings: [_, ..] findings } && model.ReadFrom is not null)
        {
            page.Add($"<p class=\"before\">{Say(findings.Count, $"That is the log’s last run. Of others it has one trouble:", $"That is the log’s last run. Of others it has {findings.Count:N0} troubles:")} <a href=\"#before\">{Say($"what was found then")}</a>.</p>");
        }
        else if (model.Earlier is { Findings: [_, ..] } earlier)
        {
            Sentence started = model.Times.Short(model.Report.Source.Start ?? earlier.Started);
            int count = earlier.Findings.Count;
            page.Add($"<p class=\"before\">{Say(count, $"That is since this start, {started}. Before it, the log has one trouble:", $"That is since this start, {started}. Before it, the log has {count:N0} troubles:")} <a href=\"#before\">{Say($"what was found then")}</a>.</p>");
        }
    }

    public static void Write(HtmlWriter page, PageModel model)
    {
        if (model.Earlier is not { } earlier || (earlier.Findings.Count == 0 && earlier.Remarks.Count == 0))
        {
            return;
        }

        page.Add($"<section class=\"earlier\" id=\"before\"><h2>{(model.ReadFrom is null ? Say($"Before this start") : Say($"In other runs of this log"))}</h2>");
        foreach (Sentence remark in earlier.Remarks)
        {
            page.Add($"<p>{remark}</p>");
        }

        List(page, model, earlier.Findings.Take(Open));
        if (earlier.Findings.Count > Open)
        {
            page.Add($"<details id=\"before-more\"><summary>{Say(earlier.Findings.Count - Open, $"1 older one", $"{earlier.Findings.Count - Open} older ones")}</summary>");
            List(page, model, earlier.Findings.Skip(Open));
            page.Literal("</details>");
        }

        page.Literal("</section>");
    }

    private static void List(HtmlWriter page, PageModel model, IEnumerable<FindingReport> findings)
    {
        page.Literal("<ul>");
        foreach (FindingReport finding in findings)
        {
            Sentence when = finding.End is { } end
                ? Say($"From {model.Times.Full(finding.Start)} to {model.Times.Full(end)}.")
                : Say($"From {model.Times.Full(finding.Start)} and still so when that run ended.");
            page.Add($"<li><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(finding.Severity)}</span> {Say($"{Words.Severity(finding.Severity)}: {finding.SummarySaid}")} {when}");
            Marks.OfFinding(page, model, finding);
            page.Literal("</li>");
        }

        page.Literal("</ul>");
    }
}
