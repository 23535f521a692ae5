using Diagnostics.Agent.Soaks;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>The numbers of a hand-over record: each bus as a whole, and who is on it.</summary>
internal static class RecordTables
{
    /// <summary>Buses beside each other in one table; more columns are too narrow on A4.</summary>
    private const int BusesInARow = 3;

    public static void Statistics(HtmlWriter page, PageModel model)
    {
        if (model.Report.Buses.Count == 0)
        {
            return;
        }

        page.Add($"<section class=\"statistics\"><h2>{Say($"What was counted")}</h2>");
        foreach (BusReport[] buses in model.Report.Buses.Chunk(BusesInARow))
        {
            page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Interface")}</th>");
            foreach (BusReport bus in buses)
            {
                page.Add($"<th scope=\"col\">{bus.Interface}</th>");
            }

            page.Literal("</tr></thead><tbody>");
            foreach ((Sentence name, Func<BusReport, Sentence> value) in Rows(model))
            {
                page.Add($"<tr><th scope=\"row\">{name}</th>");
                foreach (BusReport bus in buses)
                {
                    page.Add($"<td data-label=\"{bus.Interface}\">{value(bus)}</td>");
                }

                page.Literal("</tr>");
            }

            page.Literal("</tbody></table>");
            foreach (BusReport bus in buses)
            {
                if (ErrorCounts.OfBus(model.Report, bus, besideDisturbances: true) is { IsEmpty: false } counts)
                {
                    page.Add($"<p class=\"limits\">{(model.Report.Buses.Count > 1 ? Say($"{bus.Interface}: {counts}") : counts)}</p>");
                }
            }
        }

