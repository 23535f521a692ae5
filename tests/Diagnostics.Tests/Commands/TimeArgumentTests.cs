using Diagnostics.Agent;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Tests.Commands;

public class TimeArgumentTests
{
    /// <summary>One hour ahead of UTC, two in summer, as in central Europe: forwards on 29 March 2026 at 02:00, back on 25 October 2026 at 03:00.</summary>
    private static readonly TimeZoneInfo Zone = TimeZoneInfo.CreateCustomTimeZone(
        "Invented", TimeSpan.FromHours(1), "Invented", "Invented", "Invented summer",
        [
            TimeZoneInfo.AdjustmentRule.CreateAdjustmentRule(
                new(2026, 1, 1), new(2026, 12, 31), TimeSpan.FromHours(1),
                TimeZoneInfo.TransitionTime.CreateFixedDateRule(new(1, 1, 1, 2, 0, 0), 3, 29), TimeZoneInfo.TransitionTime.CreateFixedDateRule(new(1, 1, 1, 3, 0, 0), 10, 25)),
        ]);

    [Theory]
    [InlineData("2026-11-24T14:00", "2026-11-24T13:00:00Z")]
    [InlineData("2026-07-24T14:00", "2026-07-24T12:00:00Z")]
    [InlineData("2026-11-24 14:00:05", "2026-11-24T13:00:05Z")]
    [InlineData("2026-11-24T14:00:05.25", "2026-11-24T13:00:05.25Z")]
    [InlineData("2026-11-24", "2026-11-23T23:00:00Z")]
    [InlineData("2026-11-24T14:00Z", "2026-11-24T14:00:00Z")]
    [InlineData("2026-11-24T14:00:01.5Z", "2026-11-24T14:00:01.5Z")]
    [InlineData("2026-11-24T14:00-05:30", "2026-11-24T19:30:00Z")]
    [InlineData("2026-10-25T02:30+01:00", "2026-10-25T01:30:00Z")]
    public void AMomentIsReadInItsZoneOrInTheMachines(string text, string moment) => Assert.Equal(moment, TimeArgument.Read("--at", text, Zone).ToString());

    [Theory]
    [InlineData("2026-03-29T02:30", "the clock jumped over it")]
    [InlineData("2026-10-25T02:30", "the clock showed it twice")]
    [InlineData("14:00", "is no time")]
    [InlineData("24.11.2026 14:00", "is no time")]
    [InlineData("2026-13-24T14:00", "is no time")]
    [InlineData("2026-11-24T25:00", "is no time")]
    [InlineData("", "is no time")]
    public void WhatIsNoOneMomentIsRefused(string text, string told) =>
        Assert.Contains(told, Assert.Throws<SettingException>(() => TimeArgument.Read("--at", text, Zone)).Message, StringComparison.Ordinal);
}
