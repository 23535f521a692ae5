using System.Globalization;
using System.Text.Json.Serialization;

namespace Diagnostics.Can;

/// <summary>
/// A point on a bus's own time line: nanoseconds since 1970-01-01T00:00:00Z as the source labels it.
/// Within one source the line never runs backwards; where the source's clock stepped, the source says so (<see cref="NotSeen"/>).
/// </summary>
[JsonConverter(typeof(InstantConverter))]
public readonly record struct Instant(long Nanoseconds) : IComparable<Instant>
{
    public static readonly Instant MinValue = new(long.MinValue);

    public static Instant FromSeconds(double seconds) => new((long)Math.Round(seconds * 1e9));

    /// <summary>Saturates: years before 1678 and after 2261 don't fit, and must not come out as others.</summary>
    public static Instant FromDateTime(DateTimeOffset time) =>
        new(Math.Clamp(time.UtcTicks - DateTimeOffset.UnixEpoch.UtcTicks, long.MinValue / 100, long.MaxValue / 100) * 100);

    public int CompareTo(Instant other) => Nanoseconds.CompareTo(other.Nanoseconds);

    public static bool operator <(Instant a, Instant b) => a.Nanoseconds < b.Nanoseconds;

    public static bool operator >(Instant a, Instant b) => a.Nanoseconds > b.Nanoseconds;

    public static bool operator <=(Instant a, Instant b) => a.Nanoseconds <= b.Nanoseconds;

    public static bool operator >=(Instant a, Instant b) => a.Nanoseconds >= b.Nanoseconds;

    /// <summary>The difference in 100 ns ticks' resolution; use <see cref="Nanoseconds"/> where finer counts.</summary>
    public static TimeSpan operator -(Instant a, Instant b) => TimeSpan.FromTicks(a.NanosecondsSince(b) / 100);

    public static Instant operator +(Instant a, TimeSpan b) => new(a.Nanoseconds + (b.Ticks * 100));

    public static Instant operator -(Instant a, TimeSpan b) => new(a.Nanoseconds - (b.Ticks * 100));

    public double SecondsSince(Instant earlier) => NanosecondsSince(earlier) / 1e9;

    /// <summary>Saturates instead of overflowing, so that "never" (<see cref="MinValue"/>) is longer ago than anything.</summary>
    public long NanosecondsSince(Instant earlier)
    {
        long difference = unchecked(Nanoseconds - earlier.Nanoseconds);
        bool overflowed = ((Nanoseconds ^ earlier.Nanoseconds) & (Nanoseconds ^ difference)) < 0;
        return !overflowed ? difference : Nanoseconds < 0 ? long.MinValue : long.MaxValue;
    }

    public static Instant Max(Instant a, Instant b) => a > b ? a : b;

    public static Instant Min(Instant a, Instant b) => a < b ? a : b;

    /// <summary>The second that it lies in, for names and sentences.</summary>
    public Instant WholeSecond => new(Nanoseconds - (((Nanoseconds % 1_000_000_000) + 1_000_000_000) % 1_000_000_000));

    /// <summary>ISO 8601 UTC with as many of nine decimals as are needed.</summary>
    public override string ToString()
    {
        const long NanosecondsPerSecond = 1_000_000_000;
        long seconds = Math.DivRem(Nanoseconds, NanosecondsPerSecond, out long rest);
        if (rest < 0)
        {
            seconds--;
            rest += NanosecondsPerSecond;
        }

        string text = DateTimeOffset.FromUnixTimeSeconds(Math.Clamp(seconds, -62_135_596_800, 253_402_300_799))
            .ToString("yyyy-MM-dd'T'HH:mm:ss", CultureInfo.InvariantCulture);
        return rest == 0
            ? text + "Z"
            : text + "." + rest.ToString("D9", CultureInfo.InvariantCulture).TrimEnd('0') + "Z";
    }
}
