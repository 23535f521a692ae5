using System.Text.RegularExpressions;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.Reporting;

public sealed partial class RelabellingTests
{
    [Fact]
    public void EveryTimeOfTheDocumentMovesAndNothingElse()
    {
        Report report = SampleReports.Rich();
        string before = System.Text.Encoding.UTF8.GetString(ReportJson.ToUtf8(report));
        string after = System.Text.Encoding.UTF8.GetString(ReportJson.ToUtf8(report.Moved(TimeSpan.FromDays(365))));
        Assert.NotEmpty(Stamps().Matches(before));

        // A member with a time that is added to the document later, and forgotten in the moving, would stay behind.
        Assert.Empty(Stamps().Matches(before).Select(match => match.Value).Intersect(Stamps().Matches(after).Select(match => match.Value)));
        Assert.Equal(Stamps().Replace(before, "T"), Stamps().Replace(after, "T"));
        Assert.Same(report, report.Moved(TimeSpan.Zero));
    }

    [GeneratedRegex("[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9:.]+Z")]
    private static partial Regex Stamps();
}
