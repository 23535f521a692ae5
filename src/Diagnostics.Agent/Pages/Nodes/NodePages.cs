using Diagnostics.Agent.Activities;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages.Sites;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>The page of a node: how it stands, what was found on it, its inputs and outputs, its history, what it sends.</summary>
internal static class NodePages
{
    public static LivePage? At(string path, PageModel model)
    {
        if (!NodeLinks.TryRead(path, out string bus, out int address, out Point? point) || NodeView.Of(model, bus, address) is not { } node)
        {
            return null;
        }

        if (point is { } which)
        {
            return PointPages.Of(path, node, which);
        }

        return new(
            node.Title,
            path,
            [
                PagePiece.Of("head", page => Head(page, node)),
                PagePiece.Of("findings", page => FindingCards.Few(page, model, node.Findings)),
                PagePiece.Of("points", page => Points(page, node)),
                PagePiece.Of("history", page => History(page, node)),
                PagePiece.Of("facts", page => Facts(page, node)),
                PagePiece.Of("sends", page => Sends(page, node)),
                PagePiece.Of("foot", PageRenderer.CautionBox),
            ]);
    }

    private static void Head(HtmlWriter page, NodeView node)
    {
        page.Add($"<header><p class=\"source\"><a href=\"/#nodes\">{Say($"All nodes")}</a> · {node.Bus.Interface}</p><h1>{node.Title}</h1><p>{Stand(node)}</p>");
        if (Neighbours(node) is { } place)
        {
            page.Add($"<p>{place}</p>");
        }

        if (node.Model.CanAct && node.Address is >= 1 and <= AsBuiltLimits.HighestAddress)
        {
            page.Add($"<p class=\"foot\"><a href=\"{SiteLinks.Node(node.Address)}\">{Say($"Name it, its inputs and its outputs")}</a></p>");
        }

        page.Literal("</header>");
    }

    private static Sentence Stand(NodeView node)
    {
        if (node.Heard is not { } heard)
        {
            return Say($"It stands in the as-built record, and was not heard under this address since this tool began to listen.");
        }

        Sentence last = node.Model.Times.Full(heard.LastHeard);
        Sentence notice = heard switch
        {
            { SilenceNoticedWithinSeconds: { } seconds, Present: false } => Say($"Its silence was noticed {Times.Span(seconds)} after that; when it is heard again, that shows here at once."),
            { SilenceNoticedWithinSeconds: { } seconds } => Say($"If it stops, that is noticed within {Times.Span(seconds)}."),
            { SilenceNoticedAfterCommands: not null, Present: false } => Say($"It no longer answers commands; when it is heard again, that shows here at once."),
            { SilenceNoticedAfterCommands: { } commands } => Say($"It sends nothing regular, but answers commands: if it stops, that is noticed after {commands} without an answer."),
            _ when Words.IsShared(node.Model.Report, node.Bus, heard.Address) => Say($"Two devices use its address, so the absence of one of them can’t be noticed."),
            _ => Say($"It sends nothing regular, so its absence can’t be noticed."),
        };
        Sentence now = heard.Present switch
        {
            true => Say($"It is here: last heard {last}."),
            false => Say($"It is silent: last heard {last}."),
            null => Say($"Last heard {last}; whether it is here now can’t be told."),
        };
        return Join(now, notice);
    }

    /// <summary>Who sits beside it on the cable: where to go with the meter.</summary>
    private static Sentence? Neighbours(NodeView node)
    {
        IReadOnlyList<TrunkEntry> trunk = node.Model.Report.Buses.Count == 1 ? node.Model.Built?.Trunk ?? [] : [];
        int place = -1;
        for (int index = 0; index < trunk.Count; index++)
        {
            place = trunk[index].Node == node.Address ? index : place;
        }

        if (place < 0)
        {
            return null;
        }

        Sentence? before = place > 0 ? Entry(node, trunk[place - 1], trunk[place].Metres) : null;
        Sentence? after = place + 1 < trunk.Count ? Entry(node, trunk[place + 1], trunk[place + 1].Metres) : null;
        return (before, after) switch
        {
            ({ } one, { } other) => Say($"On the cable between {one} and {other}."),
            ({ } one, null) => Say($"At the end of the cable, after {one}."),
            (null, { } other) => Say($"At the beginning of the cable, before {other}."),
            _ => null,
        };
    }

