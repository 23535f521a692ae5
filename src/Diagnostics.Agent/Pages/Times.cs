using System.Globalization;
using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages;

/// <summary>
/// Times as a person at the site reads them: 24 hours, in the site's zone with UTC beside it, no finer than a second unless asked. A record whose clock never
/// held the time of day gets times counted from its beginning instead of a date that means nothing.
/// </summary>
internal sealed class Times
{
    /// <summary>CAN in Linux is younger than this: an earlier date is a counter that began at 1970, not a time of day.</summary>
    private static readonly DateTimeOffset EarliestReal = new(2000, 1, 1, 0, 0, 0, TimeSpan.Zero);

    /// <summary>Below this a length says more than two stamps to the minute.</summary>
    private const double FewMinutes = 300;

    private readonly TimeZoneInfo _zone;
    private readonly bool _isBoard;
    private readonly bool _isReadNow;
    private readonly Instant? _start;
    private readonly Instant? _end;

    /// <param name="source">Of the report whose times are said.</param>
    /// <param name="zone">Where its reader is, or where the board is.</param>
    /// <param name="isElsewhere">The reader isn't where the board is, and the zone is the reader's.</param>
    /// <param name="isReadNow">The end of the report is the reader's now, as on a live page: only there does a weekday alone tell which day it was.</param>
    public Times(SourceReport source, TimeZoneInfo zone, bool isElsewhere = false, bool isReadNow = false)
    {
        _zone = zone;
        _isReadNow = isReadNow;
        _isBoard = source.Kind == "live" && !isElsewhere;
        _start = source.Start;
        _end = source.End;
        IsRelative = _start is { } start && At(start) < EarliestReal;
    }

    /// <summary>There is no time of day: times count from the beginning.</summary>
    public bool IsRelative { get; }

    /// <summary>What a reader must know about the times of this report; null where they are plain UTC.</summary>
    public Sentence? Remark
    {
        get
        {
            if (IsRelative)
            {
                return Say($"This record holds no time of day. Times count from its beginning: hours, minutes, seconds.");
            }

            if (_start is not { } start || _end is not { } end || (Offset(start) == TimeSpan.Zero && Offset(end) == TimeSpan.Zero))
            {
                return null;
            }

            Sentence offset = Offset(start) == Offset(end) ? Shift(Offset(end)) : Say($"{Shift(Offset(start))}, at the end {Shift(Offset(end))}");
            Sentence zone = _zone.Id == "Local" ? offset : Say($"{_zone.Id} ({offset})");
            return _isBoard
                ? Say($"Times are those of this board’s zone, {zone}; UTC stands beside them.")
                : Say($"Times are those of this machine’s zone, {zone}; UTC stands beside them.");
        }
    }

    /// <summary>25 Nov 2026, 15:05:09 (14:05:09 UTC).</summary>
    public Sentence Full(Instant time) => IsRelative ? Elapsed(time, milliseconds: false) : WithUtc(time, Say($"{Day(Local(time).DateTime)} {Local(time):yyyy}, {Local(time):HH:mm:ss}"), Say($"{At(time):HH:mm:ss}"));

    /// <summary>15:05:09 (14:05:09 UTC) where that tells which day it was, otherwise with the day.</summary>
    public Sentence Short(Instant time) => IsRelative ? Elapsed(time, milliseconds: false)
        : WithUtc(time, IsPlainByItsTime(time) ? Say($"{Local(time):HH:mm:ss}") : Say($"{Day(Local(time).DateTime)}, {Local(time):HH:mm:ss}"), Say($"{At(time):HH:mm:ss}"));

    /// <summary>With milliseconds, for evidence.</summary>
    public Sentence Exact(Instant time) => IsRelative ? Elapsed(time, milliseconds: true)
        : WithUtc(time, IsPlainByItsTime(time) ? Say($"{Local(time):HH:mm:ss.fff}") : Say($"{Day(Local(time).DateTime)}, {Local(time):HH:mm:ss.fff}"), Say($"{At(time):HH:mm:ss.fff}"));

    /// <summary>Wed 15:05, as one says it, of the last six days before a reader's now; with the date of any other. In the zone only, unless that is UTC.</summary>
    public Sentence Moment(Instant time) => IsRelative || Offset(time) != TimeSpan.Zero ? MomentOfZone(time) : Say($"{MomentOfZone(time)} UTC");

    /// <summary>
    /// from Wed 15:05 to 15:20, or at Wed 15:05 where that is one moment; where it is a few minutes, which stamps to the minute would blur, at Wed 15:05,
    /// for 43 s.
    /// </summary>
    /// <param name="from">The first of it.</param>
    /// <param name="to">The last of it.</param>
    /// <param name="often">It wasn't all the time between.</param>
    public Sentence Moments(Instant from, Instant to, bool often = false)
    {
        Sentence first = Moment(from);
        Sentence last = Moment(to);
        double seconds = to.SecondsSince(from);
        if (!IsRelative && seconds is >= 1 and < FewMinutes)
        {
            return often ? Say($"at {first}, within {Span(seconds)}") : Say($"at {first}, for {Span(seconds)}");
        }

        if (first == last)
        {
            return Say($"at {first}");
        }

        bool isOneDay = !IsRelative && Local(from).Date == Local(to).Date;
        return !isOneDay ? Say($"from {first} to {last}")
            : Offset(to) == TimeSpan.Zero ? Say($"from {MomentOfZone(from)} to {Local(to):HH:mm} UTC")
            : Say($"from {MomentOfZone(from)} to {Local(to):HH:mm}");
    }

    /// <summary>What the axis of a chart counts.</summary>
    public Sentence AxisTitle => IsRelative ? Say($"time from the beginning") : _end is { } end && Offset(end) != TimeSpan.Zero ? Say($"local time") : Say($"time (UTC)");