        page.Literal("</section>");
    }

    public static void Nodes(HtmlWriter page, PageModel model)
    {
        foreach (BusReport bus in model.Report.Buses.Where(bus => bus.Nodes.Count > 0))
        {
            page.Add($"<section class=\"nodes\"><h2>{(model.Report.Buses.Count > 1 ? Say($"Who is on {bus.Interface}") : Say($"Who is on the bus"))}</h2>");
            bool tells = bus.Nodes.Any(node => Told(node.Identity, BuiltOf(model, node)).Any());
            page.Add($"<table><thead><tr><th scope=\"col\">{Say($"Node")}</th>");
            if (tells)
            {
                page.Add($"<th scope=\"col\" class=\"device\">{Say($"Device")}</th>");
            }

            page.Add($"<th scope=\"col\">{Say($"State at the end")}</th><th scope=\"col\" class=\"noticed\">{Say($"Silence noticed")}</th><th scope=\"col\" class=\"number\">{Say($"Restarts")}</th><th scope=\"col\" class=\"number\">{Say($"Errors")}</th></tr></thead><tbody>");
            foreach (NodeReport node in bus.Nodes)
            {
                Node(page, bus, node, model, tells);
            }

            page.Literal("</tbody></table>");
            if (ErrorCounts.OfNodes(bus) is { } errors)
            {
                page.Add($"<p class=\"limits\">{errors}</p>");
            }

            if (bus.Nodes.Any(node => node.Restarts > 0))
            {
                page.Add($"<p class=\"limits\">{Say($"Every start that a node announced counts as a restart here. It is no finding where it was commanded, where the node came back from an absence that was noticed, or where a second device on its address announced it.")}</p>");
            }

            if (Words.WhyUnnoticed(model.Report, bus) is { } why)
            {
                page.Add($"<p class=\"limits\">{why}</p>");
            }

            page.Literal("</section>");
        }
    }

    /// <summary>Only where nodes can't be told: what is sent is then the only handle.</summary>
    public static void Identifiers(HtmlWriter page, Report report)
    {
        foreach (BusReport bus in report.Buses.Where(bus => bus.Identifiers.Count > 0 && (Words.IsUnknownProtocol(bus.Protocol) || bus.Nodes.Count == 0)))
        {
            page.Add($"<section class=\"identifiers\"><h2>{Say($"What is sent on {bus.Interface}")}</h2><p>{Say($"The protocol is not recognised, so this goes by identifier, most urgent first.")}</p>");
            PageRenderer.IdentifierTable(page, report, bus.Identifiers.Take(Limits.IdentifiersOnRecord));
            int more = bus.Identifiers.Count - Limits.IdentifiersOnRecord;
            if (more > 0)
            {
                page.Add($"<p>{Say(more, $"{more:N0} more stands in the report document.", $"{more:N0} more stand in the report document.")}</p>");
            }

            page.Literal("</section>");
        }
    }

    private static IEnumerable<(Sentence Name, Func<BusReport, Sentence> Value)> Rows(PageModel model)
    {
        NotSeenReport notSeen = model.Report.Source.NotSeen;
        yield return (Say($"Bit rate"), bus => bus.BitRate is int rate ? Say($"{rate:N0} bit/s ({Words.BitRateSource(bus.BitRateSource)})") : Say($"not known"));
        yield return (Say($"Protocol"), bus => Say($"{Words.Protocol(bus.Protocol)}"));
        yield return (Say($"This tool’s adapter"), Listening);
        yield return (Say($"Heard for"), bus => bus.HeardSeconds > 0 ? Say($"{Times.Span(bus.HeardSeconds)}") : Say($"not known"));
        yield return (Say($"Gaps in that"), bus => Gaps([.. notSeen.Gaps.Where(gap => gap.Interface is null || gap.Interface == bus.Interface)]));
        yield return (Say($"Frames"), bus => Say($"{bus.Frames:N0}"));
        yield return (Say($"Load"), Load);
        yield return (Say($"Errors on the wire"), Errors);
        yield return (Say($"Errors per bit"), Ratio);
        yield return (Say($"Nodes"), Presence);
        yield return (Say($"Restarts of nodes"), Restarts);
    }

    private static Sentence Listening(BusReport bus) => bus.ListenOnly switch
    {
        true => Say($"only listened"),
        false => Say($"took part in the bus (it acknowledged)"),
        null => Say($"not known"),
    };

    private static Sentence Gaps(IReadOnlyList<GapReport> gaps)
    {
        double seconds = gaps.Sum(gap => gap.End.SecondsSince(gap.Start));
        return gaps.Count == 0 ? Say($"none") : Say(gaps.Count, $"{gaps.Count:N0}, {Times.Span(seconds)}", $"{gaps.Count:N0}, together {Times.Span(seconds)}");
    }

    private static Sentence Load(BusReport bus) => bus.LoadMean is null
        ? Say($"not known")
        : Say($"{Words.Percent(bus.LoadMean)} on average, {Words.Percent(bus.LoadPeak1s)} in the busiest second");

    private static Sentence Errors(BusReport bus)
    {
        if (!PageRenderer.CanJudgeErrors(bus))
        {
            return Say($"can’t be judged: this record would show none");
        }

        ErrorsReport errors = bus.Errors;
        Sentence[] kinds =
        [
            .. new (long Count, Sentence Name)[]
            {
                (errors.Bit, Say($"bit {errors.Bit:N0}")), (errors.Stuff, Say($"stuff {errors.Stuff:N0}")), (errors.Form, Say($"form {errors.Form:N0}")),
                (errors.Crc, Say($"CRC {errors.Crc:N0}")), (errors.Ack, Say($"acknowledge {errors.Ack:N0}")), (errors.Other, Say($"other {errors.Other:N0}")),
            }.Where(kind => kind.Count > 0).Select(kind => kind.Name),
        ];
        return kinds.Length == 0 ? Say($"none") : Say($"{PageRenderer.ErrorsHeard(bus):N0} ({List(kinds)})");
    }

    private static Sentence Ratio(BusReport bus) => ErrorRatio.Of(bus.ErrorEpisodes, bus.BitsHeard) switch
    {
        null => Say($"not known"),
        { } ratio when bus.ErrorEpisodes == 0 => Say($"none in {bus.BitsHeard:N0} bits: below {ratio.Below:0.0e+0} (exact bound, 95 %)"),
        { } ratio => Say(bus.ErrorEpisodes!.Value, $"one disturbance in {bus.BitsHeard:N0} bits: between {ratio.Low:0.0e+0} and {ratio.High:0.0e+0} (exact interval, 95 %)", $"{bus.ErrorEpisodes.Value:N0} disturbances in {bus.BitsHeard:N0} bits: between {ratio.Low:0.0e+0} and {ratio.High:0.0e+0} (exact interval, 95 %)"),
    };

    private static Sentence Presence(BusReport bus)
    {
        int silent = bus.Nodes.Count(node => node.Present == false);
        int mute = bus.Nodes.Count(node => node.Present is null);
        return Join(
            Say($"{bus.Nodes.Count:N0} heard."),
            silent == 0 ? Sentence.Empty : Say($"{silent:N0} silent at the end."),
            mute == 0 ? Sentence.Empty : Say($"Of {mute:N0} silence can’t be noticed."));
    }

    private static Sentence Restarts(BusReport bus)
    {
        long all = bus.Nodes.Sum(node => (long)node.Restarts);
        long unexplained = bus.Nodes.Sum(node => (long)node.RestartsUnexplained);
        return all == 0 ? Say($"none") : Say($"{all:N0}, {unexplained:N0} of them without a reason that the bus shows");
    }

    private static void Node(HtmlWriter page, BusReport bus, NodeReport node, PageModel model, bool tells)
    {
        page.Add($"<tr class=\"{(node.Present == false ? "is-silent" : string.Empty)}\"><th scope=\"row\"><span class=\"address\">{node.Address}</span> <bdi>{Words.NameOf(node)}</bdi></th>");
        if (tells)
        {
            Device(page, node.Identity, BuiltOf(model, node));
        }

        page.Add($"<td data-label=\"{Say($"State at the end")}\"><span class=\"presence\">{(node.Present == false ? "□ " : string.Empty)}{Presence(node)}</span>, {Words.State(node)}");
        if (node.Present == false)
        {
            page.Add($", {Say($"last heard {model.Times.Short(node.LastHeard)}")}");
        }

        page.Add($"</td><td data-label=\"{Say($"Silence noticed")}\">{Words.Noticed(node)}</td>");
        page.Add($"<td data-label=\"{Say($"Restarts")}\">{Say($"{node.Restarts:N0}")}</td><td data-label=\"{Say($"Errors")}\">{(PageRenderer.CanJudgeErrors(bus) ? Say($"{node.ErrorsOnItsFrames:N0}") : Say($"not known"))}</td></tr>");
    }

    private static Sentence Presence(NodeReport node) => node.Present switch { true => Say($"here"), false => Say($"silent"), null => Say($"can’t tell") };

    private static BuiltNode? BuiltOf(PageModel model, NodeReport node) => model.Built?.Nodes.FirstOrDefault(built => built.Address == node.Address);

    private static void Device(HtmlWriter page, IdentityReport identity, BuiltNode? built)
    {
        page.Add($"<td data-label=\"{Say($"Device")}\">");
        bool isFirst = true;
        foreach (Sentence part in Told(identity, built).DefaultIfEmpty(Say($"neither heard nor in the record")))
        {
            page.Literal(isFirst ? string.Empty : ", ");
            page.Add($"{part}");
            isFirst = false;
        }

        page.Literal("</td>");
    }

    /// <summary>What the device says of itself, and where it says nothing what the as-built record says; which of several equal boxes it was, is what a hand-over is about.</summary>
    private static IEnumerable<Sentence> Told(IdentityReport identity, BuiltNode? built)
    {
        if (identity.Product is { Length: > 0 } product)
        {
            yield return Named(product);
        }

        if (identity.Serial is { Length: > 0 } serial)
        {
            yield return Say($"serial {serial}");
        }

        if (identity.Firmware is { Length: > 0 } firmware)
        {
            yield return Say($"firmware {firmware}");
        }

        Sentence[] written =
        [
            .. string.IsNullOrEmpty(identity.Product) && built?.Type is { } type ? [Named(type)] : Array.Empty<Sentence>(),
            .. string.IsNullOrEmpty(identity.Serial) && built?.Serial is { } number ? [Say($"serial {number}")] : Array.Empty<Sentence>(),
            .. string.IsNullOrEmpty(identity.Firmware) && built?.Firmware is { } edition ? [Say($"firmware {edition}")] : Array.Empty<Sentence>(),
        ];
        for (int place = 0; place < written.Length; place++)
        {
            yield return place == 0 ? Say($"by the record: {written[0]}") : written[place];
        }
    }
}