    private static Sentence Entry(NodeView node, TrunkEntry entry, double? metres)
    {
        Sentence what = entry.Node is { } address ? Words.NodeName(address, NodeView.Of(node.Model, node.Bus.Interface, address)?.Name)
            : entry.TerminatorOhms is { } ohms ? Say($"the terminator of {ohms:0.#} Ω")
            : Say($"this tool’s clip");
        return metres is > 0 ? Say($"{what} ({metres.Value:0.#} m of cable)") : what;
    }

    private static void Points(HtmlWriter page, NodeView node)
    {
        IReadOnlyList<Point> points = PointsOf(node);
        page.Add($"<section class=\"points\" id=\"points\"><h2>{Say($"Inputs and outputs")}</h2>");
        if (points.Count == 0)
        {
            page.Add($"<p>{Say($"None was heard, and none stands in the record. Inputs and outputs are told from process messages in CiA 401’s default mapping, or in the mapping that was heard or recorded.")}</p></section>");
            return;
        }

        page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Which")}</th><th scope=\"col\">{Say($"Now")}</th><th scope=\"col\">{Say($"Since")}</th><th scope=\"col\">{Say($"Changes heard")}</th></tr></thead><tbody>");
        foreach (Point point in points)
        {
            PointState? state = node.Points.FirstOrDefault(known => known.Point == point);
            page.Add($"<tr><th scope=\"row\"><a href=\"{NodeLinks.Of(point)}\">{node.TitleOf(point)}</a></th>");
            page.Add($"<td data-label=\"{Say($"Now")}\">{(state is null ? PointPages.Unknown(node.Model, point) : PointPages.Now(state))}</td>");
            page.Add($"<td data-label=\"{Say($"Since")}\">{(state is null ? Named("–") : node.Model.Times.Short(state.Latest.Time))}</td>");
            page.Add($"<td data-label=\"{Say($"Changes heard")}\">{(state is null && PointPages.IsLeftOut(node.Model, point) ? Named("–") : Words.Count(state?.Count ?? 0))}</td></tr>");
        }

        page.Literal("</tbody></table>");
        if (points.Any(point => PointPages.IsLeftOut(node.Model, point)))
        {
            page.Add($"<p class=\"limits\">{PointPages.LeftOut}</p>");
        }

