using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

public class TimesTests
{
    private static readonly Instant End = At(2026, 11, 25, 14, 5);

    /// <summary>One hour east of UTC all year, so that no rule of summer time of any year matters.</summary>
    private static readonly TimeZoneInfo East = TimeZoneInfo.CreateCustomTimeZone("Wrenfield", TimeSpan.FromHours(1), "Wrenfield", "Wrenfield");

    private static Instant At(int year, int month, int day, int hour, int minute) => Instant.FromDateTime(new(year, month, day, hour, minute, 9, TimeSpan.Zero));

    private static Times In(TimeZoneInfo zone, Instant start, Instant end, bool isReadNow = true) => new(new("live", "can0", start, end, new(0, 0, 0, [])), zone, isReadNow: isReadNow);

    [Fact]
    public void InUtcThereIsOneTime()
    {
        Times times = In(TimeZoneInfo.Utc, End - TimeSpan.FromHours(1), End);
        Assert.Equal("25 Nov 2026, 14:05:09 UTC", times.Full(End).English);
        Assert.Equal("14:05:09 UTC", times.Short(End).English);
        Assert.Equal("14:05:09.000 UTC", times.Exact(End).English);
        Assert.Equal("Wed 14:05 UTC", times.Moment(End).English);
        Assert.Null(times.Remark);
    }

    /// <summary>On a live page what has no date was today; a record of several days is read on any day.</summary>
    [Theory]
    [InlineData(1, false, "14:05:09 UTC")]
    [InlineData(36, true, "14:05:09 UTC")]
    [InlineData(36, false, "25 Nov, 14:05:09 UTC")]
    public void ATimeOfARecordOfSeveralDaysHasItsDate(int hours, bool isReadNow, string expected) =>
        Assert.Equal(expected, In(TimeZoneInfo.Utc, End - TimeSpan.FromHours(hours), End, isReadNow).Short(End).English);

    [Fact]
    public void ElsewhereLocalTimeComesFirstAndUtcStandsBeside()
    {
        Times times = In(East, End - TimeSpan.FromHours(1), End);
        Assert.Equal("25 Nov 2026, 15:05:09 (14:05:09 UTC)", times.Full(End).English);
        Assert.Equal("15:05:09 (14:05:09 UTC)", times.Short(End).English);
        Assert.Equal("Wed 15:05", times.Moment(End).English);
        Assert.Equal("Times are those of this board’s zone, Wrenfield (UTC+01:00); UTC stands beside them.", times.Remark!.English);
    }

    [Fact]
    public void TheDayIsThatOfTheZone()
    {
        Instant lateEvening = At(2026, 11, 24, 23, 30);
        Assert.Equal("00:30:09 (23:30:09 UTC)", In(East, lateEvening, End).Short(lateEvening).English);
        Assert.Equal("24 Nov, 23:30:09 UTC", In(TimeZoneInfo.Utc, lateEvening, End).Short(lateEvening).English);
    }

    [Fact]
    public void AMomentLongAgoHasItsDate() => Assert.Equal("12 Nov 2026, 14:05 UTC", In(TimeZoneInfo.Utc, At(2026, 11, 12, 14, 5), End).Moment(At(2026, 11, 12, 14, 5)).English);

    [Theory]
    [InlineData(6 * 24, "19 Nov 2026, 14:05 UTC")]
    [InlineData((6 * 24) - 1, "Thu 15:05 UTC")]
    public void OnALivePageTheLastSixDaysGoByTheirWeekday(int hoursAgo, string expected) =>
        Assert.Equal(expected, In(TimeZoneInfo.Utc, At(2026, 11, 12, 14, 5), End).Moment(End - TimeSpan.FromHours(hoursAgo)).English);

    /// <summary>Weeks later, in an office, a Wednesday is any Wednesday.</summary>
    [Fact]
    public void WhereTheReaderMayReadItOnAnyDayEachMomentHasItsDate()
    {
        Times times = In(TimeZoneInfo.Utc, At(2026, 11, 24, 1, 0), End, isReadNow: false);
        Assert.Equal("25 Nov 2026, 14:05 UTC", times.Moment(End).English);
        Assert.Equal("from 25 Nov 2026, 14:00 to 14:05 UTC", times.Moments(At(2026, 11, 25, 14, 0), End).English);
        Assert.Equal("from 24 Nov 2026, 01:00 UTC to 25 Nov 2026, 14:05 UTC", times.Moments(At(2026, 11, 24, 1, 0), End).English);
        Assert.Equal("at 25 Nov 2026, 14:04 UTC, for 43 s", times.Moments(End - TimeSpan.FromSeconds(43), End).English);
    }

    [Fact]
    public void TwoMomentsOfADayShareIt()
    {
        Times times = In(TimeZoneInfo.Utc, At(2026, 11, 24, 1, 0), End);
        Assert.Equal("from Wed 14:00 to 14:05 UTC", times.Moments(At(2026, 11, 25, 14, 0), End).English);
        Assert.Equal("at Wed 14:04 UTC, for 43 s", times.Moments(End - TimeSpan.FromSeconds(43), End).English);
        Assert.Equal("at Wed 14:05 UTC, within 3 s", times.Moments(End - TimeSpan.FromSeconds(3), End, often: true).English);
        Assert.Equal("at Wed 14:05 UTC", times.Moments(End, End).English);
        Assert.Equal("from Tue 01:00 UTC to Wed 14:05 UTC", times.Moments(At(2026, 11, 24, 1, 0), End).English);
    }

    [Fact]
    public void ARecordWithoutTimeOfDayCountsFromItsBeginning()
    {
        Instant start = new(5_250_000_000);
        Times times = In(East, start, start + TimeSpan.FromSeconds(4000));
        Instant at = start + TimeSpan.FromMilliseconds(83_500);
        Assert.True(times.IsRelative);
        Assert.Equal("0:01:23", times.Full(at).English);
        Assert.Equal("0:01:23.500", times.Exact(at).English);
        Assert.Equal("from 0:00:00 to 0:01:23", times.Moments(start, at).English);
        Assert.Contains("no time of day", times.Remark!.English, StringComparison.Ordinal);
    }

    [Fact]
    public void TimesAtTheEndsOfWhatCanBeStampedAreSaid()
    {
        Times times = In(East, new(long.MaxValue), new(long.MaxValue));
        Assert.NotEmpty(times.Full(new(long.MaxValue)).English);
        Assert.NotEmpty(times.Exact(Instant.MinValue).English);
    }
}
