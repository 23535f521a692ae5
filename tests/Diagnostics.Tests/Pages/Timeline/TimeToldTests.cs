using Diagnostics.Agent.Chronicles;
using Diagnostics.Agent.Pages;
using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Core.Wording;

namespace Diagnostics.Tests.Pages.Timeline;

public sealed class TimeToldTests
{
    private static readonly NodeStretch Untold = new("can0", 7, null, [Presence.Heard, Presence.CannotTell], [], []);

    /// <summary>The same sentences as the report has, so that no two pages give two reasons.</summary>
    [Theory]
    [InlineData("node.duplicate-address/can0/node-7", "Where two devices use one address, each hides the silence of the other: it can’t be noticed.")]
    [InlineData("node.duplicate-address/can1/node-7", "Where a node sends nothing regular, nothing is missed when it stops: its silence can’t be noticed.")]
    [InlineData("node.errors/can0/node-7", "Where a node sends nothing regular, nothing is missed when it stops: its silence can’t be noticed.")]
    public void WhyPresenceCannotBeToldIsTheReasonOfThatTime(string key, string why)
    {
        Stretch stretch = new(SampleReports.Start, TimeSpan.FromMinutes(1), 2)
        {
            Reach = (SampleReports.Start, SampleReports.End),
            Nodes = [Untold],
            Buses = [new("can0", true, [new(60, 60, 0.1, 0.2, 0, 0, 1, false), new(60, 60, 0.1, 0.2, 0, 0, 1, false)])],
            Findings = [new(key, key.Split('/')[0], "fault", Sentence.Plain("It is so."), SampleReports.Start, null, EndsWithRun: false)],
        };
        Assert.Contains($"Of one node presence can’t be told all the time. {why}", TimeTold.Summary(stretch, new Times(SampleReports.Rich().Source, TimeZoneInfo.Utc)).Select(sentence => sentence.English));
    }
}
