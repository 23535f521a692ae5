using Diagnostics.Agent.Walks;
using Diagnostics.Can;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Walks;

/// <summary>Serves the walk test, and begins and ends it. That it ended stands in the log as a mark.</summary>
internal sealed class WalkPart(PageSource source) : IPagePart
{
    public void Map(IEndpointRouteBuilder routes)
    {
        if (source.State.ReadFrom is not null)
        {
            // The place stands in the navigation of every page, so it is a page here, too: one that says where a walk test goes on.
            routes.MapRead(WalkPages.Path, context => PageAnswers.HtmlAsync(context, Shell.Served(WalkPages.Elsewhere, source.Model(context))));
            return;
        }

        routes.MapRead(WalkPages.Path, context =>
        {
            PageModel model = source.Model(context);
            return PageAnswers.HtmlAsync(context, Shell.Served(WalkPages.At(WalkPages.Path, model)!, model));
        });
        routes.MapAction(WalkPages.BeginPath, WalkPages.Path, _ => Begin());
        routes.MapAction(WalkPages.EndPath, WalkPages.Path, _ => End());
    }

    private Sentence? Begin() =>
        source.State.Report is { } report && source.State.Walk.TryBegin(report, source.State.Built, source.State.Activity.Points()) ? null
        : Say($"A walk test can’t be begun now: one goes on already, or nothing was heard of the bus yet.");

    private Sentence? End()
    {
        if (source.State.Report?.Source.End is not { } now || !source.State.Walk.TryEnd(now))
        {
            return Say($"No walk test goes on.");
        }

        // A mark that can't be kept is no reason to let the test go on.
        WalkRecord ended = source.State.Walk.Record!;
        Sentence note = Say($"walk test ended: {ended.Heard} of {ended.Inputs.Count} inputs heard");
        source.State.TryMark(note.English, out _, note);
        return null;
    }
}
