using Diagnostics.Agent.Commands;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// The hand-over record: what an installer prints, signs and puts into the folder of a site. Who reads it in three years has nothing else, so it says what it rests on, and
/// leaves out what only helps on the day: evidence row by row, kept frames, forms.
/// </summary>
internal static class RecordPage
{
    public const string Path = "/record";

    /// <summary>The same as one file that needs nothing else.</summary>
    public const string FilePath = "/record.html";

    /// <summary>The record as it is served, with the style beside it. It doesn't follow what comes: who signs it signs one moment.</summary>
    public static string Served(PageModel model) => Draw(model with { IsReadNow = false }, isServed: true);

    /// <summary>The record as one file that needs nothing else.</summary>
    public static string SelfContained(PageModel model) => Draw(model with { IsReadNow = false }, isServed: false);

    /// <summary>What is recorded: the site by its name, or where nobody gave it one, what was listened to.</summary>
    private static string Subject(PageModel model) => model.Site ?? model.Report.Source.Name;

    private static string Draw(PageModel model, bool isServed)
    {
        Report report = model.Report;
        Verdict verdict = Verdict.Of(model);
        bool hasReport = model.ReadFrom is not { HasNoReport: true };
        HtmlWriter page = new(model.Language);
        PageRenderer.Begin(page, Say($"Hand-over record: {Subject(model)}"), isServed, isLive: false);
        page.Literal("<body>");
        if (isServed)
        {
            page.Add($"<p class=\"foot about\"><a href=\"/\">{Say($"Back to the report")}</a> <a href=\"{FilePath}\" download>{Say($"Save this record as a file")}</a> <span>{Say($"It prints on A4; print it from the menu of your browser.")}</span></p>");
        }

        page.Literal("<main class=\"record\">");
        Head(page, model, verdict);
        if (hasReport)
        {
            NotHeard(page, report, verdict);
            RecordFindings.Write(page, model);
        }

        RecordFindings.OfOtherRuns(page, model);
        if (hasReport)
        {
            RecordTables.Statistics(page, model);
            RecordTables.Nodes(page, model);
            RecordTables.Identifiers(page, report);
        }

        Soaks(page, model);
        if (hasReport)
        {
            Assurances(page, report);
        }

        PageRenderer.CautionBox(page);
        Scope(page, report);
        Signatures(page, Say($"Handed over by (name, signature)"));
        page.Literal("</main></body></html>\n");
        return page.ToString();
    }

    /// <summary>Blank lines to be filled in by hand, together on one page of paper.</summary>
    /// <param name="page">Where to.</param>
    /// <param name="giver">What stands at the line of whoever gives the record away.</param>
    internal static void Signatures(HtmlWriter page, Sentence giver)
    {
        page.Add($"<section class=\"signed\"><h2>{Say($"Handed over")}</h2><dl>");
        foreach (Sentence line in new[] { Say($"Place"), Say($"Date"), giver, Say($"Taken over by (name, signature)") })
        {
            page.Add($"<div><dt>{line}</dt><dd></dd></div>");
        }

        page.Literal("</dl></section>");
    }

    private static void Head(HtmlWriter page, PageModel model, Verdict verdict)
    {
        SourceReport source = model.Report.Source;
        page.Add($"<header><p class=\"source\"><span class=\"kind\">{Say($"Hand-over record")}</span></p><h1><bdi>{Subject(model)}</bdi></h1><dl class=\"facts\">");
        if (model.Site is null)
        {
            page.Add($"<dt>{Say($"Site")}</dt><dd class=\"blank\"></dd>");
        }

        page.Add($"<dt>{Say($"Listened to")}</dt><dd>");
        page.Add($"{Source(source)}</dd>");
        if (source.Start is { } start && source.End is { } end)
        {
            page.Add($"<dt>{Say($"Period")}</dt><dd>{Say($"from {model.Times.Full(start)} to {model.Times.Full(end)}, {Times.Span(end.SecondsSince(start))}")}</dd>");
        }

        if (model.Times.Remark is { } remark)
        {
            page.Add($"<dt>{Say($"Times")}</dt><dd>{remark}</dd>");
        }

        if (model.ReadFrom is { Made: { } made, Program: { } program })
        {
            page.Add($"<dt>{Say($"Taken from")}</dt><dd>{Say($"a bundle that was made on {model.Times.Full(made)} by version {program} of this tool")}</dd>");
        }

        page.Add($"<dt>{Say($"Made by")}</dt><dd>{MadeBy(model)}</dd></dl>");
        page.Add($"<div class=\"verdict is-{PageRenderer.Class(verdict.Severity)}\"><span class=\"shape\" role=\"img\" aria-label=\"{PageRenderer.Spoken(verdict.Severity)}\">{PageRenderer.Shape(verdict.Severity)}</span><p>{verdict.Sentence}</p></div></header>");
    }

