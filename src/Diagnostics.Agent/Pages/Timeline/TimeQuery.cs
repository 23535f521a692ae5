using System.Globalization;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>
/// Which stretch of time a page is asked for: <c>?span=day</c> up to now, <c>?span=day&amp;end=2026-11-26T14:00:00Z</c>, <c>?from=…&amp;to=…</c>, or
/// <c>?span=day&amp;at=2026-11-26T14:00</c>, which a form sends and which is a time of the board's zone. An address may come from anybody: what isn't of this shape is refused in words, what is too long or too short is cut and said.
/// </summary>
/// <param name="From">Where it begins.</param>
/// <param name="To">Where it ends.</param>
/// <param name="Span">The span that it was asked for by; null where by its ends.</param>
/// <param name="FollowsNow">It ends now, whenever that is.</param>
internal sealed record TimeQuery(Instant From, Instant To, TimeSpanChoice? Span, bool FollowsNow)
{
    public const string Path = "/time";
    public const string SpanField = "span";
    public const string EndField = "end";
    public const string FromField = "from";
    public const string ToField = "to";
    public const string AtField = "at";

    /// <summary>Ten columns of a second; more of a moment is in its frames.</summary>
    public static readonly TimeSpan Shortest = TimeSpan.FromSeconds(10);

    /// <summary>Hour rows of the largest log go back as far.</summary>
    public static readonly TimeSpan Longest = TimeSpan.FromDays(3660);

    /// <summary>The oldest boards count from 1970, and no clock goes beyond the other end.</summary>
    private static readonly Instant Earliest = Instant.FromDateTime(new(1969, 12, 31, 0, 0, 0, TimeSpan.Zero));
    private static readonly Instant Latest = Instant.FromDateTime(new(2200, 1, 1, 0, 0, 0, TimeSpan.Zero));

    private static readonly string[] Formats = ["yyyy-MM-dd'T'HH:mm'Z'", "yyyy-MM-dd'T'HH:mm:ss'Z'", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'"];
    private static readonly string[] LocalFormats = ["yyyy-MM-dd'T'HH:mm", "yyyy-MM-dd'T'HH:mm:ss", "yyyy-MM-dd'T'HH:mm:ss.FFF"];

    public TimeSpan Length => To - From;

    /// <summary>What was changed about what was asked for.</summary>
    public Sentence Remark { get; init; } = Sentence.Empty;

    /// <summary>What an address asks for.</summary>
    /// <param name="field">Gives the value of a field, null where it isn't there.</param>
    /// <param name="now">The last moment that is known.</param>
    /// <param name="zone">The board's.</param>
    /// <param name="wrong">Where it is refused: why, and what is meant.</param>
    public static TimeQuery? Read(Func<string, string?> field, Instant now, TimeZoneInfo zone, out Sentence wrong)
    {
        wrong = Sentence.Empty;
        if (field(FromField) is { } fromText || field(ToField) is not null)
        {
            if (Moment(field(FromField)) is not { } from || Moment(field(ToField)) is not { } to)
            {
                wrong = Say($"“{FromField}” and “{ToField}” are both needed, each written as 2026-11-26T14:05:00Z.");
                return null;
            }

            if (from >= to)
            {
                wrong = Say($"The stretch would end before it begins. Let “{FromField}” be the earlier moment.");
                return null;
            }

            return Bounded(new(from, to, null, FollowsNow: false));
        }

        TimeSpanChoice? span = field(SpanField) is { } name ? TimeSpanChoice.All.FirstOrDefault(choice => choice.Name == name) : TimeSpanChoice.Usual;
        if (span is null)
        {
            wrong = Say($"“{SpanField}” is one of: {string.Join(", ", TimeSpanChoice.All.Select(choice => choice.Name))}.");
            return null;
        }

        if (field(AtField) is { Length: > 0 } at)
        {
            if (!DateTime.TryParseExact(at, LocalFormats, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateTime local) || InZone(local, zone) is not { } middle)
            {
                wrong = Say($"“{AtField}” is a date and a time of day, written as 2026-11-26T14:05.");
                return null;
            }

            return Bounded(new(middle - (span.Length / 2), middle + (span.Length / 2), span, FollowsNow: false));
        }

        if (field(EndField) is { } endText)
        {
            if (Moment(endText) is not { } end)
            {
                wrong = Say($"“{EndField}” is a moment, written as 2026-11-26T14:05:00Z.");
                return null;
            }

            return Bounded(new(end - span.Length, end, span, FollowsNow: false));
        }

        return new(now - span.Length, now, span, FollowsNow: true);
    }

    /// <summary>A moment of an address, UTC; null where it is none, or one that no clock shows.</summary>
    public static Instant? Moment(string? text) =>
        text is { Length: <= 30 }
        && DateTimeOffset.TryParseExact(text, Formats, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal | DateTimeStyles.AdjustToUniversal, out DateTimeOffset time)
        && Instant.FromDateTime(time) is var moment && moment >= Earliest && moment <= Latest
            ? moment
            : null;

    /// <summary>The address of this stretch.</summary>
    public string Address => FollowsNow && Span is not null ? Of(Span) : AddressOf(From, To);

    /// <summary>A span up to now.</summary>
    public static string Of(TimeSpanChoice span) => $"{Path}?{SpanField}={span.Name}";

    public static string AddressOf(Instant from, Instant to) => $"{Path}?{FromField}={Written(from)}&{ToField}={Written(to)}";

    /// <summary>So much around a moment, as other pages link to it.</summary>
    public static string Around(Instant moment) => AddressOf(moment - TimeSpan.FromMinutes(5), moment + TimeSpan.FromMinutes(5));

    /// <summary>Twice as long, or half, around the middle; what ends now goes on doing so.</summary>
    public string Zoomed(bool nearer)
    {
        TimeSpan length = nearer ? Length / 2 : Length * 2;
        length = length < Shortest ? Shortest : length > Longest ? Longest : length;
        if (FollowsNow && (nearer ? TimeSpanChoice.All.LastOrDefault(choice => choice.Length < Length) : TimeSpanChoice.All.FirstOrDefault(choice => choice.Length > Length)) is { } next)
        {
            return Of(next);
        }

        Instant middle = From + (Length / 2);
        return AddressOf(middle - (length / 2), middle + (length / 2));
    }

    /// <summary>Half a stretch on or back.</summary>
    public string Moved(bool later) => later ? AddressOf(From + (Length / 2), To + (Length / 2)) : AddressOf(From - (Length / 2), To - (Length / 2));

    public static string Written(Instant time) => time.WholeSecond.ToString();

    private static TimeQuery Bounded(TimeQuery query)
    {
        if (query.Length > Longest)
        {
            return query with { From = query.To - Longest, Remark = Say($"More than ten years were asked for; these are the last ten.") };
        }

        if (query.Length < Shortest)
        {
            Instant middle = query.From + (query.Length / 2);
            return query with { From = middle - (Shortest / 2), To = middle + (Shortest / 2), Remark = Say($"Less than ten seconds were asked for; these are the ten around it.") };
        }

        return query;
    }

    /// <summary>An hour that is there twice is the first of them; one that the clock leaps over is the one behind it.</summary>
    private static Instant? InZone(DateTime local, TimeZoneInfo zone)
    {
        local = zone.IsInvalidTime(local) ? local + TimeSpan.FromHours(1) : local;
        TimeSpan offset = zone.IsAmbiguousTime(local) ? zone.GetAmbiguousTimeOffsets(local).Max() : zone.GetUtcOffset(local);
        return local.Year is < 1970 or >= 2200 ? null : Instant.FromDateTime(new(local, offset));
    }
}
