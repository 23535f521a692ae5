using System.Globalization;
using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.Languages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>The page of the time axis: whole, or only the part that changes with the stretch, for the script that zooms.</summary>
internal static class TimePage
{
    /// <summary>Its own style and script beside those of all pages.</summary>
    private static readonly PageAsset[] Assets = [PageAssets.TimeStyle, PageAssets.TimeScript];

    public static string Whole(TimeQuery query, Stretch stretch, PageModel model, Instant now, IReadOnlyList<Sentence> remarks)
    {
        HtmlWriter page = new(model.Language);
        PageRenderer.Begin(page, Say($"Time – {model.Report.Source.Name}"), isServed: true, isLive: false, Assets);
        Shell.Open(page, TimeQuery.Path);
        page.Add($"<h1>{Say($"What happened, and when")}</h1><div id=\"time\">");
        page.Literal(Part(query, stretch, model, now, remarks));
        page.Literal("</div>");
        Help(page, model, now);
        Shell.Close(page);
        return page.ToString();
    }

    /// <summary>A page that says why an address isn't taken, and gives the way on.</summary>
    public static string Refused(Sentence why, Language language)
    {
        HtmlWriter page = new(language);
        PageRenderer.Begin(page, Say($"Not a stretch of time"), isServed: true, isLive: false);
        Shell.Open(page, TimeQuery.Path);
        page.Add($"<h1>{Say($"This address names no stretch of time.")}</h1><p>{why}</p><p class=\"foot\"><a href=\"{TimeQuery.Path}\">{Say($"The last hour")}</a></p>");
        Shell.Close(page);
        return page.ToString();
    }

    /// <summary>What changes with the stretch.</summary>
    public static string Part(TimeQuery query, Stretch stretch, PageModel model, Instant now, IReadOnlyList<Sentence> remarks)
    {
        HtmlWriter page = new(model.Language);
        Times usual = model.Times;
        Times times = new(new(model.Report.Source.Kind, model.Report.Source.Name, model.Report.Source.Start, Instant.Min(stretch.To, Instant.Max(now, stretch.From)), model.Report.Source.NotSeen), model.Zone, model.ReadFrom is { IsReadersZone: true });
        Instant? origin = usual.IsRelative ? model.Report.Source.Start : null;
        string first = stretch.Reach.First is { } begin ? TimeQuery.Written(begin) : string.Empty;
        page.Literal("<div class=\"stretch\" id=\"stretch\"");
        page.Add($" data-from=\"{TimeQuery.Written(stretch.From)}\" data-to=\"{TimeQuery.Written(stretch.To)}\" data-first=\"{first}\" data-now=\"{TimeQuery.Written(now)}\" data-zone=\"{(origin is null ? model.Zone.Id : string.Empty)}\" data-follow=\"{(query.FollowsNow && model.ReadFrom is null ? Refresh(stretch) : 0)}\" data-shortest=\"{(int)TimeQuery.Shortest.TotalSeconds}\">");
        page.Add($"<p class=\"when\"><time datetime=\"{TimeQuery.Written(stretch.From)}\">{usual.Full(stretch.From)}</time> {Say($"to")} <time datetime=\"{TimeQuery.Written(stretch.To)}\">{times.Full(stretch.To)}</time></p>");
        Spans(page, query);
        foreach (Sentence remark in remarks.Append(query.Remark).Where(remark => !remark.IsEmpty))
        {
            page.Add($"<p class=\"missed\"><strong>{remark}</strong></p>");
        }

        page.Add($"<figure id=\"axis\" tabindex=\"0\" role=\"group\" aria-label=\"{Say($"Time axis")}\" aria-describedby=\"told keys\">");
        TimeFigure.Draw(page, stretch, TimeTicks.Of(stretch.From, stretch.To, model.Zone, origin), now);
        page.Literal("<div class=\"pointer\" id=\"pointer\" hidden></div></figure>");
        page.Add($"<p class=\"zone\">{(origin is null ? TimeTicks.Zone(stretch.From, stretch.To, model.Zone) : Say($"This record holds no time of day. Times count from its beginning: hours, minutes, seconds."))}</p>");
        Steps(page, query, now);
        page.Add($"<p class=\"moment\" id=\"moment\" hidden data-text=\"{Say($"Frames around {"{0}"}")}\"><a href=\"/frames\"></a></p>");
        Legend(page, stretch);
        page.Add($"<section><h2>{Say($"In words")}</h2><div id=\"told\" role=\"status\">");
        foreach (Sentence sentence in TimeTold.Summary(stretch, times))
        {
            page.Add($"<p>{sentence}</p>");
        }

        page.Literal("</div></section>");
        Happened(page, stretch, model, times);
        Loads(page, stretch, times);
        Measured(page, stretch, times);
        page.Literal("</div>");
        return page.ToString();
    }

