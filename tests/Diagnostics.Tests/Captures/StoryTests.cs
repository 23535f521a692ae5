using Diagnostics.Agent.Captures;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;
using Diagnostics.Core.Wording;

namespace Diagnostics.Tests.Captures;

public sealed class StoryTests
{
    private static readonly Instant Noon = Instant.FromDateTime(new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    private static readonly CaptureRequest Mark = new(Noon, "it just happened", IsMark: true);

    private static readonly Report Quiet = SampleReports.Quiet() with { Findings = [] };

    private static BusEvent At(double seconds, BusEventKind kind, string text = "something") => new(Noon + TimeSpan.FromSeconds(seconds), "can0", kind, 5, 1, Sentence.Plain(text));

    [Fact]
    public void ItCountsWhatHappenedAndNamesWhatIsNearest()
    {
        BusEvent[] events =
        [
            .. Enumerable.Range(1, 100).Select(step => At(-59 + (step * 0.1), BusEventKind.InputOn, "far") with { Number = step }),
            At(-2, BusEventKind.OutputOff, "“bench lights” was commanded off"),
            At(0.5, BusEventKind.Started, "workshop relays (node 6) started"),
        ];
        Story story = Story.Of(Mark, events, isWhole: true, Quiet);
        Assert.Equal("From 60 s before to 10 s after: 100 changes of inputs, one command to outputs, one start of a node. The 24 nearest are told here.", story.Summary);
        Assert.Equal(Story.MostEvents, story.Events.Count);
        Assert.Equal(["“bench lights” was commanded off", "workshop relays (node 6) started"], story.Events.TakeLast(2).Select(happened => happened.Text));
        Assert.Equal(story.Events.Select(happened => happened.Time.Nanoseconds).Order(), story.Events.Select(happened => happened.Time.Nanoseconds));
    }

    /// <summary>Two devices on one address with different states: two changes a second, nearer to the mark than anything else.</summary>
    [Fact]
    public void WhatGoesToAndFroIsOneRowAndDrownsNothing()
    {
        BusEvent[] others =
        [
            At(-50, BusEventKind.InputOn, "“door” became active"),
            At(-49, BusEventKind.InputOff, "“door” became inactive"),
            At(-30, BusEventKind.OutputOn, "“bench lights” was commanded on"),
            At(9, BusEventKind.Error, "an error on the wire"),
        ];
        BusEvent[] states =
        [
            .. Enumerable.Range(0, 70).Select(second => At(second - 59.5, BusEventKind.State, "node 7 is operational") with { Node = 7, Number = 5 }),
            .. Enumerable.Range(0, 70).Select(second => At(second - 59.8, BusEventKind.State, "node 7 is pre-operational") with { Node = 7, Number = 127 }),
        ];
        Story story = Story.Of(Mark, [.. others, .. states], isWhole: true, Quiet);
        Assert.Equal(
            [
                "“door” became active",
                "“door” became inactive",
                "“bench lights” was commanded on",
                "by turns node 7 is operational and node 7 is pre-operational: 140 times from 59.80 s before to 9.50 s after, the nearest here",
                "an error on the wire",
            ],
            story.Events.Select(happened => happened.Text));
        Assert.Equal(0.2, story.Events[3].Time.SecondsSince(Noon), 3);
        Assert.Equal(
            "From 60 s before to 10 s after: 2 changes of inputs, one command to outputs, 140 changes of nodes’ states, one error on the wire. What repeats most is told in one line.",
            story.Summary);
    }

    /// <summary>Each press has its moment, as long as there is room for all of them.</summary>
    [Fact]
    public void WhatRepeatsStaysOneByOneWhereThereIsRoom()
    {
        BusEvent[] presses = [.. Enumerable.Range(0, Story.MostEvents).Select(step => At(-step, step % 2 == 0 ? BusEventKind.InputOn : BusEventKind.InputOff))];
        Assert.Equal(Story.MostEvents, Story.Of(Mark, presses, isWhole: true, Quiet).Events.Count);
        Assert.Single(Story.Of(Mark, [.. presses, At(1, BusEventKind.InputOn)], isWhole: true, Quiet).Events);
    }

    [Fact]
    public void NothingIsSaidAsNothingAndWhatCannotBeToldIsSaid()
    {
        Assert.Contains("no change of an input or an output", Story.Of(Mark, [], isWhole: true, Quiet).Summary, StringComparison.Ordinal);
        Report unknown = Quiet with { Buses = [Quiet.Buses[0] with { Protocol = "none" }] };
        Assert.Contains("can’t be told", Story.Of(Mark, [], isWhole: true, unknown).Summary, StringComparison.Ordinal);
        Assert.Contains("the frames have it", Story.Of(Mark, [], isWhole: false, Quiet).Summary, StringComparison.Ordinal);
    }

    [Fact]
    public void FindingsThatWereOpenThenAreNamedAndOthersAreNot()
    {
        FindingReport finding = SampleReports.Rich().Findings[0] with { Severity = "fault", Summary = "Two devices use address 9.", Start = Noon - TimeSpan.FromHours(1), End = null };
        Assert.Contains("What was wrong then: Two devices use address 9.", Story.Of(Mark, [], isWhole: true, Quiet with { Findings = [finding] }).Summary, StringComparison.Ordinal);
        Assert.DoesNotContain("What was wrong then", Story.Of(Mark, [], isWhole: true, Quiet with { Findings = [finding with { End = Noon - TimeSpan.FromMinutes(5) }] }).Summary, StringComparison.Ordinal);
    }

    [Fact]
    public void TheWorstIsNamedFirstAndWhatFollowsFromItLast()
    {
        FindingReport rate = SampleReports.Rich().Findings[0] with { Key = "rate", Finding = "bus.error-rate", Node = null, Severity = "fault", Summary = "Too many errors.", Start = Noon - TimeSpan.FromHours(2), End = null, ExplainedBy = "twice" };
        FindingReport old = rate with { Key = "other", Finding = "node.errors", Summary = "Damaged frames.", ExplainedBy = null };
        FindingReport silent = old with { Key = "silent", Finding = "node.silent", Node = 5, Summary = "A module is silent.", Start = Noon - TimeSpan.FromHours(1) };
        FindingReport twice = silent with { Key = "twice", Finding = "node.duplicate-address", Summary = "Two devices use address 9." };
        Assert.EndsWith(
            "What was wrong then: A module is silent. Two devices use address 9. Damaged frames. Too many errors.",
            Story.Of(Mark, [], isWhole: true, Quiet with { Findings = [rate, old, silent, twice] }).Summary,
            StringComparison.Ordinal);
    }

    /// <summary>What a page would cut is rather said as a number.</summary>
    [Fact]
    public void ManyFindingsAreNamedAsFarAsTheSummaryStaysShort()
    {
        FindingReport finding = SampleReports.Rich().Findings[0] with { Severity = "fault", Summary = new string('w', 199) + ".", Start = Noon - TimeSpan.FromHours(1), End = null };
        string summary = Story.Of(Mark, [], isWhole: true, Quiet with { Findings = [finding, finding, finding] }).Summary;
        Assert.EndsWith("w. And 2 more.", summary, StringComparison.Ordinal);
        Assert.True(summary.Length < Agent.Limits.ShownText, summary);
    }
}
