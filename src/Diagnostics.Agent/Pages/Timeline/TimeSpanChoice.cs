using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>A span that one chooses by name.</summary>
/// <param name="Name">In addresses.</param>
/// <param name="Length">A month is thirty days and a year 365.</param>
/// <param name="Title">For a person.</param>
internal sealed record TimeSpanChoice(string Name, TimeSpan Length, Sentence Title)
{
    /// <summary>From the shortest to the longest.</summary>
    public static readonly IReadOnlyList<TimeSpanChoice> All =
    [
        new("minute", TimeSpan.FromMinutes(1), Say($"1 minute")),
        new("ten-minutes", TimeSpan.FromMinutes(10), Say($"10 minutes")),
        new("hour", TimeSpan.FromHours(1), Say($"1 hour")),
        new("six-hours", TimeSpan.FromHours(6), Say($"6 hours")),
        new("day", TimeSpan.FromDays(1), Say($"1 day")),
        new("week", TimeSpan.FromDays(7), Say($"1 week")),
        new("month", TimeSpan.FromDays(30), Say($"1 month")),
        new("year", TimeSpan.FromDays(365), Say($"1 year")),
    ];

    public static readonly TimeSpanChoice Usual = All[2];
}
