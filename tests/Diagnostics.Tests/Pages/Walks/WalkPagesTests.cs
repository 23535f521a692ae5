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
        Built = new() { Nodes = [new() { Address = Node, Inputs = [new(1, "door", InputKind.PushButton)], Outputs = [new(2, "bench lights", "relay", [new(Node, 1, null)]), new(3, "desk lamps", "relay", [new(Node, 1, "short")]), new(4, "all lights", "relay", [new(Node, 1, "long")]), new(6, "fan", "relay", [new(Node, 1, "short"), new(Node, 1, "long")])] }] },
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
        Assert.DoesNotContain($"(output 2 of node {Node}); no change of that", answered, StringComparison.Ordinal);
        Assert.Contains("After 12 ms: Output 2 “bench lights” of Node", answered, StringComparison.Ordinal);
    }

    /// <summary>Where controllers tell a long press from a short one: common practice, no source.</summary>
    [Theory]
    [InlineData(0.119, 0.119, "desk lamps", "all lights")]
    [InlineData(0.261, 0.261, "desk lamps", "all lights")]
    [InlineData(0.3, 0.3, null, null)]
    [InlineData(1.9, 1.9, null, null)]
    [InlineData(0.119, 0.006, null, null)]
    [InlineData(2, 2, "all lights", "desk lamps")]
    [InlineData(2, 0.006, "all lights", "desk lamps")]
    public void OnlyWhatThePressThatWasMadeHadToSwitchIsMissed(double seconds, double shortest, string? missed, string? other)
    {
        string page = Page(new(SampleReports.Start, null, [new(Button, true) { Operations = 1, Changes = 2, Last = SampleReports.End, PressSeconds = seconds, ShortestSeconds = shortest }]));
        string[] isMissed = [.. System.Text.RegularExpressions.Regex.Matches(page, "“([^”]+)” \\(output [0-9]+ of node [0-9]+\\); no change of that").Select(match => match.Groups[1].Value)];
        string[] takes = [.. System.Text.RegularExpressions.Regex.Matches(page, "switches “([^”]+)” \\(output [0-9]+ of node [0-9]+\\) on a (?:short|long) press").Select(match => match.Groups[1].Value)];
        Assert.Equal(missed is null ? ["bench lights", "fan"] : missed == "desk lamps" ? ["bench lights", "desk lamps", "fan"] : ["bench lights", "all lights", "fan"], isMissed);
        Assert.Equal(other is null ? ["desk lamps", "all lights"] : [other], takes);
        Assert.Equal(takes.Contains("all lights"), page.Contains("on a long press: hold it for 2 s or longer", StringComparison.Ordinal));
        Assert.Equal(takes.Contains("desk lamps"), page.Contains("on a short press: press it for less than 0.3 s", StringComparison.Ordinal));
    }

    [Fact]
    public void WhatCameSoonestStandsFirstAndSaysHowOften()
    {
        Reaction late = new(new(Bus, Node, PointKind.Output, 3), true, false, 0.505) { Operations = 1 };
        Reaction soon = new(new(Bus, Node, PointKind.Output, 2), true, false, 0.006) { Operations = 4 };
        WalkedInput pressed = new(Button, true) { Operations = 4, Changes = 8, Last = SampleReports.End, PressSeconds = 0.4, Reactions = [late, soon] };
        string page = Page(new(SampleReports.Start, null, [pressed]));
        int first = page.IndexOf("“bench lights” of", StringComparison.Ordinal);
        Assert.InRange(first, 0, page.IndexOf("“desk lamps” of", StringComparison.Ordinal));
        Assert.Contains("was commanded on. That came after 4 of the 4 times that it was heard.", page[first..], StringComparison.Ordinal);
        Assert.Contains("After 505 ms: Output 3 “desk lamps”", page, StringComparison.Ordinal);
        Assert.Contains("That came after 1 of the 4 times that it was heard.", page, StringComparison.Ordinal);
    }

    [Fact]
    public void LostFramesAreSaid() =>
        Assert.Contains("Frames were lost meanwhile", Page(new(SampleReports.Start, null, []) { WasBlind = true }), StringComparison.Ordinal);
}
