using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Tests.Pages;

namespace Diagnostics.Tests.History;

public class KeptReportTests
{
    private static readonly Report Rich = SampleReports.Rich();

    private static Report With(int findings, double later = 0) => Rich with
    {
        Findings = [.. Rich.Findings.Take(findings)],
        Source = Rich.Source with { Start = Rich.Source.Start + TimeSpan.FromSeconds(later) },
    };

    /// <summary>Minutes at which a document was due, where each minute has the report that is given.</summary>
    private static List<int> Due(int minutes, Func<int, Report?> report)
    {
        SteppedClock clock = new();
        KeptReport kept = new(clock);
        List<int> due = [];
        for (int minute = 0; minute < minutes; minute++)
        {
            if (kept.TakeDue(report(minute), isEnd: false) is not null)
            {
                due.Add(minute);
            }

            clock.Now += TimeSpan.FromMinutes(1);
        }

        return due;
    }

    [Fact]
    public void AfterAMinuteAndThenEveryTenMinutes() => Assert.Equal([1, 11, 21, 31], Due(40, _ => With(2)));

    [Fact]
    public void ANewFindingIsKeptWithinTheMinuteAndManyOnceAMinute()
    {
        Assert.Equal([1, 5, 15], Due(20, minute => With(minute < 5 ? 1 : 2)));
        Assert.Equal([1, 2, 3, 4, 14], Due(20, minute => With(Math.Min(minute, 4))));
    }

    /// <summary>A finding that comes and goes for days, or grows, would wear the card.</summary>
    [Fact]
    public void OneThatComesBackIsNoNews() =>
        Assert.Equal([1, 11, 21], Due(30, minute => With(1) with { Findings = [Rich.Findings[0] with { Count = minute + 1, Summary = $"{minute}" }] }));

    [Fact]
    public void ThatTheBoardWasToldTheTimeIsNews() => Assert.Equal([1, 6, 16], Due(20, minute => With(1, later: minute < 6 ? 0 : 1e8)));

    [Fact]
    public void BeforeAnythingWasHeardThereIsNothingToKeep()
    {
        Assert.Empty(Due(30, _ => null));
        Assert.Empty(Due(30, _ => Rich with { Source = Rich.Source with { End = null } }));
    }

    [Fact]
    public void TheEndOfARunIsAlwaysKept()
    {
        KeptReport kept = new(new SteppedClock());
        Assert.Equal(ReportJson.ToUtf8(Rich), kept.TakeDue(Rich, isEnd: true));
    }

    private sealed class SteppedClock : TimeProvider
    {
        public TimeSpan Now { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Now.Ticks;
    }
}