    /// <summary>A picture that follows changes when a tenth of a column has gone by, and no reader needs it more often than every two seconds.</summary>
    private static int Refresh(Stretch stretch) => (int)Math.Clamp(stretch.Step.TotalSeconds / 2, 2, 60);

    private static void Spans(HtmlWriter page, TimeQuery query)
    {
        page.Add($"<nav class=\"spans\" aria-label=\"{Say($"How much, up to now")}\"><ul>");
        foreach (TimeSpanChoice choice in TimeSpanChoice.All)
        {
            page.Add($"<li><a href=\"{TimeQuery.Of(choice)}\"");
            page.Literal(query.FollowsNow && query.Span == choice ? " aria-current=\"true\">" : ">");
            page.Add($"{choice.Title}</a></li>");
        }

        page.Literal("</ul></nav>");
    }

    private static void Legend(HtmlWriter page, Stretch stretch)
    {
        page.Add($"<details id=\"legend\"><summary>{Say($"How to read it")}</summary><ul>");
        List<Sentence> lines =
        [
            Say($"Load: the area is the mean, the line the busiest second; at the right edge stands how much the top is."),
            Say($"Findings: full bars are faults, dashed ones warnings, dotted ones notes."),
            Say($"Nodes: a line while one is heard, a box while it is silent, dots where it can’t be told, a triangle for a restart."),
            Say($"Hatched: not seen. The tool did not run or could not listen, so nothing is known; that is something else than quiet."),
        ];
        if (stretch.Measured.Count > 0)
        {
            lines.Insert(1, Say($"Supply and temperatures: the band reaches from the lowest value to the highest, the line in it is the mean. They are kept by the minute; a gap in the band is time without a value."));
        }

        if (stretch.Captures.Count > 0)
        {
            lines.Insert(0, Say($"Flags are marks; rings are frames that were kept around a finding."));
        }

        foreach (Sentence line in lines)
        {
            page.Add($"<li>{line}</li>");
        }

        page.Literal("</ul></details>");
    }

    private static void Steps(HtmlWriter page, TimeQuery query, Instant now)
    {
        page.Add($"<nav class=\"steps\" aria-label=\"{Say($"Move along the axis")}\"><ul>");
        Step("earlier", query.Moved(later: false), "←", Say($"earlier"), true);
        Step("nearer", query.Zoomed(nearer: true), "+", Say($"nearer"), query.Length > TimeQuery.Shortest);
        Step("farther", query.Zoomed(nearer: false), "–", Say($"farther"), query.Length < TimeQuery.Longest);
        Step("later", query.Moved(later: true), "→", Say($"later"), query.To < now);
        Step("now", TimeQuery.Of(query.Span ?? TimeSpanChoice.All.LastOrDefault(choice => choice.Length <= query.Length) ?? TimeSpanChoice.All[0]), "⇥", Say($"now"), !query.FollowsNow);
        page.Literal("</ul></nav>");

        void Step(string id, string address, string sign, Sentence name, bool isPossible)
        {
            page.Literal("<li>");
            if (isPossible)
            {
                page.Add($"<a id=\"step-{id}\" href=\"{address}\"><span aria-hidden=\"true\">{sign}</span> {name}</a>");
            }
            else
            {
                page.Add($"<span class=\"off\"><span aria-hidden=\"true\">{sign}</span> {name}</span>");
            }

            page.Literal("</li>");
        }
    }

    private static void Happened(HtmlWriter page, Stretch stretch, PageModel model, Times times)
    {
        page.Add($"<section id=\"happened\"><h2>{Say($"What happened in this stretch")}</h2>");
        IReadOnlyList<Happening> rows = TimeTold.Happenings(stretch, model.Report, times, out int left);
        if (rows.Count == 0)
        {
            page.Add($"<p>{Say($"Nothing that would be told one by one.")}</p></section>");
            return;
        }

        if (left > 0)
        {
            page.Add($"<p>{Say($"The weightiest {rows.Count:N0}; {left:N0} more found no room here. Go nearer to see them.")}</p>");
        }

        page.Add($"<table class=\"happened\"><thead><tr><th scope=\"col\">{Say($"When")}</th><th scope=\"col\">{Say($"What")}</th><th scope=\"col\">{Say($"More")}</th></tr></thead><tbody>");
        foreach (Happening row in rows)
        {
            page.Add($"<tr><th scope=\"row\"><time datetime=\"{Times.Machine(row.Time)}\">{times.Short(row.Time)}</time></th><td><span class=\"shape\" aria-hidden=\"true\">{row.Shape}</span> <bdi>{row.What}</bdi></td><td class=\"more\">");
            if (row.HasFrames)
            {
                page.Add($"<a href=\"{FramesPart.AddressOf(row.Time)}\">{Say($"Frames")}</a> ");
            }

            if (row.Card is { } card)
            {
                page.Add($"<a href=\"{card}\">{Say($"Details")}</a> ");
            }

            if (stretch.Step.TotalSeconds > 1)
            {
                page.Add($"<a href=\"{TimeQuery.Around(row.Time)}\">{Say($"Nearer")}</a>");
            }

            page.Literal("</td></tr>");
        }

        page.Literal("</tbody></table></section>");
    }

