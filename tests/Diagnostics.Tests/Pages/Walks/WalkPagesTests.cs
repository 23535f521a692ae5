using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Languages;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Pages.Walks;
using Diagnostics.Agent.Walks;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages.Walks;

public sealed class WalkPagesTests
{
    private static readonly Report Heard = SampleReports.Quiet() with { Buses = [SampleReports.Quiet().Buses[0]] };
    private static readonly string Bus = Heard.Buses[0].Interface;
    private static readonly int Node = Heard.Buses[0].Nodes[0].Address;
    private static readonly Point Button = new(Bus, Node, PointKind.Input, 1);

    private static PageModel Model(WalkRecord? walk) => new(Heard)
    {
        Walk = walk,
        CanAct = true,
        Built = new() { Nodes = [new() { Address = Node, Inputs = [new(1, "door", InputKind.PushButton)], Outputs = [new(2, "bench lights", "relay", [new(Node, 1, "short")])] }] },
    };

    private static string Page(WalkRecord? walk) => string.Concat(WalkPages.At(WalkPages.Path, Model(walk))!.Pieces.Select(piece => System.Net.WebUtility.HtmlDecode(piece.In(Language.English).Html)));

    [Fact]
    public void BeforeItBeginsItSaysWhatToDoAndWarns()
    {
        string page = Page(null);
        Assert.Contains("press every button", page, StringComparison.Ordinal);
        Assert.Contains("nobody is at the load", page, StringComparison.Ordinal);
        Assert.Contains("action=\"/walk/begin\"", page, StringComparison.Ordinal);
    }

    [Fact]
    public void WhileItGoesOnNothingIsCalledMissing()
    {
        string page = Page(new(SampleReports.Start, null, [new(Button, true)]));
        Assert.Contains("0 of 1 input was heard.", page, StringComparison.Ordinal);
        Assert.Contains("Not heard yet.", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Never heard", page, StringComparison.Ordinal);
        Assert.Contains("action=\"/walk/end\"", page, StringComparison.Ordinal);
    }

    [Fact]
    public void AtTheEndStandsWhatWasNeverHeard()
    {
        string page = Page(new(SampleReports.Start, SampleReports.End, [new(Button, true)]));
        Assert.True(page.IndexOf("Never heard", StringComparison.Ordinal) < page.IndexOf("Input by input", StringComparison.Ordinal));
        Assert.Contains("Input 1 “door”", page, StringComparison.Ordinal);
    }

    [Fact]
    public void BounceAndWhatTheRecordExpectedAreSaid()
    {
        WalkedInput pressed = new(Button, true) { Operations = 1, Changes = 4, Last = SampleReports.End, PressSeconds = 0.4, ShortestSeconds = 0.006 };
        string page = Page(new(SampleReports.Start, null, [pressed]));
        Assert.Contains("It bounced: the shortest level lasted 6 ms.", page, StringComparison.Ordinal);
        Assert.Contains($"By the record it switches “bench lights” (output 2 of node {Node}); no change of that was heard after it.", page, StringComparison.Ordinal);
        string answered = Page(new(SampleReports.Start, null, [pressed with { ShortestSeconds = 0.05, Reactions = [new(new(Bus, Node, PointKind.Output, 2), true, false, 0.012)] }]));
        Assert.DoesNotContain("bounced", answered, StringComparison.Ordinal);
        Assert.DoesNotContain("no change of that", answered, StringComparison.Ordinal);
        Assert.Contains("After 12 ms: Output 2 “bench lights” of Node", answered, StringComparison.Ordinal);
    }

    [Fact]
    public void LostFramesAreSaid() =>
        Assert.Contains("Frames were lost meanwhile", Page(new(SampleReports.Start, null, []) { WasBlind = true }), StringComparison.Ordinal);
}
