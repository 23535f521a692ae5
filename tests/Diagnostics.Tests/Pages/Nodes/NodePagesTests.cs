using Diagnostics.Agent.Activities;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Pages.Nodes;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages.Nodes;

public sealed class NodePagesTests
{
    private static readonly Report Heard = SampleReports.Quiet() with { Buses = [SampleReports.Quiet().Buses[0]] };
    private static readonly string Bus = Heard.Buses[0].Interface;
    private static readonly int First = Heard.Buses[0].Nodes[0].Address;

    private static readonly AsBuiltRecord Built = new()
    {
        Trunk = [new(null, 120, false, null), new(First, null, false, 1), new(null, null, true, 2.5), new(99, null, false, 12.5), new(null, 120, false, 1)],
        Nodes = [new() { Address = First, Inputs = [new(1, "<b>door</b>", InputKind.PushButton)] }, new() { Address = 99, Name = "plant room pumps" }],
    };

    private static PageModel Model => new(Heard) { Built = Built, Asked = SampleReports.End };

    private static string Page(string path, PageModel? model = null) => string.Concat(NodePages.At(path, model ?? Model)!.Pieces.Select(piece => piece.In(Language.English).Html));

    [Fact]
    public void ANodeThatWasHeardAndOneThatIsOnlyRecordedHaveAPage()
    {
        Assert.Contains("It is here: last heard", Page(NodeLinks.Of(Bus, First)), StringComparison.Ordinal);
        Assert.Contains("was not heard under this address", Page(NodeLinks.Of(Bus, 99)), StringComparison.Ordinal);
        Assert.Null(NodePages.At(NodeLinks.Of(Bus, 126), Model));
        Assert.Null(NodePages.At(NodeLinks.Of("can9", First), Model));
    }

    [Theory]
    [InlineData("/nodes/can0")]
    [InlineData("/nodes/can0/")]
    [InlineData("/nodes/can0/-1")]
    [InlineData("/nodes/can0/1/inputs")]
    [InlineData("/nodes/can0/1/inputs/x")]
    [InlineData("/nodes/can0/1/wires/1")]
    [InlineData("/nodes/can0/99999999999999")]
    [InlineData("/nodes/../report.json/1")]
    public void OtherAddressesAreNobodys(string path) => Assert.Null(NodePages.At(path, Model));

    [Fact]
    public void ItSaysWhoSitsBesideItOnTheCable() =>
        Assert.Contains("On the cable between the terminator of 120 Ω (1 m of cable) and this tool’s clip (2.5 m of cable).", System.Net.WebUtility.HtmlDecode(Page(NodeLinks.Of(Bus, First))), StringComparison.Ordinal);

    [Fact]
    public void HostileNamesAreNoMarkup()
    {
        string page = Page(NodeLinks.Of(new Point(Bus, First, PointKind.Input, 1)));
        Assert.DoesNotContain("<b>door", page, StringComparison.Ordinal);
        Assert.Contains("&lt;b&gt;door", page, StringComparison.Ordinal);
    }

    [Fact]
    public void AnInputTellsHowLongItWasActive()
    {
        Point point = new(Bus, First, PointKind.Input, 1);
        PointChange[] changes = [.. Enumerable.Range(0, 8).Select(index => new PointChange(SampleReports.End + TimeSpan.FromSeconds(index * 0.25), index % 2 == 0, false))];
        string page = Page(NodeLinks.Of(point), Model with { Points = [new(point, changes, 8)] });
        Assert.Contains("Of the latest 4 times that it was active, the middle one lasted 250 ms", page, StringComparison.Ordinal);
        Assert.Null(NodePages.At(NodeLinks.Of(point with { Number = 9 }), Model));
    }