        page.Literal("</section>");
    }

    /// <summary>Those of the record and those that were heard.</summary>
    private static IReadOnlyList<Point> PointsOf(NodeView node) =>
    [
        .. node.Points.Select(state => state.Point)
            .Union((node.Built?.Inputs ?? []).Select(input => new Point(node.Bus.Interface, node.Address, PointKind.Input, input.Input)))
            .Union((node.Built?.Outputs ?? []).Select(output => new Point(node.Bus.Interface, node.Address, PointKind.Output, output.Output)))
            .OrderBy(point => point.Kind).ThenBy(point => point.Number),
    ];

    private static void History(HtmlWriter page, NodeView node)
    {
        NodeEvent[] events = [.. node.Model.NodeEvents.Where(happened => happened.Interface == node.Bus.Interface && happened.Address == node.Address).Reverse()];
        page.Add($"<section class=\"history\" id=\"history\"><h2>{Say($"Its history")}</h2>");
        if (events.Length == 0)
        {
            page.Add($"<p>{Say($"Nothing is kept of it so far.")}</p></section>");
            return;
        }

        Event(page, node, events.Take(Limits.HistoryOpen));
        if (events.Length > Limits.HistoryOpen)
        {
            page.Add($"<details id=\"history-more\"><summary>{Say($"{events.Length - Limits.HistoryOpen} earlier")}</summary>");
            Event(page, node, events.Skip(Limits.HistoryOpen).Take(Limits.HistoryShown));
            page.Literal("</details>");
        }

        page.Literal("</section>");
    }

    private static void Event(HtmlWriter page, NodeView node, IEnumerable<NodeEvent> events)
    {
        page.Literal("<ol class=\"evidence\">");
        foreach (NodeEvent happened in events)
        {
            page.Add($"<li><time datetime=\"{Times.Machine(happened.Time)}\">{node.Model.Times.Full(happened.Time)}</time> {Told(happened)}</li>");
        }

        page.Literal("</ol>");
    }

    private static Sentence Told(NodeEvent happened) => happened.Kind switch
    {
        NodeEventKind.Appeared => Say($"Heard for the first time in this run of the tool."),
        NodeEventKind.Silent => Say($"Last frame before it fell silent."),
        NodeEventKind.Returned => Say($"Heard again."),
        NodeEventKind.CannotTell => Say($"From here on its silence would not have been noticed."),
        NodeEventKind.CanTell => Say($"From here on its silence would have been noticed."),
        NodeEventKind.Restarted => Say($"It announced a start; starts since this run began: {happened.Detail}."),
        NodeEventKind.State => happened.Detail switch
        {
            "operational" => Say($"It became operational."),
            "pre-operational" => Say($"It waits to be started (pre-operational)."),
            "stopped" => Say($"It was stopped."),
            "initialising" => Say($"It initialises."),
            _ => Say($"Its state isn’t known any more."),
        },
        _ => Named(happened.Kind.ToString()),
    };

    private static void Facts(HtmlWriter page, NodeView node)
    {
        page.Add($"<section class=\"about\" id=\"about\"><h2>{Say($"What is known of it")}</h2><dl class=\"facts\">");
        if (node.Heard is { } heard)
        {
            IdentityReport identity = heard.Identity;
            Fact(page, Say($"State"), Words.State(heard));
            Fact(page, Say($"First heard"), node.Model.Times.Full(heard.FirstHeard));
            Fact(page, Say($"Frames"), Words.Count(heard.Frames));
            Fact(page, Say($"Share of the traffic"), Words.Percent(heard.TrafficShare));
            Fact(page, Say($"Starts announced"), Words.Count(heard.Restarts));
            Fact(page, Say($"Starts that nothing on the bus explains"), Words.Count(heard.RestartsUnexplained));
            Fact(page, Say($"Disturbances that hit its frames"), PageRenderer.CanJudgeErrors(node.Bus) ? Words.Count(heard.ErrorsOnItsFrames) : null);
            Fact(page, Say($"Heartbeat"), heard.HeartbeatSeconds is { } beat ? Times.Span(beat) : null);
            Fact(page, Say($"Its own name"), identity.Name);
            Fact(page, Say($"Vendor"), identity.Vendor);
            Fact(page, Say($"Product"), identity.Product);
            Fact(page, Say($"Revision"), identity.Revision);
            Fact(page, Say($"Serial number"), identity.Serial);
            Fact(page, Say($"Firmware"), identity.Firmware);
        }

        Fact(page, Say($"Type, by the record"), node.Built?.Type);
        Fact(page, Say($"Serial number, by the record"), node.Built?.Serial);
        Fact(page, Say($"Firmware, by the record"), node.Built?.Firmware);
        page.Literal("</dl>");
        if (node.Findings.Any(told => told.Finding.Finding == Catalogue.NodeErrors.Name))
        {
            page.Add($"<p class=\"limits\">{ErrorCounts.DamagedFrames}</p>");
        }

        page.Add($"<p class=\"limits\">{Say($"What isn’t listed was not heard. This tool never asks; it reads what others ask.")}</p></section>");
    }

    private static void Fact(HtmlWriter page, Sentence name, string? value) => Fact(page, name, string.IsNullOrEmpty(value) ? null : Named(value));

    private static void Fact(HtmlWriter page, Sentence name, Sentence? value)
    {
        if (value is not null)
        {
            page.Add($"<dt>{name}</dt><dd><bdi>{value}</bdi></dd>");
        }
    }

    private static void Sends(HtmlWriter page, NodeView node)
    {
        IdentifierReport[] sent = [.. node.Bus.Identifiers.Where(identifier => identifier.Node == node.Address).Take(Limits.IdentifiersShown)];
        if (sent.Length == 0)
        {
            return;
        }

        page.Add($"<section class=\"identifiers\" id=\"sends\"><h2>{Say($"What it sends")}</h2>");
        PageRenderer.IdentifierTable(page, node.Model.Report, sent);
        page.Literal("</section>");
    }
}
