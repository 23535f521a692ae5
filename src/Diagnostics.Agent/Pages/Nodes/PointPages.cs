using Diagnostics.Agent.Activities;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>The page of an input or an output: how it stands, how it was operated, what was found on it, what switches it.</summary>
internal static class PointPages
{
    /// <summary>From so many whole pulses on, a middle one means something.</summary>
    private const int LeastPulses = 3;

    public static LivePage? Of(string path, NodeView node, Point point)
    {
        PointState? state = node.Points.FirstOrDefault(known => known.Point == point);
        bool isBuilt = point.Kind == PointKind.Input ? node.Built?.Inputs.Any(input => input.Input == point.Number) == true : node.Built?.Outputs.Any(output => output.Output == point.Number) == true;
        if (state is null && !isBuilt)
        {
            return null;
        }

        return new(
            Say($"{node.TitleOf(point)}, {node.Title}"),
            path,
            [
                PagePiece.Of("head", page => Head(page, node, point, state)),
                PagePiece.Of("findings", page => FindingCards.Few(
                    page, node.Model, [.. node.Findings.Where(told => point.Kind == PointKind.Input ? told.Finding.Input == point.Number : told.Finding.Output == point.Number)])),
                PagePiece.Of("wiring", page => Wiring(page, node, point)),
                PagePiece.Of("changes", page => Changes(page, node, point, state)),
                PagePiece.Of("foot", PageRenderer.CautionBox),
            ]);
    }

    /// <summary>How it stands, in a word or two.</summary>
    public static Sentence Now(PointState state) => state switch
    {
        { Point.Kind: PointKind.Input } => state.Latest.Active ? Say($"active") : Say($"inactive"),
        _ => (state.Latest.IsReport, state.Latest.Active) switch
        {
            (true, true) => Say($"reports on"),
            (true, false) => Say($"reports off"),
            (false, true) => Say($"commanded on"),
            _ => Say($"commanded off"),
        },
    };

    /// <summary>Why nothing is known of one that stands in the record, in a word or two.</summary>
    public static Sentence Unknown(PageModel model, Point point) => IsLeftOut(model, point) ? Say($"left out") : Say($"not heard yet");

    /// <summary>It may have changed; the bundle doesn't tell.</summary>
    public static bool IsLeftOut(PageModel model, Point point) => point.Kind == PointKind.Input && model.ReadFrom is { IsWithoutInputs: true };

    /// <summary>So that nobody takes what is missing for what never happened.</summary>
    public static Sentence LeftOut => Say($"Changes of inputs were left out when this bundle was made, so it doesn’t tell how an input stands or how often it changed.");

    private static void Head(HtmlWriter page, NodeView node, Point point, PointState? state)
    {
        page.Add($"<header><p class=\"source\"><a href=\"/#nodes\">{Say($"All nodes")}</a> · <a href=\"{NodeLinks.Of(point.Interface, point.Node)}\">{node.Title}</a></p><h1>{node.TitleOf(point)}</h1>");
        if (state is null)
        {
            page.Add($"<p>{(IsLeftOut(node.Model, point) ? LeftOut : Say($"It stands in the as-built record; no change of it was heard yet. Operate it, and it shows here within seconds."))}</p></header>");
            return;
        }

        page.Add($"<p>{Say($"{Now(state)}, since {node.Model.Times.Full(state.Latest.Time)}.")}</p>");
        if (point.Kind == PointKind.Input && Pulses(state) is { Count: >= LeastPulses } pulses)
        {
            double[] sorted = [.. pulses.Order()];
            page.Add($"<p>{Say($"Of the latest {pulses.Count} times that it was active, the middle one lasted {Times.Span(sorted[sorted.Length / 2])}, the shortest {Times.Span(sorted[0])}, the longest {Times.Span(sorted[^1])}.")}</p>");
        }

        page.Literal("</header>");
    }

    /// <summary>How long it was active each time, seconds.</summary>
    private static List<double> Pulses(PointState state)
    {
        List<double> pulses = [];
        for (int index = 1; index < state.Changes.Count; index++)
        {
            if (state.Changes[index - 1].Active && !state.Changes[index].Active)
            {
                pulses.Add(state.Changes[index].Time.SecondsSince(state.Changes[index - 1].Time));
            }
        }

        return pulses;
    }

    private static void Wiring(HtmlWriter page, NodeView node, Point point)
    {
        Sentence[] lines = point.Kind == PointKind.Input
            ? [.. (node.Model.Built?.Nodes ?? []).SelectMany(built => built.Outputs
                .Where(output => output.SwitchedBy.Any(by => by.Node == point.Node && by.Input == point.Number))
                .Select(output => output.Name is { } name ? Say($"It switches “{name}” (output {output.Output} of node {built.Address}).") : Say($"It switches output {output.Output} of node {built.Address}.")))]
            : [.. (node.Built?.Outputs.FirstOrDefault(output => output.Output == point.Number)?.SwitchedBy ?? []).Select(by => Switcher(node, by))];
        if (lines.Length == 0)
        {
            return;
        }

        page.Add($"<section class=\"wiring\"><h2>{Say($"By the as-built record")}</h2><ul>");
        foreach (Sentence line in lines)
        {
            page.Add($"<li>{line}</li>");
        }

        page.Literal("</ul></section>");
    }

    private static Sentence Switcher(NodeView node, SwitchedBy by)
    {
        string? name = node.Model.Built?.Nodes.FirstOrDefault(built => built.Address == by.Node)?.Inputs.FirstOrDefault(input => input.Input == by.Input)?.Name;
        Sentence who = name is null ? Say($"input {by.Input} of node {by.Node}") : Say($"“{name}” (input {by.Input} of node {by.Node})");
        return by.Press switch
        {
            "short" => Say($"A short press of {who} switches it."),
            "long" => Say($"A long press of {who} switches it."),
            _ => Say($"It is switched by {who}."),
        };
    }

    private static void Changes(HtmlWriter page, NodeView node, Point point, PointState? state)
    {
        page.Add($"<section class=\"history\" id=\"changes\"><h2>{Say($"Its latest changes")}</h2>");
        if (state is null)
        {
            page.Add($"<p>{(IsLeftOut(node.Model, point) ? Say($"They are not in this bundle.") : Say($"None was heard."))}</p></section>");
            return;
        }

        page.Literal("<ol class=\"evidence\">");
        for (int index = state.Changes.Count - 1; index >= 0; index--)
        {
            PointChange change = state.Changes[index];
            page.Add($"<li><time datetime=\"{Times.Machine(change.Time)}\">{node.Model.Times.Exact(change.Time)}</time> {Now(state with { Changes = [change] })}");
            if (point.Kind == PointKind.Input && change.Active && index + 1 < state.Changes.Count && !state.Changes[index + 1].Active)
            {
                page.Add($", {Say($"for {Times.Span(state.Changes[index + 1].Time.SecondsSince(change.Time))}")}");
            }

            page.Literal("</li>");
        }

        page.Literal("</ol>");
        page.Add($"<p class=\"limits\">{Say($"The latest {Limits.ChangesOfPoint} at most. Times are those of the frames that told it; what changed and changed back between two frames can’t be seen.")}</p></section>");
    }
}
