using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Records;
using Diagnostics.Core.AsBuilt;

namespace Diagnostics.Agent.Pages.Sites;

/// <summary>The site as its pages need it: the record that holds, its versions, and the draft that what was heard makes of it.</summary>
/// <param name="Model">The page's.</param>
/// <param name="Book">Versions.</param>
/// <param name="Held">The record that holds.</param>
/// <param name="Draft">That, and what was heard besides.</param>
internal sealed record SiteView(PageModel Model, RecordBook Book, HeldRecord Held, AsBuiltDraft Draft)
{
    public static SiteView Of(PageModel model, RecordBook book)
    {
        HeldRecord held = book.Held;
        IEnumerable<HeardTerminal> heard = model.Points.Select(state => new HeardTerminal(state.Point.Node, state.Point.Kind == PointKind.Output, state.Point.Number));
        return new(model, book, held, AsBuiltDraft.Of(model.Report, heard, held.Record));
    }

    /// <summary>The page is a service's own, so that names can be edited; saving needs a log besides.</summary>
    public bool CanEdit => Model.CanAct;

    public AsBuiltRecord Record => Held.Record ?? new();

    public DraftNode? Node(int address) => Draft.Nodes.FirstOrDefault(node => node.Node.Address == address);
}
