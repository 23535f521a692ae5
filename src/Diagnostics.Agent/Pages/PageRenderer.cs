using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Makes the report page. It answers a technician's questions in the order in which they come: is it the bus, or is the tool blind; what is wrong, where, since
/// when, how sure; what it isn't; who is there; how busy it is. Served and written into a file by the same code.
/// </summary>
internal static class PageRenderer
{
    /// <summary>A note sheet; a data address, as the page may not fetch.</summary>
    private const string Icon =
        "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'%3E%3Cpath d='M2 1h9l3 3v11H2z' fill='%23f6f1e4' stroke='%23222'/%3E%3Cpath d='M4 6h8M4 9h8M4 12h5' stroke='%23222'/%3E%3C/svg%3E";

    private const int ReloadSeconds = 30;

    /// <summary>Silent nodes that are named; the table has them all.</summary>
    private const int SilentNamed = 10;

    /// <summary>Up to so many cleared nodes stand open.</summary>
    private const int OpenSubjects = 3;

    /// <summary>Rows of identifiers that stand open, the most urgent ones; two screens of a phone. The rest is folded.</summary>
    private const int OpenIdentifiers = 12;

    /// <summary>The page as it is served, with its style and script beside it.</summary>
    public static string Served(PageModel model) => Shell.Served(Live(model, isServed: true), model);

    /// <summary>The page as one file that needs nothing else.</summary>
    public static string SelfContained(PageModel model) => Shell.SelfContained(Live(model, isServed: false), model);

    /// <summary>The report, at its own address.</summary>
    public static LivePage? At(string path, PageModel model) => path == "/" ? Live(model, isServed: true) : null;

    /// <summary>What was asked for isn't to be had.</summary>
    /// <param name="why">Why not.</param>
    /// <param name="isForm">It was a form that was sent.</param>
    /// <param name="language">Of the reader.</param>
    public static string Refusal(Sentence why, bool isForm, Language language)
    {
        HtmlWriter page = new(language);
        Begin(page, isForm ? Say($"Not taken – bus report") : Say($"Not shown – bus report"), isServed: true, isLive: false);
        page.Add($"<body><main><h1>{(isForm ? Say($"That was not taken.") : Say($"This can’t be shown."))}</h1><p>{why}</p><p class=\"foot\"><a href=\"/\">{Say($"Back to the report")}</a></p></main></body></html>\n");
        return page.ToString();
    }

    /// <summary>What is served before there is a first snapshot.</summary>
    public static PageModel Empty { get; } =
        new(new Report(Report.CurrentSchema, new("live", "starting", null, null, new(0, 0, 0, [])), [], [], []));

    private static Sentence Title(PageModel model) => Say($"{model.Report.Source.Name} – bus report");

