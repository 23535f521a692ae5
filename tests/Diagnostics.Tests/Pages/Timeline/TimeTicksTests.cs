using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Tests.Pages.Timeline;

/// <summary>Marks of the axis in the reader's zone, also where its clocks change.</summary>
public sealed class TimeTicksTests
{
    private static readonly TimeZoneInfo Berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");

    private static Instant Utc(int month, int day, int hour, int minute = 0, int second = 0, int year = 2026) => Instant.FromDateTime(new(year, month, day, hour, minute, second, TimeSpan.Zero));

    private static string Labels(Instant from, Instant to, TimeZoneInfo zone) => string.Join(' ', TimeTicks.Of(from, to, zone, null).Select(tick => tick.Label.English.Replace(' ', '-')));

    [Fact]
    public void RoundTimesOfTheZoneAreMarked()
    {
        Assert.Equal("15:10 15:20 15:30 15:40 15:50 16:00", Labels(Utc(11, 26, 14, 5), Utc(11, 26, 15, 5), Berlin));
        Assert.Equal("15:05:10 15:05:20 15:05:30 15:05:40 15:05:50 15:06:00", Labels(Utc(11, 26, 14, 5, 1), Utc(11, 26, 14, 6, 1), Berlin));
        Assert.Equal("27-Nov 06:00 12:00 18:00 28-Nov", Labels(Utc(11, 26, 23), Utc(11, 27, 23), Berlin));
        Assert.Equal("16-Nov 23-Nov 30-Nov 7-Dec", Labels(Utc(11, 10, 12), Utc(12, 10, 12), Berlin));
        Assert.Equal("1-Mar 1-May 1-Jul 1-Sep 1-Nov", Labels(Utc(1, 15, 0), Utc(12, 31, 0), Berlin));
    }

    /// <summary>Midnight stays midnight on both sides of the change.</summary>
    [Fact]
    public void DaysBeginAtMidnightBeforeAndAfterTheClocksChange()
    {
        foreach ((Instant time, _) in TimeTicks.Of(Utc(3, 26, 12), Utc(4, 1, 12), Berlin, null))
        {
            Assert.Equal(TimeSpan.Zero, TimeTicks.Local(time, Berlin).TimeOfDay);
        }
    }

    [Fact]
    public void AnHourThatIsMissingHasNoMarkAndOneThatComesTwiceHasOne()
    {
        // 02:00 to 03:00 is leapt over.
        Assert.Equal("01:00 03:00 04:00 05:00", Labels(Utc(3, 29, 0), Utc(3, 29, 3, 30), Berlin));
        IReadOnlyList<(Instant Time, Sentence Label)> autumn = TimeTicks.Of(Utc(10, 24, 23), Utc(10, 25, 4), Berlin, null);
        Assert.Equal(autumn.Select(tick => tick.Label).Distinct().Count(), autumn.Count);
        Assert.Equal(autumn.OrderBy(tick => tick.Time).Select(tick => tick.Time), autumn.Select(tick => tick.Time));
    }

    [Fact]
    public void TheZoneIsNamedAndItsChangeSaid()
    {
        Assert.Equal("Times are those of Europe/Berlin: UTC+01:00.", TimeTicks.Zone(Utc(1, 1, 0), Utc(1, 2, 0), Berlin).English);
        Assert.Equal("Times are UTC.", TimeTicks.Zone(Utc(1, 1, 0), Utc(1, 2, 0), TimeZoneInfo.Utc).English);
        Assert.Contains("UTC+01:00 before, UTC+02:00 from 29 Mar 2026, 03:00", TimeTicks.Zone(Utc(1, 1, 0), Utc(7, 2, 0), Berlin).English, StringComparison.Ordinal);
    }

    [Fact]
    public void ARecordWithoutATimeOfDayIsCountedFromItsBeginning()
    {
        IReadOnlyList<(Instant Time, Sentence Label)> ticks = TimeTicks.Of(new(5_000_000_000), new(3_605_000_000_000), TimeZoneInfo.Utc, new(5_000_000_000));
        Assert.Equal(["0:00:00", "0:10:00", "0:20:00"], ticks.Take(3).Select(tick => tick.Label.English));
    }

    /// <summary>Of any length and in any zone there are some marks and no more than fit.</summary>
    [Fact]
    public void AnyStretchHasAFewMarks()
    {
        foreach (TimeZoneInfo zone in new[] { TimeZoneInfo.Utc, Berlin, TimeZoneInfo.FindSystemTimeZoneById("Australia/Lord_Howe"), TimeZoneInfo.FindSystemTimeZoneById("Asia/Kathmandu") })
        {
            for (double span = 10; span < 3660 * 86_400.0; span *= 1.37)
            {
                Instant from = Utc(3, 28, 20, 17, 3);
                IReadOnlyList<(Instant Time, Sentence Label)> ticks = TimeTicks.Of(from, from + TimeSpan.FromSeconds(span), zone, null);
                Assert.InRange(ticks.Count, 1, 8);
                Assert.All(ticks, tick => Assert.True(tick.Time >= from && tick.Time <= from + TimeSpan.FromSeconds(span)));
            }
        }
    }
}
