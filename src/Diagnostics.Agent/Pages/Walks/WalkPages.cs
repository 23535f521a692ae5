using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Agent.Walks;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Walks;

/// <summary>The walk test: what to do, what arrived so far, and what never did.</summary>
internal static class WalkPages
{
    public const string Path = "/walk";
    public const string BeginPath = "/walk/begin";
    public const string EndPath = "/walk/end";

    /// <summary>Below this, two changes are one operation that bounced: filters of modules wait 10 to 50 ms (common practice, no source).</summary>
    private const double BounceSeconds = 0.05;

    /// <summary>Any controller takes less than this for a short press, and <see cref="LongSeconds"/> for a long one: they tell them apart at 0.4 to 1 s (common practice, no source). Between, it can't be told.</summary>
    private const double ShortSeconds = 0.3;

    private const double LongSeconds = 2;

    public static LivePage? At(string path, PageModel model) => path != Path ? null : new(
        Say($"Walk test"),
        Path,
        [
            PagePiece.Of("head", page => Head(page, model)),
            PagePiece.Of("acts", page => Acts(page, model)),
            PagePiece.Of("missing", page => Missing(page, model)),
            PagePiece.Of("inputs", page => Inputs(page, model)),
            PagePiece.Of("foot", PageRenderer.CautionBox),
        ]);

    /// <summary>In the place of the walk test, where what is shown was read from a bundle or a log.</summary>
    public static LivePage Elsewhere => new(
        Say($"Walk test"),
        Path,
        [PagePiece.Of("head", page => page.Add($"<header><h1>{Say($"Walk test")}</h1><p>{Say($"A walk test needs the bus: it goes on the page of the running service. What ended walk tests found stands among the marks here.")}</p><p class=\"foot\"><a href=\"/#marks\">{Say($"Marks")}</a></p></header>"))]);

    private static void Head(HtmlWriter page, PageModel model)
    {
        page.Add($"<header><h1>{Say($"Walk test")}</h1>");
        if (model.Walk is not { } walk)
        {
            page.Add($"<p>{Say($"Walk through the site and press every button, open every contact, pass every motion sensor. Each input that arrives is ticked off here, with how long it was pressed, whether it bounced and what switched after it. At the end stands what never arrived.")}</p>");
        }
        else
        {
            page.Add($"<p class=\"tally\"><strong>{Tally(walk)}</strong></p>");
            page.Add($"<p>{(walk.End is { } end ? Say($"It went from {model.Times.Full(walk.Start)} to {model.Times.Full(end)}.") : Say($"It goes on since {model.Times.Full(walk.Start)}."))}</p>");
            if (walk.WasBlind)
            {
                page.Add($"<p class=\"missed\">{Say($"Frames were lost meanwhile, so an input that isn’t ticked off may have been operated. Operate it once more.")}</p>");
            }
        }

        page.Add($"<p class=\"caution\">{Say($"Pressing buttons switches real loads: make sure that nobody is at the load, and that nothing moves that could hurt.")}</p></header>");
    }

    private static Sentence Tally(WalkRecord walk) => walk.Inputs.Count == 0
        ? Say($"No input was heard yet.")
        : Say(walk.Inputs.Count, $"{walk.Heard} of {walk.Inputs.Count} input was heard.", $"{walk.Heard} of {walk.Inputs.Count} inputs were heard.");

    private static void Acts(HtmlWriter page, PageModel model)
    {
        if (!model.CanAct)
        {
            return;
        }

        bool goesOn = model.Walk is { End: null };
        page.Add($"<section class=\"acts\"><form method=\"post\" action=\"{(goesOn ? EndPath : BeginPath)}\"><p class=\"entry\"><button>{(goesOn ? Say($"End the walk test") : model.Walk is null ? Say($"Begin the walk test") : Say($"Begin another one"))}</button></p></form></section>");
    }

    /// <summary>First of all when it is over: where to go again.</summary>
    private static void Missing(HtmlWriter page, PageModel model)
    {
        if (model.Walk is not { End: not null } walk)
        {
            return;
        }

        page.Add($"<section id=\"never\"><h2>{Say($"Never heard")}</h2>");
        WalkedInput[] never = [.. walk.Inputs.Where(input => input.Operations == 0)];
        if (never.Length == 0)
        {
            page.Add($"<p>{(walk.Inputs.Count == 0 ? Say($"No input was known, and none was heard.") : Say($"None: every input that is known was heard."))}</p></section>");
            return;
        }

        page.Literal("<ul>");
        foreach (WalkedInput input in never)
        {
            page.Literal("<li>");
            Title(page, model, input);
            page.Literal("</li>");
        }

        page.Add($"</ul><p>{Say($"For each: was it operated? If so, measure at the module’s input terminal whether the contact arrives; then compare the number in the record with the module’s own.")}</p></section>");
    }

