using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Soaks;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The soak test on the report page, and its hand-over record as a page of its own that prints on paper.</summary>
internal static class SoakPages
{
    public const string StartPath = "/soak";
    public const string StopPath = "/soak/stop";
    public const string DocumentPath = "/soak.json";
    public const string RecordFolder = "/soak/";
    public const string NameField = "name";
    public const string SpanField = "for";
    public const string FailsField = "fails";
    public const string ErrorRatioField = "error-ratio";
    public const string RestartsField = "restarts";

    /// <summary>From Friday afternoon to Monday morning.</summary>
    private const string UsualSpan = "62h";

    /// <summary>The part of the report page that shows and starts tests.</summary>
    public static void Write(HtmlWriter page, PageModel model)
    {
        if (!model.CanAct && model.Soaks.Count == 0)
        {
            return;
        }

        SoakRecord? running = model.Soaks.LastOrDefault(soak => soak.End is null);
        page.Add($"<section class=\"acts\" id=\"soak\"><h2>{Say($"Soak test")}</h2>");
        if (running is not null)
        {
            page.Add($"<p><bdi>{SoakSheet.NameOf(running)}</bdi>. {SoakSheet.Sentence(running, SoakVerdict.Of(running))} <a href=\"{RecordFolder}{running.Id}\">{Say($"How it stands")}</a></p>");
        }

        if (model.CanAct && running is not null)
        {
            page.Add($"<details id=\"soak-stop\"><summary>{Say($"End it now")}</summary><form method=\"post\" action=\"{StopPath}\"><p class=\"entry\"><button>{Say($"End the soak test")}</button></p></form></details>");
        }
        else if (model.CanAct)
        {
            page.Add($"<details id=\"soak-start\"><summary>{Say($"Begin one")}</summary><form method=\"post\" action=\"{StartPath}\">");
            page.Add($"<p class=\"entry\"><label for=\"soak-name\">{Say($"Name, for the record")}</label><input id=\"soak-name\" name=\"{NameField}\" maxlength=\"{Limits.SoakName}\" autocomplete=\"off\"></p>");
            page.Add($"<p class=\"entry\"><label for=\"soak-for\">{Say($"How long to listen (62h, 90min, 3d)")}</label><input id=\"soak-for\" name=\"{SpanField}\" value=\"{UsualSpan}\" maxlength=\"20\" autocomplete=\"off\"></p>");
            page.Add($"<p class=\"entry\"><label for=\"soak-fails\">{Say($"What fails it")}</label><select id=\"soak-fails\" name=\"{FailsField}\"><option value=\"fault,warning\">{Say($"any fault or warning")}</option><option value=\"fault\">{Say($"faults only")}</option></select></p>");
            page.Add($"<p class=\"entry\"><label for=\"soak-restarts\">{Say($"Restarts without a reason that are allowed")}</label><input id=\"soak-restarts\" name=\"{RestartsField}\" inputmode=\"numeric\" value=\"0\" maxlength=\"6\" autocomplete=\"off\"></p>");
            page.Add($"<p class=\"entry\"><label for=\"soak-ratio\">{Say($"Errors per bit that are allowed (a number, or any)")}</label><input id=\"soak-ratio\" name=\"{ErrorRatioField}\" value=\"{SoakSheet.Ratio(new SoakRules().MostErrorRatio!.Value)}\" maxlength=\"20\" autocomplete=\"off\"></p>");
            page.Add($"<p class=\"entry\"><button>{Say($"Begin the soak test")}</button></p></form>");
            page.Add($"<p>{Say($"It judges what comes from now on, goes on after a power cut, and makes a record to hand over.")}</p></details>");
        }

        SoakRecord[] ended = [.. model.Soaks.Where(soak => soak.End is not null).Reverse()];
        if (ended.Length > 0)
        {
            page.Add($"<details id=\"soak-ended\"><summary>{Say($"Tests that are over ({ended.Length})")}</summary><ul>");
            foreach (SoakRecord soak in ended)
            {
                page.Add($"<li><bdi>{SoakSheet.NameOf(soak)}</bdi>, {Say($"ended {model.Times.Full(soak.LastSeen)}")}. {SoakSheet.Sentence(soak, SoakVerdict.Of(soak))} <a href=\"{RecordFolder}{soak.Id}\">{Say($"The record")}</a></li>");
            }

            page.Literal("</ul></details>");
        }

        page.Literal("</section>");
    }

    /// <summary>The record as it is served, with the style beside it.</summary>
    public static string Served(SoakSheet sheet, Language language) => Record(sheet, isServed: true, language);

    /// <summary>The record as one file that needs nothing else.</summary>
    public static string SelfContained(SoakSheet sheet, Language language) => Record(sheet, isServed: false, language);

    private static string Record(SoakSheet sheet, bool isServed, Language language)
    {
        HtmlWriter page = new(language);
        PageRenderer.Begin(page, sheet.Title, isServed, isLive: false);
        page.Literal("<body><main class=\"record\"><header>");
        page.Add($"<p class=\"source\"><span class=\"kind\">{sheet.Title}</span></p>");
        page.Add($"<div class=\"verdict is-{PageRenderer.Class(sheet.Severity)}\"><span class=\"shape\" role=\"img\" aria-label=\"{PageRenderer.Spoken(sheet.Severity)}\">{PageRenderer.Shape(sheet.Severity)}</span><h1>{sheet.Verdict}</h1></div></header>");
        PageRenderer.List(page, sheet.Reasons, "missed");
        foreach (SoakPart part in sheet.Parts)
        {
            Part(page, part, level: 2);
        }

        PageRenderer.CautionBox(page);
        RecordPage.Signatures(page, Say($"Tested by (name, signature)"));
        if (isServed)
        {
            page.Add($"<p class=\"foot\"><a href=\"/\">{Say($"Back to the report")}</a></p>");
        }

        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    /// <summary>A part of a record, at a level of headings.</summary>
    internal static void Part(HtmlWriter page, SoakPart part, int level)
    {
        page.Add($"<section><h{level}>{part.Heading}</h{level}>");
        List<Sentence> loose = [];
        bool isOpen = false;
        foreach ((Sentence? label, Sentence text) in part.Lines)
        {
            if (label is null)
            {
                loose.Add(text);
                continue;
            }

            page.Literal(isOpen ? string.Empty : "<dl class=\"facts\">");
            isOpen = true;
            page.Add($"<dt>{label}</dt><dd>{text}</dd>");
        }

        page.Literal(isOpen ? "</dl>" : string.Empty);
        foreach (Sentence text in loose)
        {
            page.Add($"<p>{text}</p>");
        }

        page.Literal("</section>");
    }
}