    /// <summary>All of a page up to its body.</summary>
    /// <param name="page">Where to.</param>
    /// <param name="title">Of the window.</param>
    /// <param name="isServed">Its style is beside it; otherwise inside, and the page may load nothing.</param>
    /// <param name="isLive">It keeps itself current.</param>
    /// <param name="also">What it brings along besides, where it is served.</param>
    internal static void Begin(HtmlWriter page, Sentence title, bool isServed, bool isLive, params IReadOnlyList<PageAsset> also)
    {
        page.Add($"<!doctype html>\n<html lang=\"{page.Language.Code}\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">");
        page.Literal("<meta name=\"color-scheme\" content=\"light dark\"><meta name=\"referrer\" content=\"same-origin\">");
        page.Add($"<link rel=\"icon\" href=\"{Icon}\"><title>{title}</title>");
        if (isServed)
        {
            page.Add($"<link rel=\"stylesheet\" href=\"{PageAssets.Style.Path}\">");
        }
        else
        {
            page.Add($"<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src '{PageAssets.Style.Integrity}'; img-src data:; base-uri 'none'; form-action 'none'\">");
            page.Literal("<style>");
            page.Literal(PageAssets.Style.Text);
            page.Literal("</style>");
        }

        if (isLive)
        {
            page.Add($"<script src=\"{PageAssets.Script.Path}\" defer></script>");
            page.Add($"<noscript><meta http-equiv=\"refresh\" content=\"{ReloadSeconds}\"></noscript>");
        }

        foreach (PageAsset asset in also)
        {
            if (asset.Type.StartsWith("text/css", StringComparison.Ordinal))
            {
                page.Add($"<link rel=\"stylesheet\" href=\"{asset.Path}\">");
            }
            else
            {
                page.Add($"<script src=\"{asset.Path}\" defer></script>");
            }
        }

        page.Literal("</head>");
    }

    private static LivePage Live(PageModel model, bool isServed)
    {
        Report report = model.Report;
        Verdict verdict = Verdict.Of(model);
        bool hasReport = model.ReadFrom is not { HasNoReport: true };
        List<PagePiece> pieces =
        [
            PagePiece.Of("head", page =>
            {
                HandOn.Origin(page, model);
                Head(page, model, verdict);
            }),
        ];
        void Add(string id, bool isHere, Action<HtmlWriter> write)
        {
            if (isHere)
            {
                pieces.Add(PagePiece.Of(id, write));
            }
        }

        Add("sight", hasReport, page => Sight(page, report, verdict));
        Add("findings", hasReport, page => FindingCards.Write(page, model));
        Add("marks", true, page => Marks.Write(page, model));
        Add("before", true, page => Before.Write(page, model));
        Add("soak", true, page => SoakPages.Write(page, model));
        Add("assurances", hasReport, page => Assurances(page, report));
        Add("trunk", hasReport, page => Trunk.Write(page, model));
        Add("nodes", hasReport, page => Nodes(page, model));
        Add("identifiers", hasReport, page => Identifiers(page, report));
        Add("charts", hasReport, page => Charts(page, model));
        Add("measured", hasReport, page => MeasuredPart.Write(page, model));
        Add("board", hasReport, page => BoardPart.Write(page, model));
        Add("foot", true, page =>
        {
            HandOn.Write(page, model);
            CautionBox(page);
            if (isServed)
            {
                page.Add($"<p class=\"foot\">{Say($"On paper, with a space to sign:")} <a href=\"{RecordPage.Path}\">{Say($"hand-over record")}</a></p>");
                page.Add($"<p class=\"foot\">{Say($"All of this as data:")} <a href=\"/report.json\">{"report.json"}</a></p>");
            }
        });
        return new(Title(model), "/", pieces);
    }

    internal static void CautionBox(HtmlWriter page)
    {
        page.Add($"<section class=\"cautions\"><h2>{Say($"Before you open anything")}</h2><ul>");
        foreach (Sentence line in Cautions.Lines)
        {
            page.Add($"<li>{line}</li>");
        }

        page.Literal("</ul></section>");
    }

    private static void Head(HtmlWriter page, PageModel model, Verdict verdict)
    {
        Report report = model.Report;
        Sentence kind = report.Source.Kind switch { "live" => model.ReadFrom is null ? Say($"Listening now") : Say($"Listened to"), "simulated" => Say($"Simulated site"), "trace" => Say($"Recorded traffic"), _ => Named(report.Source.Kind) };
        page.Add($"<header><p class=\"source\"><span class=\"kind\">{kind}</span> <bdi>{report.Source.Name}</bdi></p>");
        if (report.Source.End is { } end)
        {
            page.Add($"<p class=\"as-of\">{Say($"As of")} <time datetime=\"{Times.Machine(end)}\">{model.Times.Full(end)}</time>");
            if (report.Source.Start is { } start)
            {
                page.Add($", {Say($"after {Times.Span(end.SecondsSince(start))}")}");
            }

            page.Literal("</p>");
        }

        page.Add($"<div class=\"verdict is-{Class(verdict.Severity)}\"><span class=\"shape\" role=\"img\" aria-label=\"{Spoken(verdict.Severity)}\">{Shape(verdict.Severity)}</span><div><h1>{verdict.Sentence}</h1>");
        if (verdict.Finding is { } finding)
        {
            FindingCards.Glance(page, finding);
        }

        page.Literal("</div></div>");
        Before.Hint(page, model);
        page.Literal("</header>");
    }

    private static void Sight(HtmlWriter page, Report report, Verdict verdict)
    {
        page.Add($"<section class=\"sight\" id=\"sight\"><h2>{Say($"Can this tool see?")}</h2>");
        (Sentence word, Sentence sentence) = Verdict.SightOf(report, verdict);
        page.Add($"<p><strong>{word}</strong> {sentence}</p>");
        List(page, verdict.Sight, "missed");
        if (verdict.Troubles.Count > 0)
        {
            page.Add($"<p>{Say($"This tool itself needs a hand, while it goes on listening:")}</p>");
            List(page, verdict.Troubles, "missed");
        }

        List(page, verdict.Limits, "limits");
        page.Literal("<ul class=\"buses\">");
        foreach (BusReport bus in report.Buses)
        {
            page.Add($"<li><b>{bus.Interface}</b>: {Bus(bus)}");
            if (ErrorCounts.OfBus(report, bus) is { IsEmpty: false } counts)
            {
                page.Add($"<p>{counts}</p>");
            }

            page.Literal("</li>");
        }

        page.Literal("</ul></section>");
    }

    internal static Sentence Bus(BusReport bus)
    {
        Sentence rate = bus.BitRate is { } bits
            ? bits % 1000 == 0 ? Say($"{bits / 1000} kbit/s ({Words.BitRateSource(bus.BitRateSource)})") : Say($"{bits} bit/s ({Words.BitRateSource(bus.BitRateSource)})")
            : Say($"bit rate not known");
        Sentence protocol = Words.Protocol(bus.Protocol);
        Sentence setUp = bus.ListenOnly switch
        {
            true => Say($"{rate}, protocol {protocol}, listen-only."),
            false => Say($"{rate}, protocol {protocol}, acknowledges what it hears."),
            null => Say($"{rate}, protocol {protocol}."),
        };
        long errors = ErrorsHeard(bus);
        Sentence heard = errors > 0 ? Words.Amount(errors, "error") : CanJudgeErrors(bus) ? Say($"no errors") : Say($"errors can’t be judged");
        Sentence frames = Say(bus.Frames, $"{bus.Frames:N0} frame", $"{bus.Frames:N0} frames");
        return Join(setUp, bus.LoadMean is { } mean
            ? Say($"{frames}, {heard}, load {Words.Percent(mean)} on average and {Words.Percent(bus.LoadPeak1s)} in the busiest second.")
            : Say($"{frames}, {heard}."));
    }

    internal static long ErrorsHeard(BusReport bus) => bus.Errors.Bit + bus.Errors.Stuff + bus.Errors.Form + bus.Errors.Crc + bus.Errors.Ack + bus.Errors.Other;

    /// <summary>Where no error is in the record and nothing says that any would be, none means nothing.</summary>
    internal static bool CanJudgeErrors(BusReport bus) => bus.ErrorEpisodes is not null;

    private static void Assurances(HtmlWriter page, Report report)
    {
        page.Add($"<section class=\"assurances\"><h2>{Say($"What it is not")}</h2>");
        if (report.Assurances.Count == 0)
        {
            page.Add($"<p>{Say($"Nothing can be ruled out: too little was heard, the protocol isn’t known, or this record can’t show errors.")}</p>");
        }
        else
        {
            page.Add($"<p>{Say($"Looked for and not found. What stands here need not be suspected of that; what is told of it above is another matter.")}</p><ul>");
            int group = 0;
            foreach ((Sentence statement, IReadOnlyList<Sentence> subjects) in Words.Assurances(report))
            {
                Assurance(page, statement, subjects, ++group);
            }

            page.Literal("</ul>");
        }

        page.Literal("</section>");
    }

    /// <summary>Who is cleared stands open where it is a handful, folded where it would push the rest off the screen.</summary>
    private static void Assurance(HtmlWriter page, Sentence statement, IReadOnlyList<Sentence> subjects, int group)
    {
        if (subjects.Count <= OpenSubjects)
        {
            page.Add($"<li>{statement}: ");
            Subjects(page, subjects);
            page.Literal("</li>");
            return;
        }

        page.Add($"<li>{statement}.<details id=\"cleared-{group}\"><summary>{Say($"Holds for {Words.Count(subjects.Count)}")}</summary><p>");
        Subjects(page, subjects);
        page.Literal("</p></details></li>");
    }

    internal static void Subjects(HtmlWriter page, IReadOnlyList<Sentence> subjects)
    {
        for (int index = 0; index < subjects.Count; index++)
        {
            page.Add($"{(index == 0 ? string.Empty : ", ")}<bdi>{subjects[index]}</bdi>");
        }
    }

    private static void Nodes(HtmlWriter page, PageModel model)
    {
        Report report = model.Report;
        page.Add($"<section class=\"nodes\" id=\"nodes\"><h2>{Say($"Who is on the bus")}</h2>");
        if (!report.Buses.Any(bus => bus.Nodes.Count > 0))
        {
            page.Add($"<p>{Say($"No device was heard under an address of its own.")}</p>");
        }

        foreach (BusReport bus in report.Buses.Where(bus => bus.Nodes.Count > 0))
        {
            if (report.Buses.Count > 1)
            {
                page.Add($"<h3>{bus.Interface}</h3>");
            }

            page.Add($"<p>{Say(bus.Nodes.Count, $"One node heard.", $"{bus.Nodes.Count:N0} nodes heard.")} {Silent([.. bus.Nodes.Where(node => node.Present == false)])}</p>");
            page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Node")}</th><th scope=\"col\">{Say($"State")}</th><th scope=\"col\">{Say($"Last heard")}</th><th scope=\"col\">{Say($"Silence noticed")}</th><th scope=\"col\">{Say($"Traffic")}</th><th scope=\"col\">{Say($"Restarts")}</th><th scope=\"col\">{Say($"Errors")}</th></tr></thead><tbody>");
            foreach (NodeReport node in bus.Nodes)
            {
                Node(page, model, bus, node);
            }

            page.Literal("</tbody></table>");
            if (ErrorCounts.OfNodes(bus) is { } errors)
            {
                page.Add($"<p>{errors}</p>");
            }

            if (Words.WhyUnnoticed(report, bus) is { } why)
            {
                page.Add($"<p>{why}</p>");
            }
        }

        page.Literal("</section>");
    }

