using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;

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
    private readonly string _machine;
    private readonly Instant? _start;
    private readonly Instant? _end;

    /// <param name="source">Of the report whose times are said.</param>
    /// <param name="zone">Where its reader is, or where the board is.</param>
    /// <param name="isElsewhere">The reader isn't where the board is, and the zone is the reader's.</param>
    public Times(SourceReport source, TimeZoneInfo zone, bool isElsewhere = false)
    {
        _zone = zone;
        _machine = source.Kind == "live" && !isElsewhere ? "board" : "machine";
        _start = source.Start;
        _end = source.End;
        IsRelative = _start is { } start && At(start) < EarliestReal;
    }

    /// <summary>There is no time of day: times count from the beginning.</summary>
    public bool IsRelative { get; }

    /// <summary>What a reader must know about the times of this report; null where they are plain UTC.</summary>
    public string? Remark
    {
        get
        {
            if (IsRelative)
            {
                return "This record holds no time of day. Times count from its beginning: hours, minutes, seconds.";
            }

            if (_start is not { } start || _end is not { } end || (Offset(start) == TimeSpan.Zero && Offset(end) == TimeSpan.Zero))
            {
                return null;
            }

            string offset = Offset(start) == Offset(end) ? Words(Offset(end)) : $"{Words(Offset(start))}, at the end {Words(Offset(end))}";
            return $"Times are those of this {_machine}’s zone, {(_zone.Id == "Local" ? offset : $"{_zone.Id} ({offset})")}; UTC stands beside them.";

            static string Words(TimeSpan offset) => string.Create(CultureInfo.InvariantCulture, $"UTC{(offset < TimeSpan.Zero ? '-' : '+')}{offset:hh\\:mm}");
        }
    }

    /// <summary>25 Nov 2026, 15:05:09 (14:05:09 UTC).</summary>
    public string Full(Instant time) => Said(time, "d MMM yyyy, HH:mm:ss", "HH:mm:ss", milliseconds: false);

    /// <summary>15:05:09 (14:05:09 UTC) where it is the same day as the end of the report, otherwise with the day.</summary>
    public string Short(Instant time) => Said(time, IsLastDay(time) ? "HH:mm:ss" : "d MMM, HH:mm:ss", "HH:mm:ss", milliseconds: false);

    /// <summary>With milliseconds, for evidence.</summary>
    public string Exact(Instant time) => Said(time, IsLastDay(time) ? "HH:mm:ss.fff" : "d MMM, HH:mm:ss.fff", "HH:mm:ss.fff", milliseconds: true);

    /// <summary>Wed 15:05, as one says it; with the date where that is more than six days before the end. In the zone only, unless that is UTC.</summary>
    public string Moment(Instant time)
    {
        if (IsRelative)
        {
            return Elapsed(time, milliseconds: false);
        }

        bool isThisWeek = _end is { } end && end.SecondsSince(time) < 6 * 86_400;
        return Local(time).ToString(isThisWeek ? "ddd HH:mm" : "d MMM yyyy, HH:mm", CultureInfo.InvariantCulture) + (Offset(time) == TimeSpan.Zero ? " UTC" : string.Empty);
    }

    /// <summary>
    /// from Wed 15:05 to 15:20, or at Wed 15:05 where that is one moment; where it is a few minutes, which stamps to the minute would blur, at Wed 15:05,
    /// for 43 s.
    /// </summary>
    /// <param name="from">The first of it.</param>
    /// <param name="to">The last of it.</param>
    /// <param name="often">It wasn't all the time between.</param>
    public string Moments(Instant from, Instant to, bool often = false)
    {
        string first = Moment(from);
        string last = Moment(to);
        double seconds = to.SecondsSince(from);
        if (!IsRelative && seconds is >= 1 and < FewMinutes)
        {
            return $"at {first}, {(often ? "within" : "for")} {Span(seconds)}";
        }

        if (first == last)
        {
            return "at " + first;
        }

        bool isOneDay = !IsRelative && Local(from).Date == Local(to).Date;
        return isOneDay
            ? $"from {first.Replace(" UTC", string.Empty, StringComparison.Ordinal)} to {Local(to).ToString("HH:mm", CultureInfo.InvariantCulture)}{(last.EndsWith(" UTC", StringComparison.Ordinal) ? " UTC" : string.Empty)}"
            : $"from {first} to {last}";
    }

    /// <summary>14:05, or 25 Nov where the axis counts days; of the zone.</summary>
    public string Axis(Instant time, bool isDay) =>
        IsRelative ? Elapsed(time, milliseconds: false) : Local(time).ToString(isDay ? "d MMM" : "HH:mm", CultureInfo.InvariantCulture);

    public string AxisSeconds(Instant time) => IsRelative ? Elapsed(time, milliseconds: false) : Local(time).ToString("HH:mm:ss", CultureInfo.InvariantCulture);

    /// <summary>What the axis of a chart counts.</summary>
    public string AxisTitle => IsRelative ? "time from the beginning" : AxisShiftNanoseconds == 0 ? "time (UTC)" : "local time";

    /// <summary>What is added to a time so that round numbers of it are round for the reader.</summary>
    public long AxisShiftNanoseconds => IsRelative ? -_start!.Value.Nanoseconds : _end is { } end ? Offset(end).Ticks * 100 : 0;

    /// <summary>Two largest units: 2 h 10 min, 3 d 4 h, 5.2 s, 40 ms; what is shorter than 0.1 ms is a moment.</summary>
    public static string Span(double seconds)
    {
        if (double.IsNaN(seconds) || seconds < 0)
        {
            return "not known";
        }

        if (seconds < 0.0001)
        {
            return "a moment";
        }

        if (seconds < 1)
        {
            return (seconds * 1000).ToString(seconds < 0.01 ? "0.#" : "0", CultureInfo.InvariantCulture) + " ms";
        }

        if (seconds < 59.95)
        {
            return seconds.ToString(seconds < 10 ? "0.#" : "0", CultureInfo.InvariantCulture) + " s";
        }

        long whole = (long)Math.Round(Math.Min(seconds, 1e12));
        (long large, string largeUnit, long small, string smallUnit) = whole switch
        {
            < 3600 => (whole / 60, "min", whole % 60, "s"),
            < 86_400 => (whole / 3600, "h", whole % 3600 / 60, "min"),
            _ => (whole / 86_400, "d", whole % 86_400 / 3600, "h"),
        };
        return small == 0
            ? string.Create(CultureInfo.InvariantCulture, $"{large} {largeUnit}")
            : string.Create(CultureInfo.InvariantCulture, $"{large} {largeUnit} {small} {smallUnit}");
    }

    public static string Machine(Instant time) => time.ToString();

    private string Said(Instant time, string format, string utcFormat, bool milliseconds)
    {
        if (IsRelative)
        {
            return Elapsed(time, milliseconds);
        }

        string local = Local(time).ToString(format, CultureInfo.InvariantCulture);
        return Offset(time) == TimeSpan.Zero ? local + " UTC" : $"{local} ({At(time).ToString(utcFormat, CultureInfo.InvariantCulture)} UTC)";
    }

    /// <summary>0:01:23 or 0:01:23.500, from the beginning.</summary>
    private string Elapsed(Instant time, bool milliseconds)
    {
        double seconds = _start is { } start ? time.SecondsSince(start) : 0;
        long whole = (long)Math.Clamp(milliseconds ? Math.Truncate(seconds * 1000) : Math.Truncate(seconds) * 1000, -1e15, 1e15);
        string sign = whole < 0 ? "-" : string.Empty;
        whole = Math.Abs(whole);
        string text = string.Create(CultureInfo.InvariantCulture, $"{sign}{whole / 3_600_000}:{whole / 60_000 % 60:00}:{whole / 1000 % 60:00}");
        return milliseconds ? text + string.Create(CultureInfo.InvariantCulture, $".{whole % 1000:000}") : text;
    }

    private bool IsLastDay(Instant time) => _end is { } end && Local(end).Date == Local(time).Date;

    private DateTimeOffset Local(Instant time) => TimeZoneInfo.ConvertTime(At(time), _zone);

    private TimeSpan Offset(Instant time) => _zone.GetUtcOffset(At(time));

    private static DateTimeOffset At(Instant time)
    {
        long ticks = Math.Clamp(time.Nanoseconds / 100, DateTimeOffset.MinValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks, DateTimeOffset.MaxValue.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks);
        return DateTimeOffset.UnixEpoch.AddTicks(ticks);
    }
}
