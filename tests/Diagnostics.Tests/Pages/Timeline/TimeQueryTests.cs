using Diagnostics.Agent.Pages.Timeline;
using Diagnostics.Can;
using Diagnostics.Core.Wording;
using Microsoft.AspNetCore.WebUtilities;

namespace Diagnostics.Tests.Pages.Timeline;

/// <summary>Addresses of stretches of time: what is meant, what is refused in words, what is cut and said.</summary>
public sealed class TimeQueryTests
{
    private static readonly Instant Now = Instant.FromDateTime(new(2026, 11, 26, 14, 5, 7, TimeSpan.Zero));

    private static readonly TimeZoneInfo Berlin = TimeZoneInfo.FindSystemTimeZoneById("Europe/Berlin");

    private static TimeQuery? Read(string query, out Sentence wrong)
    {
        Dictionary<string, Microsoft.Extensions.Primitives.StringValues> fields = QueryHelpers.ParseQuery(query);
        return TimeQuery.Read(name => fields.TryGetValue(name, out Microsoft.Extensions.Primitives.StringValues values) ? values.ToString() : null, Now, Berlin, out wrong);
    }

    private static TimeQuery Taken(string address)
    {
        TimeQuery? query = Read(address.Contains('?', StringComparison.Ordinal) ? address[address.IndexOf('?', StringComparison.Ordinal)..] : address, out Sentence wrong);
        Assert.True(query is not null, wrong.English);
        return query;
    }

    [Theory]
    [InlineData("", 3600, true)]
    [InlineData("?span=minute", 60, true)]
    [InlineData("?span=year", 365 * 86_400, true)]
    [InlineData("?span=day&end=2026-11-26T14:00Z", 86_400, false)]
    [InlineData("?from=2026-11-26T14:00:00Z&to=2026-11-26T14:00:30.5Z", 30.5, false)]
    public void WhatIsAskedForIsTaken(string query, double seconds, bool follows)
    {
        TimeQuery taken = Taken(query);
        Assert.Equal((seconds, follows), (taken.Length.TotalSeconds, taken.FollowsNow));
        Assert.True(taken.Remark.IsEmpty);
        Assert.Equal(follows ? Now : taken.To, taken.To);
    }

    [Theory]
    [InlineData("?from=2026-11-26T14:00:00Z")]
    [InlineData("?to=2026-11-26T14:00:00Z")]
    [InlineData("?from=2026-11-26T15:00:00Z&to=2026-11-26T14:00:00Z")]
    [InlineData("?from=2026-11-26T15:00:00Z&to=2026-11-26T15:00:00Z")]
    [InlineData("?from=NaN&to=NaN")]
    [InlineData("?from=-1e300&to=1e300")]
    [InlineData("?from=0001-01-01T00:00:00Z&to=9999-12-31T23:59:59Z")]
    [InlineData("?from=2026-11-26T14:00:00Z&to=2026-11-26T14:00:00%2B02:00")]
    [InlineData("?from=2026-11-26T14:00:00Z&from=2026-11-26T13:00:00Z&to=2026-11-26T15:00:00Z")]
    [InlineData("?from=&to=")]
    [InlineData("?span=fortnight")]
    [InlineData("?span=")]
    [InlineData("?span=hour&span=day")]
    [InlineData("?end=tomorrow")]
    [InlineData("?end=2026-13-40T00:00:00Z")]
    [InlineData("?at=2026-11-26")]
    [InlineData("?at=9999-12-31T23:59")]
    [InlineData("?at=0001-01-01T00:00")]
    public void WhatNamesNoStretchIsRefusedInWords(string query)
    {
        Assert.Null(Read(query, out Sentence wrong));
        Assert.EndsWith(".", wrong.English, StringComparison.Ordinal);
    }

    [Fact]
    public void WhatIsTooLongOrTooShortIsCutAndSaid()
    {
        TimeQuery centuries = Taken("?from=1970-01-01T00:00:00Z&to=2199-12-31T00:00:00Z");
        Assert.Equal(TimeQuery.Longest, centuries.Length);
        Assert.Contains("ten years", centuries.Remark.English, StringComparison.Ordinal);
        TimeQuery blink = Taken("?from=2026-11-26T14:00:00Z&to=2026-11-26T14:00:00.001Z");
        Assert.Equal(TimeQuery.Shortest, blink.Length);
        Assert.False(blink.Remark.IsEmpty);
    }

    /// <summary>On 29 March 2026 the hour from two is missing in this zone, and on 25 October it comes twice.</summary>
    [Theory]
    [InlineData("2026-03-29T01:59", "2026-03-29T00:59:00Z")]
    [InlineData("2026-03-29T02:30", "2026-03-29T01:30:00Z")]
    [InlineData("2026-10-25T02:30", "2026-10-25T00:30:00Z")]
    [InlineData("2026-10-25T03:00", "2026-10-25T02:00:00Z")]
    [InlineData("2026-11-26T14:00", "2026-11-26T13:00:00Z")]
    public void AMomentOfTheFormIsOfTheBoardsZone(string at, string middle)
    {
        TimeQuery taken = Taken($"?span=hour&at={at}");
        Assert.Equal(middle, (taken.From + (taken.Length / 2)).ToString());
    }

    /// <summary>Whoever follows links never gets to an address that is refused, and comes back to where he was.</summary>
    [Fact]
    public void StepsLeadToStretches()
    {
        foreach (TimeSpanChoice choice in TimeSpanChoice.All)
        {
            TimeQuery query = Taken(TimeQuery.Of(choice));
            Assert.Equal(query, Taken(query.Address));
            TimeQuery earlier = Taken(query.Moved(later: false));
            Assert.True(earlier.To < query.To && earlier.To > query.From);
            Assert.Equal(earlier.Length, query.Length);
            Assert.Equal(query.To.WholeSecond, Taken(earlier.Moved(later: true)).To.WholeSecond);
            TimeQuery at = query;
            for (int step = 0; step < 40; step++)
            {
                at = Taken(at.Zoomed(nearer: true));
                Assert.True(at.Length >= TimeQuery.Shortest);
            }

            for (int step = 0; step < 60; step++)
            {
                at = Taken(at.Zoomed(nearer: false));
                Assert.True(at.Length <= TimeQuery.Longest);
            }
        }
    }
}
