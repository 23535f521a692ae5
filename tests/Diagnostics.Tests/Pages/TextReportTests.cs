using Diagnostics.Agent.Pages;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

public class TextReportTests
{
    [Fact]
    public void NoLineIsLongerThanEightyColumnsWhateverNodesAreCalled()
    {
        foreach (Report report in new[] { SampleReports.Rich(), SampleReports.Quiet(), SampleReports.NothingHeard(), SampleReports.Crowded(), SampleReports.Unknown() })
        {
            Assert.All(TextReport.Render(new(report)).Split('\n'), line => Assert.InRange(line.Length, 0, 80));
        }
    }

    [Fact]
    public void TheOrderIsThatOfThePage()
    {
        string text = TextReport.Render(new(SampleReports.Rich()));
        int[] places = new[] { "The café dimmer (node 7) stopped", "Can this tool see?", "What is wrong", "What it is not", "Who is on the bus", "Before you open anything" }
            .Select(mark => text.IndexOf(mark, StringComparison.Ordinal)).ToArray();
        Assert.DoesNotContain(-1, places);
        Assert.Equal(places.Order(), places);
    }

    [Fact]
    public void AFindingTellsTheSameAsOnThePage()
    {
        string text = TextReport.Render(new(SampleReports.Rich()));
        Assert.Contains("1. FAULT: The café dimmer (node 7) stopped sending", text, StringComparison.Ordinal);
        Assert.Contains("where      node 7 “café dimmer”", text, StringComparison.Ordinal);
        Assert.Contains("how sure   practically certain (over 99 %)", text, StringComparison.Ordinal);
        Assert.Contains("   careful    The dimmer’s load side is mains.", text, StringComparison.Ordinal);
    }

    [Fact]
    public void ControlCharactersDoNotReachTheTerminal() =>
        Assert.DoesNotContain(TextReport.Render(new(SampleReports.Rich())), character => (char.IsControl(character) && character != '\n') || character is '\u202E' or '\u2066');
}
