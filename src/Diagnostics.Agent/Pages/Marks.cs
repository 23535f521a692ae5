using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>"It just happened": a person's marks, and the frames that were kept around them and around findings.</summary>
internal static class Marks
{
    public const string Path = "/mark";
    public const string NoteField = "note";
    public const string CaptureFolder = "/captures/";

    public static void Write(HtmlWriter page, PageModel model)
    {
        Capture[] marks = [.. model.Captures.Where(capture => capture.IsMark).Reverse().Take(Limits.MarksOnPage)];
        if (!model.CanMark && marks.Length == 0)
        {
            return;
        }

        page.Add($"<section class=\"marks\" id=\"marks\"><h2>{(model.CanMark ? Say($"It just happened?") : Say($"Marks"))}</h2>");
        if (model.CanMark)
        {
            page.Add($"<form method=\"post\" action=\"{Path}\"><label for=\"note\">{Say($"What did you see? One line is enough.")}</label>");
            page.Add($"<p class=\"entry\"><input id=\"note\" name=\"{NoteField}\" maxlength=\"{Limits.NoteLength}\" autocomplete=\"off\"><button>{Say($"Set a mark")}</button></p></form>");
            page.Add($"<p>{Say($"The frames from {CapturePlan.Before.TotalSeconds} s before a mark to {CapturePlan.After.TotalSeconds} s after it are kept, as they are around each finding.")}</p>");
        }

        if (marks.Length > 0)
        {
            page.Add($"<details id=\"marks-set\"><summary>{Say($"Marks so far ({marks.Length})")}</summary><ul>");
            foreach (Capture mark in marks)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(mark.Time)}\">{model.Times.Full(mark.Time)}</time> <bdi>{(mark.Why.Length > 0 ? mark.WhySaid : Say($"a mark without a note"))}</bdi> – ");
                Link(page, model, mark);
                TimeLink.Write(page, model, mark.Time);
                Story(page, mark);
                page.Literal("</li>");
            }

            page.Literal("</ul></details>");
        }

        page.Literal("</section>");
    }

    /// <summary>What the bus did around it, nearest things by how far they were from the mark.</summary>
    private static void Story(HtmlWriter page, Capture mark)
    {
        if (mark.Story is not { } story)
        {
            return;
        }

        page.Add($"<p class=\"story\">{story.Said}</p>");
        if (story.Events.Count > 0)
        {
            page.Literal("<ol class=\"evidence\">");
            foreach (EvidenceReport happened in story.Events)
            {
                page.Add($"<li><time datetime=\"{Times.Machine(happened.Time)}\">{Captures.Story.Beside(happened.Time.SecondsSince(mark.Time))}</time> {happened.Said}</li>");
            }

            page.Literal("</ol>");
        }
    }

    /// <summary>Where the frames around a finding are.</summary>
    public static void OfFinding(HtmlWriter page, PageModel model, FindingReport finding)
    {
        foreach (Capture capture in model.Captures
            .Where(capture => !capture.IsMark && capture.Why == finding.Key && capture.File is not null)
            .Where(capture => capture.Time >= finding.Start && (finding.End is not { } end || capture.Time <= Instant.Max(end, finding.Raised)))
            .TakeLast(1))
        {
            page.Add($"<p class=\"frames\">{Say($"Kept when it was found, {model.Times.Short(capture.Time)}:")} ");
            Link(page, model, capture);
            page.Literal("</p>");
        }
    }

    private static void Link(HtmlWriter page, PageModel model, Capture capture)
    {
        if (capture.File is { } file)
        {
            if (model.IsServed)
            {
                page.Add($"<a href=\"{FramesPart.AddressOf(file, capture.Time)}\">{Say($"frame by frame")}</a>, ");
            }

            page.Add($"<a href=\"{CaptureFolder}{file}\">{Say($"the frames, {Words.Count(Math.Max(1, capture.Bytes / 1024))} KB of pcapng")}</a>");
        }
        else if (model.ReadFrom is { IsWithoutInputs: true })
        {
            page.Add($"{Say($"the frames are not in this bundle")}");
        }
        else
        {
            page.Add($"{Say($"no frame was heard around it, or it could not be kept")}");
        }
    }
}
