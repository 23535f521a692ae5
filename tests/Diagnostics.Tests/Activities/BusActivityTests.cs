using Diagnostics.Agent;
using Diagnostics.Agent.Activities;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Activities;

public sealed class BusActivityTests
{
    private static readonly Point Button = new("can0", 5, PointKind.Input, 2);
    private readonly BusActivity _activity = new();

    private static BusEvent At(double seconds, BusEventKind kind, int node = 5, int number = 2) => new(new((long)(seconds * 1e9)), "can0", kind, node, number, Core.Wording.Wordings.Named("happened"));

    [Fact]
    public void OfEachPointTheLatestChangesAreKeptAndAllAreCounted()
    {
        _activity.Add([.. Enumerable.Range(0, 100).Select(index => At(index, index % 2 == 0 ? BusEventKind.InputOn : BusEventKind.InputOff))], TimeSpan.Zero);
        PointState state = Assert.Single(_activity.Points());
        Assert.Equal((Button, 100L, Limits.ChangesOfPoint), (state.Point, state.Count, state.Changes.Count));
        Assert.Equal((new Instant(99_000_000_000), false), (state.Latest.Time, state.Latest.Active));
    }

    [Fact]
    public void ReportedAndCommandedOutputsAreOnePointAndToldApart()
    {
        _activity.Add([At(1, BusEventKind.OutputOn), At(2, BusEventKind.OutputReportedOff)], TimeSpan.Zero);
        PointState state = Assert.Single(_activity.Points());
        Assert.Equal(PointKind.Output, state.Point.Kind);
        Assert.Equal([false, true], state.Changes.Select(change => change.IsReport));
        Assert.Equal([true, false], state.Changes.Select(change => change.Active));
    }

    [Fact]
    public void WhatIsNoChangeOfAPointMakesNone()
    {
        _activity.Add([At(1, BusEventKind.Started), At(2, BusEventKind.Error), At(3, BusEventKind.Emergency)], TimeSpan.Zero);
        Assert.Empty(_activity.Points());
        Assert.Equal(3, _activity.From(0, out long next).Count);
        Assert.Equal(3, next);
    }

    [Fact]
    public void AReaderThatWasAwayForLongGetsWhatIsStillThere()
    {
        _activity.Add([.. Enumerable.Range(0, Limits.EventsInMemory + 10).Select(index => At(index, BusEventKind.Started))], TimeSpan.Zero);
        IReadOnlyList<BusEvent> taken = _activity.From(0, out long next);
        Assert.Equal((Limits.EventsInMemory, 10_000_000_000), (taken.Count, taken[0].Time.Nanoseconds));
        Assert.Empty(_activity.From(next, out _));
    }

    [Fact]
    public void OnceTheClockIsSetAllTimesAreThoseOfTheWall()
    {
        _activity.Add([At(1, BusEventKind.InputOn)], TimeSpan.Zero);
        _activity.Add([At(2, BusEventKind.InputOff)], TimeSpan.FromSeconds(1000));
        Assert.Equal([1001L, 1002L], _activity.Points()[0].Changes.Select(change => change.Time.Nanoseconds / 1_000_000_000));
        Assert.Equal([1001L, 1002L], _activity.From(0, out _).Select(happened => happened.Time.Nanoseconds / 1_000_000_000));
    }

    [Fact]
    public void WhatTheLogRemembersStandsBeforeWhatIsHeardAndIsNotCounted()
    {
        _activity.Add([At(100, BusEventKind.InputOn)], TimeSpan.Zero);
        _activity.AddEarlier([new(new(50_000_000_000), "can0", 5, 2, true), new(new(51_000_000_000), "can0", 5, 2, false), new(new(100_000_000_000), "can0", 5, 2, true)]);
        PointState state = Assert.Single(_activity.Points());
        Assert.Equal([50L, 51L, 100L], state.Changes.Select(change => change.Time.Nanoseconds / 1_000_000_000));
        Assert.Equal(1, state.Count);
    }

    [Fact]
    public void PointsWithoutEndFindNoRoom()
    {
        _activity.Add([.. Enumerable.Range(0, Limits.PointsInMemory + 5).Select(index => At(index, BusEventKind.InputOn, number: index))], TimeSpan.Zero);
        Assert.Equal(Limits.PointsInMemory, _activity.Points().Count);
    }
}
