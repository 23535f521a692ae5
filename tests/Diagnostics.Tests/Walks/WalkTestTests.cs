using Diagnostics.Agent.Activities;
using Diagnostics.Agent.Walks;
using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Walks;

public sealed class WalkTestTests
{
    private static readonly AsBuiltRecord Built = new()
    {
        Nodes = [new() { Address = 5, Inputs = [new(1, "door, upper", InputKind.PushButton), new(2, "door, lower", InputKind.PushButton)] }],
    };

    private readonly WalkTest _walk = new();
    private readonly Report _report = SampleReports.Quiet();

    private static BusEvent At(double seconds, BusEventKind kind, int node = 5, int number = 1) => new(SampleReports.End + TimeSpan.FromSeconds(seconds), "can0", kind, node, number, Core.Wording.Wordings.Named("happened"));

    private WalkedInput Input(int number) => Assert.Single(_walk.Record!.Inputs, input => input.Point == new Point("can0", 5, PointKind.Input, number));

    private void Begin() => Assert.True(_walk.TryBegin(_report, Built, []));

    [Fact]
    public void ItKnowsWhatIsToBeOperatedAndTicksOffWhatArrives()
    {
        Begin();
        _walk.OnEvents(_report, [At(1, BusEventKind.InputOn), At(1.4, BusEventKind.InputOff)]);
        Assert.Equal((1, 2), (_walk.Record!.Heard, _walk.Record.Inputs.Count));
        Assert.Equal((1, 2), (Input(1).Operations, Input(1).Changes));
        Assert.Equal(0.4, Input(1).PressSeconds!.Value, 6);
        Assert.Equal(0, Input(2).Operations);
        Assert.True(_walk.TryEnd(SampleReports.End));
        _walk.OnEvents(_report, [At(9, BusEventKind.InputOn, number: 2)]);
        Assert.Equal(0, Input(2).Operations);
    }

    [Fact]
    public void BounceShowsAsTheShortestLevel()
    {
        Begin();
        _walk.OnEvents(_report, [At(1, BusEventKind.InputOn), At(1.006, BusEventKind.InputOff), At(1.02, BusEventKind.InputOn), At(1.5, BusEventKind.InputOff)]);
        Assert.Equal(0.006, Input(1).ShortestSeconds!.Value, 6);
        Assert.Equal(4, Input(1).Changes);
    }

    [Fact]
    public void ALevelThatBeganBeforeTheTestIsNoPress()
    {
        Assert.True(_walk.TryBegin(_report, Built, [new(new("can0", 5, PointKind.Input, 1), [new(SampleReports.End + TimeSpan.FromSeconds(-0.01), true, false)], 1)]));
        _walk.OnEvents(_report, [At(0.01, BusEventKind.InputOff)]);
        Assert.Equal((0, 1), (Input(1).Operations, Input(1).Changes));
        Assert.Null(Input(1).PressSeconds);
        Assert.Null(Input(1).ShortestSeconds);
    }

    [Fact]
    public void WhatSwitchesWithinTheWindowStandsWithTheInputThatCameLast()
    {
        Begin();
        _walk.OnEvents(_report, [At(1, BusEventKind.InputOn), At(1.2, BusEventKind.InputOff), At(3.2, BusEventKind.OutputOn, node: 6), At(3.21, BusEventKind.OutputOn, node: 6, number: 2)]);
        Reaction reaction = Assert.Single(Input(1).Reactions);
        Assert.Equal((1, true, false), (reaction.Output.Number, reaction.Active, reaction.IsReport));
        Assert.Equal(2, reaction.AfterSeconds, 6);
    }

    [Fact]
    public void AReactionIsCountedOnceForEachPressThatItCameAfter()
    {
        Begin();
        for (int press = 0; press < 3; press++)
        {
            double time = 10 * press;
            _walk.OnEvents(_report, [At(time, BusEventKind.InputOn), At(time + 0.01, BusEventKind.OutputOn, node: 6), At(time + 0.4, BusEventKind.InputOff), At(time + 0.41, BusEventKind.OutputOff, node: 6)]);
        }

        _walk.OnEvents(_report, [At(20.9, BusEventKind.OutputOn, node: 7)]);
        Assert.Equal([(6, 3), (7, 1)], Input(1).Reactions.Select(reaction => (reaction.Output.Node, reaction.Operations)));
    }

    [Fact]
    public void LostFramesMakeItBlind()
    {
        Begin();
        Assert.False(_walk.Record!.WasBlind);
        _walk.OnEvents(_report with { Source = _report.Source with { NotSeen = _report.Source.NotSeen with { KernelDropped = _report.Source.NotSeen.KernelDropped + 1 } } }, []);
        Assert.True(_walk.Record!.WasBlind);
    }

    [Fact]
    public void AnInputThatNobodyRecordedIsTickedOffToo()
    {
        Begin();
        _walk.OnEvents(_report, [At(1, BusEventKind.InputOn, number: 7)]);
        Assert.False(Input(7).IsBuilt);
        Assert.Equal(1, Input(7).Operations);
    }

    [Fact]
    public void OneGoesOnAtATimeAndNoneBeforeAnythingWasHeard()
    {
        Assert.Null(_walk.Record);
        Assert.False(_walk.TryEnd(SampleReports.End));
        Assert.False(_walk.TryBegin(_report with { Source = _report.Source with { End = null } }, Built, []));
        Begin();
        Assert.False(_walk.TryBegin(_report, Built, []));
        Assert.True(_walk.TryEnd(SampleReports.End));
        Begin();
    }
}