    private static void Loads(HtmlWriter page, Stretch stretch, Times times)
    {
        foreach (BusStretch bus in stretch.Buses)
        {
            page.Add($"<details id=\"parts-{bus.Interface}\"><summary>{(stretch.Buses.Count == 1 ? Say($"Load and errors as a table") : Say($"Load and errors of {bus.Interface} as a table"))}</summary>");
            page.Add($"<table class=\"parts\"><thead><tr><th scope=\"col\">{Say($"From")}</th><th scope=\"col\">{Say($"Load")}</th><th scope=\"col\">{Say($"Busiest second")}</th><th scope=\"col\">{Say($"Errors")}</th><th scope=\"col\">{Say($"Not seen")}</th></tr></thead><tbody>");
            foreach ((Instant time, TimeColumn sum, double expected) in TimeTold.PartsOf(stretch, bus))
            {
                double blind = Math.Max(0, expected - sum.HeardSeconds);
                page.Add($"<tr><th scope=\"row\">{times.Short(time)}</th><td data-label=\"{Say($"Load")}\">{(sum.LoadMean is null ? Named("–") : Words.Percent(sum.LoadMean))}</td><td data-label=\"{Say($"Busiest second")}\">{(sum.LoadPeak is null ? Named("–") : Words.Percent(sum.LoadPeak))}</td>");
                page.Add($"<td data-label=\"{Say($"Errors")}\">{(!sum.IsSeen || (!bus.SeesErrors && sum.Errors == 0) ? "–" : sum.Errors.ToString("N0", CultureInfo.InvariantCulture))}</td><td data-label=\"{Say($"Not seen")}\">{(expected <= 0 ? Say($"nothing kept") : blind >= Math.Max(1, 0.02 * expected) ? Times.Span(blind) : Named("–"))}</td></tr>");
            }

            page.Literal("</tbody></table></details>");
        }
    }

    private static void Measured(HtmlWriter page, Stretch stretch, Times times)
    {
        foreach (MeasuredStretch measured in stretch.Measured)
        {
            page.Add($"<details id=\"parts-{measured.Quantity}\"><summary>{Say($"{MeasuredPart.NameOf(measured.Quantity)} as a table")}</summary>");
            page.Add($"<table class=\"parts\"><thead><tr><th scope=\"col\">{Say($"From")}</th><th scope=\"col\">{Say($"Lowest")}</th><th scope=\"col\">{Say($"Mean")}</th><th scope=\"col\">{Say($"Highest")}</th></tr></thead><tbody>");
            foreach ((Instant time, MeasuredColumn? sum) in TimeTold.PartsOf(stretch, measured))
            {
                page.Add($"<tr><th scope=\"row\">{times.Short(time)}</th><td data-label=\"{Say($"Lowest")}\">{MeasuredPart.Value(measured.Quantity, sum?.Lowest)}</td><td data-label=\"{Say($"Mean")}\">{MeasuredPart.Value(measured.Quantity, sum?.Mean)}</td><td data-label=\"{Say($"Highest")}\">{MeasuredPart.Value(measured.Quantity, sum?.Highest)}</td></tr>");
            }

            page.Literal("</tbody></table></details>");
        }
    }

    private static void Help(HtmlWriter page, PageModel model, Instant now)
    {
        if (!model.Times.IsRelative)
        {
            page.Add($"<form class=\"go\" method=\"get\" action=\"{TimeQuery.Path}\"><h2>{Say($"Go to a moment")}</h2><p class=\"entry\"><label for=\"at\">{Say($"Day and time, of the board")}</label>");
            page.Add($"<input id=\"at\" name=\"{TimeQuery.AtField}\" type=\"datetime-local\" required value=\"{TimeTicks.Local(now, model.Zone).ToString("yyyy-MM-dd'T'HH:mm", CultureInfo.InvariantCulture)}\"><label for=\"span\">{Say($"How much around it")}</label><select id=\"span\" name=\"{TimeQuery.SpanField}\">");
            foreach (TimeSpanChoice choice in TimeSpanChoice.All)
            {
                page.Add($"<option value=\"{choice.Name}\"");
                page.Literal(choice == TimeSpanChoice.Usual ? " selected>" : ">");
                page.Add($"{choice.Title}</option>");
            }

            page.Add($"</select><button>{Say($"Go there")}</button></p></form>");
        }

        page.Add($"<p class=\"keys\" id=\"keys\">{Say($"On the axis: drag to move, pinch or turn the wheel to come nearer, tap twice to come nearer there, tap once to choose a moment. With keys: arrows move, plus and minus come nearer and go farther, Home goes to the beginning, End to now.")}</p>");
    }
}
