using Diagnostics.Agent.Activities;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Nodes;

/// <summary>One node as its pages need it: what was heard, what was built, what was found.</summary>
/// <param name="Model">The page's.</param>
/// <param name="Bus">Where it sits.</param>
/// <param name="Address">Its own.</param>
/// <param name="Heard">Null where it stands in the record only.</param>
/// <param name="Built">Null where it was heard only.</param>
internal sealed record NodeView(PageModel Model, BusReport Bus, int Address, NodeReport? Heard, BuiltNode? Built)
{
    /// <summary>Null where nothing is known of such a node.</summary>
    public static NodeView? Of(PageModel model, string bus, int address)
    {
        BusReport? where = model.Report.Buses.FirstOrDefault(candidate => candidate.Interface == bus);
        NodeReport? heard = where?.Nodes.FirstOrDefault(node => node.Address == address);

        // The record doesn't say on which interface a node sits; with several, only what was heard is sure.
        BuiltNode? built = heard is not null || model.Report.Buses.Count == 1 ? model.Built?.Nodes.FirstOrDefault(node => node.Address == address) : null;
        return where is null || (heard is null && built is null) ? null : new(model, where, address, heard, built);
    }

    public string? Name => Heard is not null ? Words.NameOf(Heard) ?? Built?.Name : Built?.Name;

    public Sentence Title => Capital(Words.NodeName(Address, Name));

    /// <summary>What was found on it, worst first as on the report.</summary>
    public IReadOnlyList<ToldFinding> Findings => FindingsAmong(ToldFinding.Of(Model.Report));

    /// <summary>The same, for who asks of many nodes.</summary>
    /// <param name="all">Of the whole report.</param>
    public IReadOnlyList<ToldFinding> FindingsAmong(IReadOnlyList<ToldFinding> all) =>
        [.. all.Where(told => told.Finding.Interface == Bus.Interface && (told.Finding.Node == Address || told.Finding.OtherNode == Address || told.Finding.Nodes?.Contains(Address) == true))];

    public IReadOnlyList<PointState> Points => [.. Model.Points.Where(state => state.Point.Interface == Bus.Interface && state.Point.Node == Address)];

    /// <summary>What a person calls an input or output; null where nobody named it.</summary>
    public string? NameOf(Point point) => point.Kind == PointKind.Input
        ? Built?.Inputs.FirstOrDefault(input => input.Input == point.Number)?.Name
        : Built?.Outputs.FirstOrDefault(output => output.Output == point.Number)?.Name;

    public Sentence TitleOf(Point point) => (point.Kind, NameOf(point)) switch
    {
        (PointKind.Input, { } name) => Say($"Input {point.Number} “{name}”"),
        (PointKind.Input, null) => Say($"Input {point.Number}"),
        (_, { } name) => Say($"Output {point.Number} “{name}”"),
        _ => Say($"Output {point.Number}"),
    };
}
