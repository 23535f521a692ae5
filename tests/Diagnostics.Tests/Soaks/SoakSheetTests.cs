using Diagnostics.Agent.Soaks;
using Diagnostics.Core.Soak;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Soaks;

public sealed class SoakSheetTests
{
    [Fact]
    public void FindingsStandInTheOrderOfTheReportPage()
    {
        SoakFinding rate = new() { Key = "bus.error-rate/can0/bus", Finding = "bus.error-rate", Severity = "fault", Summary = "Too many errors.", Start = SampleReports.Start, Episodes = 1 };
        SoakFinding silent = rate with { Key = "node.silent/can0/node-5", Finding = "node.silent", Summary = "A module is silent." };
        SoakFinding over = rate with { Key = "bus.no-traffic/can0/bus", Finding = "bus.no-traffic", Summary = "The bus was quiet.", End = SampleReports.End };
        SoakFinding note = rate with { Key = "bus.not-seen/can0/bus", Finding = "bus.not-seen", Severity = "note", Summary = "A frame was lost." };
        SoakRecord record = new()
        {
            Id = "a", Name = "acceptance", Rules = new(), AskedSeconds = 60, Started = SampleReports.Start, LastSeen = SampleReports.End, Source = "can0", Findings = [note, over, rate, silent],
        };
        Assert.Equal(
            ["A module is silent.", "Too many errors.", "The bus was quiet.", "A frame was lost."],
            SoakSheet.Of(record, TimeZoneInfo.Utc, null).Parts.Single(part => part.Heading.English == "What was found").Lines.Select(line => line.Text.English[..(line.Text.English.IndexOf('.', StringComparison.Ordinal) + 1)]));
    }
}