    [Fact]
    public void ABundleWithoutInputsCallsNoInputUnheard()
    {
        PageModel model = Model with
        {
            Built = new() { Nodes = [new() { Address = First, Inputs = [new(1, "door", InputKind.PushButton)], Outputs = [new(1, "lights", "relay", [])] }] },
            ReadFrom = new(Core.Wording.Wordings.Named("a bundle"), TimeZoneInfo.Utc) { IsWithoutInputs = true },
        };
        string page = Page(NodeLinks.Of(Bus, First), model);
        Assert.Contains("Changes of inputs were left out when this bundle was made", page, StringComparison.Ordinal);
        Assert.Contains(">left out<", page, StringComparison.Ordinal);

        // Outputs are in it, so one that isn't was never heard.
        Assert.Single(System.Text.RegularExpressions.Regex.Matches(page, "not heard yet"));
        Assert.Single(System.Text.RegularExpressions.Regex.Matches(page, "data-label=\"Changes heard\">0<"));
        string input = Page(NodeLinks.Of(new Point(Bus, First, PointKind.Input, 1)), model);
        Assert.Contains("Changes of inputs were left out when this bundle was made", input, StringComparison.Ordinal);
        Assert.Contains("They are not in this bundle.", input, StringComparison.Ordinal);
        Assert.DoesNotContain("heard yet", input, StringComparison.Ordinal);
        Assert.Contains("not heard yet", Page(NodeLinks.Of(Bus, First), model with { ReadFrom = model.ReadFrom! with { IsWithoutInputs = false } }), StringComparison.Ordinal);
        Assert.DoesNotContain("left out", Page(NodeLinks.Of(Bus, First), Model), StringComparison.Ordinal);
    }

    [Fact]
    public void ItsHistoryIsItsOwn()
    {
        string page = Page(NodeLinks.Of(Bus, First), Model with
        {
            NodeEvents = [new(SampleReports.Start, Bus, First, NodeEventKind.Silent, null), new(SampleReports.Start, Bus, 99, NodeEventKind.Returned, null), new(SampleReports.Start, "can9", First, NodeEventKind.Returned, null)],
        });
        Assert.Contains("Last frame before it fell silent.", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Heard again.", page, StringComparison.Ordinal);
    }

    [Fact]
    public void TheBusIsDrawnInCableOrderWithWhatWasNeverHeard()
    {
        string page = PageRenderer.At("/", Model)!.Pieces.Single(piece => piece.Id == "trunk").In(Language.English).Html;
        int[] places = [.. new[] { "120 Ω", $">{First}<", "this tool listens here", ">99<" }.Select(text => page.IndexOf(text, StringComparison.Ordinal))];
        Assert.All(places, place => Assert.True(place > 0));
        Assert.Equal(places.Order(), places);
        Assert.Contains("12.5 m", page, StringComparison.Ordinal);
        Assert.Contains("not heard", page, StringComparison.Ordinal);
        Assert.Equal(Heard.Buses[0].Nodes.Count > 1, page.Contains("isn’t in the record", StringComparison.Ordinal));
    }

    [Fact]
    public void WithoutARecordNoOrderIsClaimed()
    {
        string page = PageRenderer.At("/", Model with { Built = null })!.Pieces.Single(piece => piece.Id == "trunk").In(Language.English).Html;
        Assert.Contains("The order on the cable isn’t known", page, StringComparison.Ordinal);
        Assert.DoesNotContain("terminator", page, StringComparison.Ordinal);
    }

    [Fact]
    public void AStretchUnderSuspicionIsMarkedAndSaid()
    {
        Report suspected = Heard with { Findings = [SampleReports.Rich().Findings[0] with { Interface = Bus, End = null, Segment = $"{First}-99" }] };
        string page = PageRenderer.At("/", Model with { Built = Built with { Trunk = [new(First, null, false, null), new(99, null, false, 4)] }, Report = suspected })!.Pieces.Single(piece => piece.Id == "trunk").In(Language.English).Html;
        Assert.Contains("suspected stretch", page, StringComparison.Ordinal);
    }

    [Fact]
    public void APageInAFileLeadsNowhere() => Assert.DoesNotContain("href=\"/nodes", PageRenderer.SelfContained(Model with { Asked = null }), StringComparison.Ordinal);
}
