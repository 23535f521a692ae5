using System.Globalization;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.Languages;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>Frames in a table: when, which, what it means, and its bytes.</summary>
internal static class FramesPage
{
    public static string Of(FrameWindow window, string file, Instant? at, Capture? capture, TimeSpan correction, PageModel model)
    {
        Times times = model.Times;
        return Page(Say($"Frames, one by one"), model.Language, page =>
        {
            if (capture is not null)
            {
                page.Add($"<p>{Why(capture)} <time datetime=\"{Times.Machine(capture.Time)}\">{times.Full(capture.Time)}</time></p>");
            }

            if (at is { } moment && window.Begin is { } begin && moment - correction < begin)
            {
                page.Add($"<p><strong>{Say($"These frames begin after the moment that was asked for. What came before is not kept.")}</strong></p>");
            }
            else if (at is not null && window.Place is null)
            {
                page.Add($"<p><strong>{Say($"These frames end before the moment that was asked for; here are the last of them.")}</strong></p>");
            }

            if (window.IsDamaged)
            {
                page.Add($"<p>{Say($"Part of the file can’t be read; what can is shown.")}</p>");
            }

            if (window.IsPartlyUntold)
            {
                page.Add($"<p>{Say($"What these frames mean can’t be told: the protocol of the bus isn’t recognised.")}</p>");
            }

            if (window.Frames.Count == 0)
            {
                page.Add($"<p>{Say($"There is no frame here.")}</p>");
            }
            else
            {
                Table(page, window, correction, model, times);
            }

            Way(page, window, file);
            Instant around = at ?? capture?.Time ?? (window.Frames.Count > 0 ? window.Frames[0].Time + correction : default);
            page.Add($"<p class=\"foot\"><a href=\"{TimeQuery.Around(around)}\">{Say($"This moment on the time axis")}</a> · <a href=\"{Pages.Marks.CaptureFolder}{file}\">{Say($"The whole file, pcapng")}</a></p>");
        });
    }

    /// <summary>No frames of that time were kept: why, which are nearest, and what to do so that there are some next time.</summary>
    public static string NotKept(Instant at, Capture? before, Capture? after, PageModel model) => Page(Say($"No frames were kept of this moment"), model.Language, page =>
    {
        Times times = model.Times;
        page.Add($"<p>{Say($"Asked for: {times.Full(at)}. Frames are kept around each finding and each mark, from {CapturePlan.Before.TotalSeconds:0} s before to {CapturePlan.After.TotalSeconds:0} s after; the rest is counted and let go, because cards wear.")}</p>");
        foreach ((Capture? nearest, Sentence name) in new[] { (before, Say($"The nearest before")), (after, Say($"The nearest after")) })
        {
            if (nearest is { File: { } file } capture)
            {
                page.Add($"<p class=\"foot\"><a href=\"{AddressOf(capture, file)}\">{name}: {times.Full(capture.Time)}</a></p>");
            }
        }

        if (model is { CanMark: true, CanAct: true })
        {
            page.Add($"<p>{Say($"If it happens again: set a mark within a minute, and its frames are kept.")} <a href=\"/#marks\">{Say($"Set a mark")}</a></p>");
        }

        page.Add($"<p class=\"foot\"><a href=\"{TimeQuery.Around(at)}\">{Say($"This moment on the time axis")}</a></p>");
    });

    public static string NoMoment(Language language) => Page(Say($"This address names no moment."), language, page =>
        page.Add($"<p>{Say($"A moment is written as 2026-11-26T14:05:00Z.")}</p><p class=\"foot\"><a href=\"{TimeQuery.Path}\">{Say($"The time axis")}</a></p>"));

    public static string NotThere(Language language) => Page(Say($"These frames are not there."), language, page =>
        page.Add($"<p>{Say($"They were not kept, or had to make room for later ones.")}</p><p class=\"foot\"><a href=\"{TimeQuery.Path}\">{Say($"The time axis")}</a></p>"));

    public static string Unreadable(Language language) => Page(Say($"These frames can’t be read."), language, page =>
        page.Add($"<p>{Say($"The file is damaged, or is no record of frames.")}</p><p class=\"foot\"><a href=\"{TimeQuery.Path}\">{Say($"The time axis")}</a></p>"));

    private static string AddressOf(Capture capture, string file) => FramesPart.AddressOf(file, capture.Time);

    private static Sentence Why(Capture capture) => capture switch
    {
        { IsMark: true, Why.Length: > 0 } => Say($"Kept around the mark “{capture.WhySaid}”,"),
        { IsMark: true } => Say($"Kept around a mark,"),
        _ => Say($"Kept around a finding,"),
    };

    private static string Page(Sentence title, Language language, Action<HtmlWriter> write)
    {
        HtmlWriter page = new(language);
        PageRenderer.Begin(page, title, isServed: true, isLive: false, PageAssets.TimeStyle);
        Shell.Open(page, FramesPart.Path);
        page.Add($"<h1>{title}</h1>");
        write(page);
        Shell.Close(page);
        return page.ToString();
    }

    private static void Table(HtmlWriter page, FrameWindow window, TimeSpan correction, PageModel model, Times times)
    {
        bool areSeveral = window.Frames.Select(frame => frame.Interface).Distinct(StringComparer.Ordinal).Count() > 1;
        Instant first = window.Frames[0].Time + correction;
        page.Add($"<p class=\"zone\">{(times.IsRelative ? Say($"This record holds no time of day. Times count from its beginning: hours, minutes, seconds.") : TimeTicks.Zone(first, window.Frames[^1].Time + correction, model.Zone))} {Say($"From frame {window.First + 1:N0}, {times.Full(first)}.")}</p>");
        page.Add($"<table class=\"frames-table\"><thead><tr><th scope=\"col\">{Say($"When")}</th><th scope=\"col\">{Say($"Identifier")}</th><th scope=\"col\">{Say($"What it means")}</th><th scope=\"col\">{Say($"Bytes")}</th></tr></thead><tbody>");
        for (int place = 0; place < window.Frames.Count; place++)
        {
            ShownFrame frame = window.Frames[place];
            Instant time = frame.Time + correction;
            page.Literal(window.First + place == window.Place ? "<tr class=\"here\" id=\"here\">" : "<tr>");
            Sentence said = times.IsRelative ? times.Exact(time) : Say($"{TimeTicks.Local(time, model.Zone):HH:mm:ss.ffff}");
            page.Add($"<th scope=\"row\"><time datetime=\"{Times.Machine(time)}\">{said}</time></th><td class=\"code\">{(frame.Id.Length > 0 ? frame.Id : "–")}{(areSeveral ? " " + frame.Interface : string.Empty)}</td><td>{frame.Meaning}</td><td class=\"code\">{frame.Bytes}</td></tr>");
        }

        page.Literal("</tbody></table>");
    }

    private static void Way(HtmlWriter page, FrameWindow window, string file)
    {
        page.Add($"<nav class=\"steps\" aria-label=\"{Say($"More of these frames")}\"><ul>");
        if (window.First > 0)
        {
            page.Add($"<li><a href=\"{FramesPart.AddressOf(file, window.First - Limits.FramesOnPage)}\"><span aria-hidden=\"true\">←</span> {Say($"earlier")}</a></li>");
        }

        if (window.HasMore)
        {
            page.Add($"<li><a href=\"{FramesPart.AddressOf(file, window.First + window.Frames.Count)}\"><span aria-hidden=\"true\">→</span> {Say($"later")}</a></li>");
        }

        page.Literal("</ul></nav>");
    }
}
