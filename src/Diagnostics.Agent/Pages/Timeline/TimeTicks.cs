using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>
/// Where an axis has its marks: round times of the zone in which it is read, also across the day on which the clocks change, where an hour is missing or there twice.
/// </summary>
internal static class TimeTicks
{
    /// <summary>As many labels as a phone has room for.</summary>
    private const int Most = 6;

    private static readonly int[] Seconds = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200];
    private static readonly int[] Days = [1, 2, 7, 14];
    private static readonly int[] Months = [1, 2, 3, 6, 12, 24];

    /// <param name="from">Where the axis begins.</param>
    /// <param name="to">Where it ends.</param>
    /// <param name="zone">The reader's.</param>
    /// <param name="origin">Where times count from this moment, as the record holds no time of day; null for the usual.</param>
    public static IReadOnlyList<(Instant Time, Sentence Label)> Of(Instant from, Instant to, TimeZoneInfo zone, Instant? origin)
    {
        double span = to.SecondsSince(from);
        if (Array.Find(Seconds, step => span / step <= Most) is > 0 and int step)
        {
            return origin is { } zero ? Counted(from, to, zero, step) : Within(from, to, zone, step);
        }

        if (origin is { } start)
        {
            return Counted(from, to, start, Math.Ceiling(span / Most / 86_400) * 86_400);
        }

        DateTime first = Local(from, zone).Date;
        DateTime last = Local(to, zone);
        double days = span / 86_400;
        if (Array.Find(Days, count => days / count <= Most) is > 0 and int everyDays)
        {
            // Weeks begin on Monday, as 3 January 2000 was.
            int off = (int)((first - new DateTime(2000, 1, 3)).TotalDays % everyDays);
            DateTime begin = first.AddDays(-(off < 0 ? off + everyDays : off));
            return Dates(from, to, zone, Enumerable.Range(0, (int)((last - begin).TotalDays / everyDays) + 1).Select(place => begin.AddDays(place * everyDays)), Times.Day);
        }

        int months = Array.Find(Months, count => days / 30.5 / count <= Most) is > 0 and int found ? found : 12 * (int)Math.Ceiling(days / 365 / Most);
        int from0 = (first.Year * 12) + first.Month - 1;
        from0 -= from0 % months;
        int until = (last.Year * 12) + last.Month - 1;
        return Dates(
            from,
            to,
            zone,
            Enumerable.Range(0, ((until - from0) / months) + 1).Select(place => from0 + (place * months)).Select(month => new DateTime(Math.Clamp(month / 12, 1, 9998), (month % 12) + 1, 1)),
            date => date.Month == 1 || months >= 12 ? Named(Said(date, "yyyy")) : Times.Day(date));
    }

    /// <summary>The zone and how far it is from UTC, and where that changes within the stretch, since an hour is missing there or comes twice.</summary>
    public static Sentence Zone(Instant from, Instant to, TimeZoneInfo zone)
    {
        TimeSpan before = zone.GetUtcOffset(Times.At(from));
        TimeSpan after = zone.GetUtcOffset(Times.At(to));
        string name = zone.Id is "Local" ? string.Empty : zone.Id;
        if (before == after)
        {
            return before == TimeSpan.Zero ? Say($"Times are UTC.")
                : name.Length == 0 ? Say($"Times are those of the board: {Times.Shift(before)}.")
                : Say($"Times are those of {name}: {Times.Shift(before)}.");
        }

        (Instant low, Instant high) = (from, to);
        while (high.SecondsSince(low) > 1)
        {
            Instant middle = low + ((high - low) / 2);
            (low, high) = zone.GetUtcOffset(Times.At(middle)) == before ? (middle, high) : (low, middle);
        }

        DateTime local = Local(high, zone);
        Sentence change = Say($"{Times.Day(local)} {local:yyyy}, {local:HH:mm}");
        return name.Length == 0
            ? Say($"Times are those of the board. The clocks change within this stretch: {Times.Shift(before)} before, {Times.Shift(after)} from {change}.")
            : Say($"Times are those of {name}. The clocks change within this stretch: {Times.Shift(before)} before, {Times.Shift(after)} from {change}.");
    }

    public static DateTime Local(Instant time, TimeZoneInfo zone) => TimeZoneInfo.ConvertTime(Times.At(time), zone).DateTime;

    private static List<(Instant, Sentence)> Within(Instant from, Instant to, TimeZoneInfo zone, int step)
    {
        List<(Instant Time, Sentence Label)> ticks = [];

        // By the clock of the zone: what it leaps over has no mark, and an hour that comes twice has those of its first time.
        DateTime local = Local(from, zone);
        local = local.Date.AddSeconds(Math.Floor(local.TimeOfDay.TotalSeconds / step) * step);
        DateTime end = Local(to, zone).AddHours(2);
        for (; local <= end && ticks.Count <= 2 * Most; local = local.AddSeconds(step))
        {
            if (!zone.IsInvalidTime(local) && InZone(local, zone) is var time && time >= from && time <= to && (ticks.Count == 0 || time > ticks[^1].Time))
            {
                ticks.Add((time, local.TimeOfDay == TimeSpan.Zero ? Times.Day(local) : Named(Said(local, step < 60 ? "HH:mm:ss" : "HH:mm"))));
            }
        }

        return ticks;
    }

    private static List<(Instant, Sentence)> Dates(Instant from, Instant to, TimeZoneInfo zone, IEnumerable<DateTime> dates, Func<DateTime, Sentence> said) =>
        [.. dates.Select(date => (Time: InZone(zone.IsInvalidTime(date) ? date.AddHours(1) : date, zone), Label: said(date))).Where(tick => tick.Time >= from && tick.Time <= to).Take(2 * Most)];

    private static List<(Instant, Sentence)> Counted(Instant from, Instant to, Instant origin, double step)
    {
        List<(Instant, Sentence)> ticks = [];
        for (double at = Math.Ceiling(from.SecondsSince(origin) / step) * step; ticks.Count <= Most && origin + TimeSpan.FromSeconds(at) is var time && time <= to; at += step)
        {
            long whole = (long)Math.Abs(Math.Round(at));
            ticks.Add((time, Named(string.Create(CultureInfo.InvariantCulture, $"{(at < 0 ? "-" : string.Empty)}{whole / 3600}:{whole / 60 % 60:00}:{whole % 60:00}"))));
        }

        return ticks;
    }

    private static Instant InZone(DateTime local, TimeZoneInfo zone) =>
        Instant.FromDateTime(new(local, zone.IsAmbiguousTime(local) ? zone.GetAmbiguousTimeOffsets(local).Max() : zone.GetUtcOffset(local)));

    private static string Said(DateTime time, string format) => time.ToString(format, CultureInfo.InvariantCulture);
}
