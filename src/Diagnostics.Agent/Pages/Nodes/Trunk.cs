using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>
/// The bus drawn: in cable order with terminators, our clip and the metres between, as the as-built record has them; where the order isn't known, its nodes
/// side by side without a cable. A list first of all, so that it is read out in order, wraps on a phone and prints; the cable is drawn by its style.
/// </summary>
internal static class Trunk
{
    /// <summary>A resistor as IEC 60617 draws it, across the end of the line.</summary>
    private const string TerminatorSign =
        "<svg class=\"sign\" viewBox=\"0 0 24 32\" aria-hidden=\"true\" focusable=\"false\"><path d=\"M12 0v6M12 26v6\"/><rect x=\"7\" y=\"6\" width=\"10\" height=\"20\"/></svg>";

    private const string ClipSign =
        "<svg class=\"sign\" viewBox=\"0 0 24 32\" aria-hidden=\"true\" focusable=\"false\"><path d=\"M4 12 12 2l8 10M12 2v14\"/><rect x=\"3\" y=\"16\" width=\"18\" height=\"13\"/><path d=\"M7 22h10\"/></svg>";

    public static void Write(HtmlWriter page, PageModel model)
    {
        if (!model.Report.Buses.Any(bus => bus.Nodes.Count > 0) && model.Built is null)
        {
            return;
        }

        IReadOnlyList<ToldFinding> found = ToldFinding.Of(model.Report);
        page.Add($"<section class=\"trunk\" id=\"trunk\"><h2>{Say($"The bus")}</h2>");
        foreach (BusReport bus in model.Report.Buses)
        {
            // A record describes one trunk; with several interfaces it doesn't say which.
            bool isOrdered = model.Report.Buses.Count == 1 && model.Built is { Trunk.Count: > 0 };
            if (model.Report.Buses.Count > 1)
            {
                page.Add($"<h3>{bus.Interface}</h3>");
            }

            if (isOrdered)
            {
                Ordered(page, model, found, bus, model.Built!.Trunk);
            }
            else
            {
                Unordered(page, model, found, bus);
            }
        }

        page.Literal("</section>");
    }

    private static void Ordered(HtmlWriter page, PageModel model, IReadOnlyList<ToldFinding> found, BusReport bus, IReadOnlyList<TrunkEntry> entries)
    {
        (int From, int To)[] suspects = [.. model.Report.Findings.Where(finding => finding.End is null).Select(finding => finding.Segment).OfType<string>().Select(Stretch).OfType<(int, int)>()];
        page.Literal("<ol class=\"line\">");
        int? before = null;
        HashSet<int> drawn = [];
        foreach (TrunkEntry entry in entries)
        {
            bool isSuspect = before is { } from && entry.Node is { } to && suspects.Any(stretch => (stretch.From, stretch.To) == (from, to) || (stretch.From, stretch.To) == (to, from));
            page.Add($"<li class=\"{(entry.Node is null ? "end" : "stop")}{(isSuspect ? " suspect" : string.Empty)}\">");
            if (entry.Metres is { } metres && metres > 0)
            {
                page.Add($"<span class=\"metres\">{Say($"{metres:0.#} m")}</span>");
            }

            if (isSuspect)
            {
                page.Add($"<span class=\"suspicion\">{Say($"suspected stretch")}</span>");
            }

            if (entry.Node is { } node)
            {
                Box(page, model, found, bus, node);
                before = node;
                drawn.Add(node);
            }
            else if (entry.TerminatorOhms is { } ohms)
            {
                page.Literal(TerminatorSign);
                page.Add($"<span class=\"what\">{Say($"terminator, {ohms:0.#} Ω")}</span>");
            }
            else
            {
                page.Literal(ClipSign);
                page.Add($"<span class=\"what\">{Say($"this tool listens here")}</span>");
            }

            page.Literal("</li>");
        }

        page.Literal("</ol>");
        int[] others = [.. bus.Nodes.Select(node => node.Address).Where(address => !drawn.Contains(address))];
        if (others.Length > 0)
        {
            page.Add($"<p>{Say(others.Length, $"One more was heard whose place on the cable isn’t in the record:", $"{others.Length} more were heard whose place on the cable isn’t in the record:")}</p>");
            Boxes(page, model, found, bus, others);
        }
    }

    private static void Unordered(HtmlWriter page, PageModel model, IReadOnlyList<ToldFinding> found, BusReport bus)
    {
        if (bus.Nodes.Count == 0)
        {
            page.Add($"<p>{Say($"No device was heard under an address of its own.")}</p>");
            return;
        }

        page.Add($"<p class=\"limits\">{Say($"The order on the cable isn’t known; these stand by address.")}</p>");
        int[] recorded = model.Report.Buses.Count == 1 ? [.. (model.Built?.Nodes ?? []).Select(node => node.Address)] : [];
        Boxes(page, model, found, bus, [.. bus.Nodes.Select(node => node.Address).Union(recorded).Order()]);
    }

    private static void Boxes(HtmlWriter page, PageModel model, IReadOnlyList<ToldFinding> found, BusReport bus, IReadOnlyList<int> addresses)
    {
        page.Literal("<ul class=\"line unordered\">");
        foreach (int address in addresses)
        {
            page.Literal("<li class=\"stop\">");
            Box(page, model, found, bus, address);
            page.Literal("</li>");
        }

        page.Literal("</ul>");
    }

    /// <summary>A node: number, name, and how it stands by shape and word.</summary>
    private static void Box(HtmlWriter page, PageModel model, IReadOnlyList<ToldFinding> found, BusReport bus, int address)
    {
        if (NodeView.Of(model, bus.Interface, address) is not { } node)
        {
            page.Add($"<span class=\"box\"><span class=\"address\">{address}</span> <span class=\"stand\">{Say($"not heard")}</span></span>");
            return;
        }

        ToldFinding? worst = node.FindingsAmong(found).FirstOrDefault(told => !told.IsOver);
        (string shape, Sentence stand) = (worst, node.Heard) switch
        {
            ({ Finding.Severity: "fault" or "warning" }, _) => (Words.Shape(worst.Finding.Severity), worst.Finding.Severity == "fault" ? Say($"fault") : Say($"warning")),
            (_, null) => ("–", Say($"not heard")),
            (_, { Present: false }) => ("□", Say($"silent")),
            (_, { Present: null }) => ("?", Say($"can’t tell")),
            _ => ("✓", Say($"here")),
        };
        string grade = worst?.Finding.Severity is "fault" or "warning" ? " is-" + worst.Finding.Severity : string.Empty;
        page.Literal(model.IsServed ? "<a " : "<span ");
        page.Add($"class=\"box{grade}\"");
        if (model.IsServed)
        {
            page.Add($" href=\"{NodeLinks.Of(bus.Interface, address)}\"");
        }

        page.Add($"><span class=\"address\">{address}</span> <bdi class=\"name\">{node.Name}</bdi> <span class=\"stand\"><span class=\"shape\" aria-hidden=\"true\">{shape}</span> {stand}</span>");
        page.Literal(model.IsServed ? "</a>" : "</span>");
    }

    /// <summary>The stretch that a finding suspects: "5-7", the nodes at its ends.</summary>
    private static (int From, int To)? Stretch(string segment) =>
        segment.Split('-') is [var from, var to] && int.TryParse(from, out int first) && int.TryParse(to, out int last) ? (first, last) : null;
}