    private static Sentence Source(SourceReport source) => source.Kind switch
    {
        "simulated" => Say($"{source.Name}, a simulated site: this record says nothing of a real one"),
        "trace" => Say($"recorded traffic, {source.Name}"),
        _ => Named(source.Name),
    };

    private static Sentence MadeBy(PageModel model) => model is { Asked: { } asked, ReadFrom: null }
        ? Say($"diagnostics, version {CommandLine.Version}, on {model.Times.Full(asked)}")
        : Say($"diagnostics, version {CommandLine.Version}");

    private static void NotHeard(HtmlWriter page, Report report, Verdict verdict)
    {
        (Sentence word, Sentence sentence) = Verdict.SightOf(report, verdict);
        page.Add($"<section class=\"sight\"><h2>{Say($"What was not heard")}</h2><p><strong>{Say($"Could this tool hear everything?")} {word}</strong> {sentence}</p>");
        PageRenderer.List(page, verdict.Sight, "missed");
        PageRenderer.List(page, verdict.Troubles, "missed");
        PageRenderer.List(page, verdict.Limits, "limits");
        page.Literal("</section>");
    }

    /// <summary>The latest in full; those before it by their sentence.</summary>
    private static void Soaks(HtmlWriter page, PageModel model)
    {
        if (model.Soaks is not [.., { } latest])
        {
            return;
        }

        SoakSheet sheet = SoakSheet.Of(latest, model.Zone, model.Site);
        page.Add($"<section class=\"soaks\"><h2>{Say($"Soak test")}</h2><div class=\"verdict is-{PageRenderer.Class(sheet.Severity)}\"><span class=\"shape\" role=\"img\" aria-label=\"{PageRenderer.Spoken(sheet.Severity)}\">{PageRenderer.Shape(sheet.Severity)}</span><p><bdi>{latest.Name}</bdi>. {sheet.Verdict}</p></div>");
        PageRenderer.List(page, sheet.Reasons, "missed");
        foreach (SoakPart part in sheet.Parts)
        {
            SoakPages.Part(page, part, level: 3);
        }

        SoakRecord[] earlier = [.. model.Soaks.SkipLast(1).Reverse()];
        if (earlier.Length > 0)
        {
            page.Add($"<h3>{Say($"Tests before it")}</h3><ul>");
            foreach (SoakRecord soak in earlier.Take(Limits.SoaksShown))
            {
                page.Add($"<li><bdi>{soak.Name}</bdi>, {model.Times.Full(soak.LastSeen)}. {SoakSheet.Sentence(soak, SoakVerdict.Of(soak))}</li>");
            }

            page.Literal("</ul>");
        }

        page.Literal("</section>");
    }

    private static void Assurances(HtmlWriter page, Report report)
    {
        page.Add($"<section class=\"assurances\"><h2>{Say($"What was looked for and not found")}</h2>");
        if (report.Assurances.Count == 0)
        {
            page.Add($"<p>{Say($"Nothing can be ruled out: too little was heard, the protocol isn’t known, or this record can’t show errors.")}</p>");
        }
        else
        {
            page.Literal("<ul>");
            foreach ((Sentence statement, IReadOnlyList<Sentence> subjects) in Words.Assurances(report))
            {
                page.Add($"<li>{statement}: ");
                PageRenderer.Subjects(page, subjects);
                page.Literal("</li>");
            }

            page.Literal("</ul>");
        }

        page.Literal("</section>");
    }

    private static void Scope(HtmlWriter page, Report report)
    {
        page.Add($"<section class=\"scope\"><h2>{Say($"What this record can’t say")}</h2><ul>");
        foreach (Sentence line in new[]
        {
            Say($"It holds for its period, and for what was heard in it."),
            report.Measurements.Count > 0
                ? Say($"The tool heard frames and, where the adapter tells of them, errors, and measured means at one place of the cable. It measured no resistance and no edge: a missing terminator or a poor ground may show in no number.")
                : Say($"The tool heard frames and, where the adapter tells of them, errors. It measured no voltage, no resistance and no cable: a missing terminator or a poor ground may show in no count."),
            Say($"That nothing was found is no test of what nobody operated."),
        })
        {
            page.Add($"<li>{line}</li>");
        }

        page.Literal("</ul></section>");
    }
}