    /// <summary>Round times of the reader's, for the axis of a chart.</summary>
    public IReadOnlyList<(Instant Time, Sentence Label)> Ticks(Instant from, Instant to) => TimeTicks.Of(from, to, _zone, IsRelative ? _start : null);

    /// <summary>Two largest units: 2 h 10 min, 3 d 4 h, 5.2 s, 40 ms; what is shorter than 0.1 ms is a moment.</summary>
    public static Sentence Span(double seconds)
    {
        if (double.IsNaN(seconds) || seconds < 0)
        {
            return Say($"not known");
        }

        if (seconds < 0.0001)
        {
            return Say($"a moment");
        }

        // What would be rounded to 1000 ms is a second.
        if (seconds < 0.9995)
        {
            return seconds < 0.01 ? Say($"{seconds * 1000:0.#} ms") : Say($"{seconds * 1000:0} ms");
        }

        if (seconds < 59.95)
        {
            return seconds < 10 ? Say($"{seconds:0.#} s") : Say($"{seconds:0} s");
        }

        long whole = (long)Math.Round(Math.Min(seconds, 1e12));
        return whole switch
        {
            < 3600 when whole % 60 == 0 => Say($"{whole / 60} min"),
            < 3600 => Say($"{whole / 60} min {whole % 60} s"),
            < 86_400 when whole % 3600 / 60 == 0 => Say($"{whole / 3600} h"),
            < 86_400 => Say($"{whole / 3600} h {whole % 3600 / 60} min"),
            _ when whole % 86_400 / 3600 == 0 => Say($"{whole / 86_400} d"),
            _ => Say($"{whole / 86_400} d {whole % 86_400 / 3600} h"),
        };
    }

    public static string Machine(Instant time) => time.ToString();

    private Sentence WithUtc(Instant time, Sentence local, Sentence utc) => Offset(time) == TimeSpan.Zero ? Say($"{local} UTC") : Say($"{local} ({utc} UTC)");

    private Sentence MomentOfZone(Instant time)
    {
        if (IsRelative)
        {
            return Elapsed(time, milliseconds: false);
        }

        bool isPlainByItsWeekday = _isReadNow && _end is { } end && end.SecondsSince(time) < 6 * 86_400;
        DateTimeOffset local = Local(time);
        return !isPlainByItsWeekday ? Say($"{Day(local.DateTime)} {local:yyyy}, {local:HH:mm}") : local.DayOfWeek switch
        {
            DayOfWeek.Monday => Say($"Mon {local:HH:mm}"),
            DayOfWeek.Tuesday => Say($"Tue {local:HH:mm}"),
            DayOfWeek.Wednesday => Say($"Wed {local:HH:mm}"),
            DayOfWeek.Thursday => Say($"Thu {local:HH:mm}"),
            DayOfWeek.Friday => Say($"Fri {local:HH:mm}"),
            DayOfWeek.Saturday => Say($"Sat {local:HH:mm}"),
            _ => Say($"Sun {local:HH:mm}"),
        };
    }

    /// <summary>25 Nov.</summary>
    internal static Sentence Day(DateTime local) => local.Month switch
    {
        1 => Say($"{local.Day} Jan"),
        2 => Say($"{local.Day} Feb"),
        3 => Say($"{local.Day} Mar"),
        4 => Say($"{local.Day} Apr"),
        5 => Say($"{local.Day} May"),
        6 => Say($"{local.Day} Jun"),
        7 => Say($"{local.Day} Jul"),
        8 => Say($"{local.Day} Aug"),
        9 => Say($"{local.Day} Sep"),
        10 => Say($"{local.Day} Oct"),
        11 => Say($"{local.Day} Nov"),
        _ => Say($"{local.Day} Dec"),
    };

    /// <summary>0:01:23 or 0:01:23.500, from the beginning.</summary>
    private Sentence Elapsed(Instant time, bool milliseconds)
    {
        double seconds = _start is { } start ? time.SecondsSince(start) : 0;
        long whole = (long)Math.Clamp(milliseconds ? Math.Truncate(seconds * 1000) : Math.Truncate(seconds) * 1000, -1e15, 1e15);
        string sign = whole < 0 ? "-" : string.Empty;
        whole = Math.Abs(whole);
        string text = string.Create(CultureInfo.InvariantCulture, $"{sign}{whole / 3_600_000}:{whole / 60_000 % 60:00}:{whole / 1000 % 60:00}");
        return Named(milliseconds ? text + string.Create(CultureInfo.InvariantCulture, $".{whole % 1000:000}") : text);
    }

    /// <summary>It needs no date: the record is of one day, or the reader's now is on the same.</summary>
    private bool IsPlainByItsTime(Instant time) =>
        _end is { } end && Local(end).Date == Local(time).Date && (_isReadNow || (_start is { } start && Local(start).Date == Local(end).Date));

    private DateTimeOffset Local(Instant time) => TimeZoneInfo.ConvertTime(At(time), _zone);

    private TimeSpan Offset(Instant time) => _zone.GetUtcOffset(At(time));

    /// <summary>UTC+01:00.</summary>
    internal static Sentence Shift(TimeSpan offset) => Named(string.Create(CultureInfo.InvariantCulture, $"UTC{(offset < TimeSpan.Zero ? '-' : '+')}{offset:hh\\:mm}"));

    internal static DateTimeOffset At(Instant time)
    {
        long ticks = Math.Clamp(time.Nanoseconds / 100, DateTimeOffset.MinValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks, DateTimeOffset.MaxValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks);
        return DateTimeOffset.UnixEpoch.AddTicks(ticks);
    }
}