    private static void Inputs(HtmlWriter page, PageModel model)
    {
        if (model.Walk is not { Inputs.Count: > 0 } walk)
        {
            return;
        }

        page.Add($"<section class=\"walk\" id=\"inputs\"><h2>{Say($"Input by input")}</h2><ul class=\"ticks\">");
        foreach (WalkedInput input in walk.Inputs)
        {
            bool isHeard = input.Operations > 0;
            page.Add($"<li class=\"{(isHeard ? "heard" : "open")}\"><span class=\"shape\" aria-hidden=\"true\">{(isHeard ? "☑" : "☐")}</span><div>");
            Title(page, model, input);
            page.Add($"<p>{How(model, input)}</p>");
            foreach (Reaction reaction in input.Reactions.OrderBy(reaction => reaction.AfterSeconds))
            {
                Sentence often = input.Operations > 1 ? Say($"That came after {reaction.Operations:N0} of the {input.Operations:N0} times that it was heard.") : Sentence.Empty;
                page.Add($"<p class=\"reaction\">{Join(After(model, reaction), often)}</p>");
            }

            foreach ((Sentence told, bool isMissed) in Unanswered(model, input))
            {
                page.Add($"<p class=\"{(isMissed ? "missed" : "reaction")}\">{told}</p>");
            }

            page.Literal("</div></li>");
        }

        page.Add($"</ul><p class=\"limits\">{Say($"What switched within {WalkTest.ReactionWindow.TotalSeconds:0} s after an input stands with it. That one came after the other proves no cause.")}</p></section>");
    }

    private static void Title(HtmlWriter page, PageModel model, WalkedInput input)
    {
        (Sentence title, Sentence node) = NodeView.Of(model, input.Point.Interface, input.Point.Node) is { } view
            ? (view.TitleOf(input.Point), view.Title)
            : (Say($"Input {input.Point.Number}"), Say($"Node {input.Point.Node}"));
        page.Add($"<a href=\"{NodeLinks.Of(input.Point)}\">{title}</a> <small>{node}</small>");
        if (!input.IsBuilt && model.Built is not null)
        {
            page.Add($" <small>{Say($"(not in the record)")}</small>");
        }
    }

    private static Sentence How(PageModel model, WalkedInput input)
    {
        if (input.Operations == 0)
        {
            return input.Changes > 0 ? Say($"It only became inactive; operate it once more.") : Say($"Not heard yet.");
        }

        Sentence when = Say(input.Operations, $"Heard once, at {model.Times.Short(input.Last!.Value)}.", $"Heard {input.Operations} times, last at {model.Times.Short(input.Last!.Value)}.");
        Sentence press = input.PressSeconds is { } seconds ? Say($"Active for {Times.Span(seconds)}.") : Say($"Still active.");
        Sentence bounce = input.ShortestSeconds is { } shortest and < BounceSeconds ? Say($"It bounced: the shortest level lasted {Times.Span(shortest)}.") : Sentence.Empty;
        return Join(when, press, bounce);
    }

    private static Sentence After(PageModel model, Reaction reaction)
    {
        Sentence output = NodeView.Of(model, reaction.Output.Interface, reaction.Output.Node) is { } view
            ? Say($"{view.TitleOf(reaction.Output)} of {view.Title}")
            : Say($"Output {reaction.Output.Number} of node {reaction.Output.Node}");
        Sentence after = Times.Span(reaction.AfterSeconds);
        return (reaction.IsReport, reaction.Active) switch
        {
            (true, true) => Say($"After {after}: {output} reports on."),
            (true, false) => Say($"After {after}: {output} reports off."),
            (false, true) => Say($"After {after}: {output} was commanded on."),
            _ => Say($"After {after}: {output} was commanded off."),
        };
    }

    /// <summary>What the record says that it switches, and did nothing. Only what the press that was made had to switch is missed; of the rest it is said which press it takes.</summary>
    private static IEnumerable<(Sentence Told, bool IsMissed)> Unanswered(PageModel model, WalkedInput input)
    {
        if (input.Operations == 0 || input.PressSeconds is null)
        {
            yield break;
        }

        string? made = PressOf(input);
        foreach (BuiltNode node in model.Built?.Nodes ?? [])
        {
            foreach (BuiltOutput output in node.Outputs)
            {
                string?[] presses = [.. output.SwitchedBy.Where(by => by.Node == input.Point.Node && by.Input == input.Point.Number).Select(by => by.Press).Distinct()];
                if (presses.Length == 0 || input.Reactions.Any(reaction => reaction.Output.Node == node.Address && reaction.Output.Number == output.Output))
                {
                    continue;
                }

                Sentence what = output.Name is { } name
                    ? Say($"“{name}” (output {output.Output} of node {node.Address})")
                    : Say($"output {output.Output} of node {node.Address}");

                // Several kinds of press, or one of no kind, are any press.
                string? asked = presses.Length == 1 ? presses[0] : null;
                yield return asked is null || asked == made
                    ? (Say($"By the record it switches {what}; no change of that was heard after it."), true)
                    : asked == "long"
                        ? (Say($"By the record it switches {what} on a long press: hold it for {LongSeconds:0.#} s or longer to test that."), false)
                        : (Say($"By the record it switches {what} on a short press: press it for less than {ShortSeconds:0.#} s to test that."), false);
            }
        }
    }

    /// <summary>A word of the record for the latest press; null where a controller may take it for either. Of one that bounced, only a piece was measured.</summary>
    private static string? PressOf(WalkedInput input) => input.PressSeconds switch
    {
        >= LongSeconds => "long",
        < ShortSeconds when !(input.ShortestSeconds < BounceSeconds) => "short",
        _ => null,
    };
}
