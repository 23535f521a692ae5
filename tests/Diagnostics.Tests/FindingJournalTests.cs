using Diagnostics.Agent;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;
using Microsoft.Extensions.Logging;

namespace Diagnostics.Tests;

public class FindingJournalTests
{
    /// <summary>A module that takes its fault back and reports it again all the time.</summary>
    [Fact]
    public void OneThatIsOverAndGoesOnWithinAnEpisodeIsToldTwiceAMinuteAtMost()
    {
        Lines lines = new();
        FindingJournal journal = new(lines);
        FindingReport open = SampleReports.Rich().Findings[0] with { End = null, Count = 2 };
        FindingReport over = open with { End = SampleReports.Start };
        Tell(journal, 1, open);
        Tell(journal, 2, over);
        Tell(journal, 3, open);
        Assert.Equal(["raised", "ended"], lines.Said);
        for (int second = 4; second < 604; second++)
        {
            Tell(journal, second, second % 2 == 0 ? over : open);
        }

        Assert.InRange(lines.Said.Count, 10, 22);
        Assert.Equal("ended", lines.Said[^1]);
        Tell(journal, 700, open);
        Assert.Equal("raised", lines.Said[^1]);
    }

    private static void Tell(FindingJournal journal, int second, FindingReport finding)
    {
        Report rich = SampleReports.Rich();
        journal.OnSnapshot(rich with { Source = rich.Source with { End = SampleReports.Start + TimeSpan.FromSeconds(second) }, Findings = [finding] });
    }

    private sealed class Lines : ILogger
    {
        public List<string> Said { get; } = [];

        public IDisposable? BeginScope<TState>(TState state)
            where TState : notnull => null;

        public bool IsEnabled(LogLevel logLevel) => true;

        public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
            Said.Add(formatter(state, exception).Split(':')[0]);
    }
}
