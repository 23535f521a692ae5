using Diagnostics.Agent;
using Diagnostics.Agent.Soaks;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Soak;
using Diagnostics.Tests.Pages;
using Diagnostics.Core.Wording;

namespace Diagnostics.Tests.Soaks;

public sealed class SoakRunnerTests
{
    private static readonly Instant Start = Instant.FromDateTime(new DateTimeOffset(2026, 11, 20, 17, 0, 0, TimeSpan.Zero));

    private static readonly SoakRequest Hour = SoakRequest.Read("first", "1h", null, null, null);

    private static Report At(double minutes)
    {
        Report quiet = SampleReports.Quiet();
        return quiet with
        {
            Source = quiet.Source with { Start = Start, End = Start + TimeSpan.FromMinutes(minutes) },
            Buses = [quiet.Buses[0] with { HeardSeconds = minutes * 60, BitsHeard = minutes * 1e6, ErrorEpisodes = 0 }],
            Findings = [],
        };
    }

    [Fact]
    public void ItKeepsTheBeginningEveryFiveMinutesAndTheEnd()
    {
        AgentState state = new();
        SoakRunner runner = new(state);
        Assert.True(state.TryStartSoak(Hour, out _));
        Assert.Equal("20261120-171000", Assert.Single(runner.OnSnapshot(At(10), TimeSpan.Zero)).Id);
        int kept = 0;
        for (int second = 1; second < 3600; second++)
        {
            kept += runner.OnSnapshot(At(10 + (second / 60.0)), TimeSpan.Zero).Count;
        }

        Assert.Equal(11, kept);
        Assert.Equal(SoakEnd.Complete, Assert.Single(runner.OnSnapshot(At(70), TimeSpan.Zero)).End);
        Assert.Empty(runner.OnSnapshot(At(80), TimeSpan.Zero));
        Assert.Equal(SoakEnd.Complete, Assert.Single(state.Soaks).End);
        Assert.False(state.TryStopSoak(out Sentence? why));
        Assert.NotNull(why);
    }

    [Fact]
    public void AnotherOneEndsTheFirstAndAPersonMayEndIt()
    {
        AgentState state = new();
        SoakRunner runner = new(state);
        state.TryStartSoak(Hour, out _);
        runner.OnSnapshot(At(1), TimeSpan.Zero);
        Assert.False(state.TryStartSoak(Hour with { Name = "second" }, out Sentence? inTheWay));
        Assert.Contains("'first'", inTheWay.English, StringComparison.Ordinal);
        Assert.True(state.TryStartSoak(Hour with { Name = "second" }, out _, replaces: true));
        Assert.Equal([("first", (SoakEnd?)SoakEnd.Replaced), ("second", null)], runner.OnSnapshot(At(1), TimeSpan.Zero).Select(record => (record.Name, record.End)));
        Assert.Equal(["20261120-170100", "20261120-170100-2"], state.Soaks.Select(record => record.Id));
        Assert.True(state.TryStopSoak(out _));
        Assert.Equal(SoakEnd.Stopped, Assert.Single(runner.OnSnapshot(At(2), TimeSpan.Zero)).End);
        Assert.All(state.Soaks, record => Assert.NotNull(record.End));
    }

    [Fact]
    public void ASecondTapBeforeTheNextTickBeginsNothing()
    {
        AgentState state = new();
        Assert.True(state.TryStartSoak(Hour, out _));
        Assert.False(state.TryStartSoak(Hour, out _));
        Assert.Single(new SoakRunner(state).OnSnapshot(At(1), TimeSpan.Zero));
    }

    [Fact]
    public void WhatTheLogHasOpenIsGoneOnWithUnlessAPersonWasFaster()
    {
        AgentState first = new();
        SoakRunner before = new(first);
        first.TryStartSoak(Hour, out _);
        SoakRecord open = before.OnSnapshot(At(0), TimeSpan.Zero)[0];

        AgentState state = new();
        SoakRunner runner = new(state);
        runner.OnSnapshot(At(1), TimeSpan.Zero);
        state.SetEarlierSoaks([open]);
        runner.OnSnapshot(At(2), TimeSpan.Zero);
        Assert.Equal(120, Assert.Single(state.Soaks).ListenedSeconds);
        Assert.Single(state.Soaks[0].Interruptions);

        AgentState other = new();
        SoakRunner hasty = new(other);
        other.TryStartSoak(Hour with { Name = "second" }, out _);
        hasty.OnSnapshot(At(1), TimeSpan.Zero);
        other.SetEarlierSoaks([open]);
        Assert.Contains(hasty.OnSnapshot(At(2), TimeSpan.Zero), record => record.Id == open.Id && record.End == SoakEnd.Replaced);
        Assert.Null(Assert.Single(other.Soaks, record => record.Name == "second").End);
    }

    /// <summary>A form that was sent twice: a record that took the other's name would take its place in the log.</summary>
    [Fact]
    public void TwoThatAreBegunInTheSameSecondAreTwo()
    {
        AgentState state = new();
        SoakRunner runner = new(state);
        state.TryStartSoak(Hour, out _);
        state.TryStartSoak(Hour with { Name = "second" }, out _, replaces: true);
        IReadOnlyList<SoakRecord> kept = runner.OnSnapshot(At(1), TimeSpan.Zero);
        Assert.Equal([("first", (SoakEnd?)SoakEnd.Replaced), ("second", null)], state.Soaks.Select(record => (record.Name, record.End)));
        Assert.Equal(state.Soaks.Select(record => (record.Id, record.End)), kept.GroupBy(record => record.Id).Select(versions => (versions.Key, versions.Last().End)));
    }

    [Fact]
    public void AnEndedTestOfTheLogIsListedAndLeftAlone()
    {
        AgentState state = new();
        SoakRunner runner = new(state);
        state.TryStartSoak(Hour, out _);
        SoakRecord open = runner.OnSnapshot(At(0), TimeSpan.Zero)[0];
        AgentState next = new();
        next.SetEarlierSoaks([open with { End = SoakEnd.Complete }]);
        Assert.Null(next.TakeOpenSoak());
        Assert.Single(next.Soaks);
    }
}