    private static Sentence Silent(NodeReport[] silent) => silent.Length switch
    {
        0 => Say($"None of those whose silence can be noticed is silent."),
        <= SilentNamed => Say($"Silent at the end: {Listed([.. silent.Select(Words.NodeName)])}."),
        _ => Say($"Silent at the end: {Listed([.. silent.Take(SilentNamed).Select(Words.NodeName)])} and {silent.Length - SilentNamed} more."),
    };

    private static void Node(HtmlWriter page, PageModel model, BusReport bus, NodeReport node)
    {
        Times times = model.Times;
        string? name = Words.NameOf(node);
        Sentence? firmware = node.Identity.Firmware is { Length: > 0 } version ? Say($"firmware {version}") : null;
        Sentence presence = node.Present switch { true => Say($"here"), false => Say($"silent"), null => Say($"can’t tell") };
        page.Add($"<tr class=\"{(node.Present == false ? "is-silent" : string.Empty)}\"><th scope=\"row\">");
        if (model.IsServed)
        {
            page.Add($"<a href=\"{NodeLinks.Of(bus.Interface, node.Address)}\"><span class=\"address\">{node.Address}</span> <bdi>{name}</bdi></a>");
        }
        else
        {
            page.Add($"<span class=\"address\">{node.Address}</span> <bdi>{name}</bdi>");
        }

        page.Add($" <small>{firmware}</small></th>");
        page.Add($"<td data-label=\"{Say($"State")}\"><span class=\"presence\">{(node.Present == false ? "□ " : string.Empty)}{presence}</span>, {Words.State(node)}</td>");
        page.Add($"<td data-label=\"{Say($"Last heard")}\"><time datetime=\"{Times.Machine(node.LastHeard)}\">{times.Short(node.LastHeard)}</time></td>");
        page.Add($"<td data-label=\"{Say($"Silence noticed")}\">{Words.Noticed(node)}</td><td data-label=\"{Say($"Traffic")}\">{Words.Percent(node.TrafficShare)}</td>");
        page.Add($"<td data-label=\"{Say($"Restarts")}\">{Words.Count(node.Restarts)}</td><td data-label=\"{Say($"Errors")}\">{(CanJudgeErrors(bus) ? Words.Count(node.ErrorsOnItsFrames) : Say($"– (not known)"))}</td></tr>");
    }

