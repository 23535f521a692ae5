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
            .. Enumerable.Range(0, 100).Select(step => At(-59 + (step * 0.1), BusEventKind.InputOn, "far")),
            At(-2, BusEventKind.OutputOff, "“bench lights” was commanded off"),
            At(0.5, BusEventKind.Started, "workshop relays (node 6) started"),
        ];
        Story story = Story.Of(Mark, events, isWhole: true, Quiet);
        Assert.Equal("From 60 s before to 10 s after: 100 changes of inputs, one command to outputs, one start of a node. The 24 nearest are told here.", story.Summary);
        Assert.Equal(Story.MostEvents, story.Events.Count);
        Assert.Equal(["“bench lights” was commanded off", "workshop relays (node 6) started"], story.Events.TakeLast(2).Select(happened => happened.Text));
        Assert.Equal(story.Events.Select(happened => happened.Time.Nanoseconds).Order(), story.Events.Select(happened => happened.Time.Nanoseconds));
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
}
