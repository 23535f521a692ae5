using Diagnostics.Core.Reporting;

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
            page.Add($"<p class=\"before\">That is the log’s last run. Of others it has {Words.Count(findings.Count)} {(findings.Count == 1 ? "trouble" : "troubles")}: <a href=\"#before\">what was found then</a>.</p>");
        }
        else if (model.Earlier is { Findings: [_, ..] } earlier)
        {
            page.Add($"<p class=\"before\">That is since this start, {model.Times.Short(model.Report.Source.Start ?? earlier.Started)}. Before it, the log has {Words.Count(earlier.Findings.Count)} {(earlier.Findings.Count == 1 ? "trouble" : "troubles")}: <a href=\"#before\">what was found then</a>.</p>");
        }
    }

    public static void Write(HtmlWriter page, PageModel model)
    {
        if (model.Earlier is not { } earlier || (earlier.Findings.Count == 0 && earlier.Remarks.Count == 0))
        {
            return;
        }

        page.Add($"<section class=\"earlier\" id=\"before\"><h2>{(model.ReadFrom is null ? "Before this start" : "In other runs of this log")}</h2>");
        foreach (string remark in earlier.Remarks)
        {
            page.Add($"<p>{remark}</p>");
        }

        List(page, model, earlier.Findings.Take(Open));
        if (earlier.Findings.Count > Open)
        {
            page.Add($"<details id=\"before-more\"><summary>{earlier.Findings.Count - Open} older ones</summary>");
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
            string until = finding.End is { } end ? $"to {model.Times.Full(end)}" : "and still so when that run ended";
            page.Add($"<li><span class=\"shape\" aria-hidden=\"true\">{Words.Shape(finding.Severity)}</span> {Words.Severity(finding.Severity)}: {finding.Summary} From {model.Times.Full(finding.Start)} {until}.");
            Marks.OfFinding(page, model, finding);
            page.Literal("</li>");
        }

        page.Literal("</ul>");
    }
}