    /// <summary>Only where nodes can't be told: what is sent is then the only handle.</summary>
    private static void Identifiers(HtmlWriter page, Report report)
    {
        foreach (BusReport bus in report.Buses.Where(bus => bus.Identifiers.Count > 0 && (Words.IsUnknownProtocol(bus.Protocol) || bus.Nodes.Count == 0)))
        {
            page.Add($"<section class=\"identifiers\"><h2>{Say($"What is sent on {bus.Interface}")}</h2><p>{Say($"The protocol is not recognised, so this goes by identifier, most urgent first.")}</p>");
            IdentifierReport[] shown = bus.Identifiers.Take(Limits.IdentifiersShown).ToArray();
            IdentifierTable(page, report, shown.Take(OpenIdentifiers));
            if (shown.Length > OpenIdentifiers)
            {
                page.Add($"<details id=\"identifiers-{bus.Interface}\"><summary>{Say(shown.Length - OpenIdentifiers, $"1 more identifier", $"{shown.Length - OpenIdentifiers:N0} more identifiers")}</summary>");
                IdentifierTable(page, report, shown.Skip(OpenIdentifiers));
                page.Literal("</details>");
            }

            if (bus.Identifiers.Count > shown.Length)
            {
                page.Add($"<p>{Say($"{Words.Count(bus.Identifiers.Count - shown.Length)} more stand in the report document.")}</p>");
            }

            page.Literal("</section>");
        }
    }

    internal static void IdentifierTable(HtmlWriter page, Report report, IEnumerable<IdentifierReport> identifiers)
    {
        page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Identifier")}</th><th scope=\"col\">{Say($"Frames")}</th><th scope=\"col\">{Say($"Sent")}</th><th scope=\"col\">{Say($"Traffic")}</th></tr></thead><tbody>");
        foreach (IdentifierReport identifier in identifiers)
        {
            page.Add($"<tr><th scope=\"row\" class=\"code\">{identifier.Id}</th><td data-label=\"{Say($"Frames")}\">{Words.Count(identifier.Frames)}</td><td data-label=\"{Say($"Sent")}\">{Words.Every(report, identifier)}</td><td data-label=\"{Say($"Traffic")}\">{Words.Percent(identifier.TrafficShare)}</td></tr>");
        }

        page.Literal("</tbody></table>");
    }

    private static void Charts(HtmlWriter page, PageModel model)
    {
        page.Add($"<section class=\"charts\"><h2>{Say($"How busy, and when errors came")}</h2>");
        int drawn = 0;
        foreach (BusReport bus in model.Report.Buses)
        {
            IReadOnlyList<History.TrafficRow> points = LoadChart.Points(model.Rows, bus.Interface);
            if (points.Count == 0)
            {
                continue;
            }

            page.Add($"<figure><figcaption>{(model.Report.Buses.Count > 1 ? bus.Interface + ": " : string.Empty)}{LoadChart.Describe(bus, points, model.Times)}</figcaption>");
            drawn++;
            if (points.All(point => point.LoadMean is null && point.Errors == 0))
            {
                // Empty axes would look like an idle bus.
                page.Literal("</figure>");
                continue;
            }

            LoadChart.Draw(page, bus, drawn, points, model.Report.Source.NotSeen, model.Times);
            page.Add($"<p class=\"legend\"><span class=\"key key-mean\"></span> {Say($"average")} <span class=\"key key-peak\"></span> {Say($"busiest second")} <span class=\"key key-errors\"></span> {Say($"errors")} <span class=\"key key-gap\"></span> {Say($"not seen")}</p></figure>");
        }

        if (drawn == 0)
        {
            page.Add($"<p>{Say($"The first stretch of {Times.Span(model.RowSeconds)} is not complete yet.")}</p>");
        }

        page.Literal("</section>");
    }

    internal static void List(HtmlWriter page, IReadOnlyList<Sentence> lines, string name)
    {
        if (lines.Count == 0)
        {
            return;
        }

        page.Add($"<ul class=\"{name}\">");
        foreach (Sentence line in lines)
        {
            page.Add($"<li>{line}</li>");
        }

        page.Literal("</ul>");
    }

    internal static string Class(string severity) => severity is "fault" or "warning" or "note" or "good" or "blind" ? severity : "note";

    /// <summary>The shape, for who hears the page.</summary>
    internal static Sentence Spoken(string severity) => severity switch { "good" => Say($"Good"), "blind" => Say($"Can’t be told"), _ => Words.Severity(severity) };

    internal static string Shape(string severity) => severity switch { "good" => "✓", "blind" => "?", _ => Words.Shape(severity) };

    /// <summary>By its key and not by its place, so that what a reader opened stays open when something else comes to stand above.</summary>
    internal static string Anchor(FindingReport finding) =>
        "finding-" + string.Concat(finding.Key.Select(character => char.IsAsciiLetterOrDigit(character) ? character : '-'));
}
