namespace Diagnostics.Tests;

/// <summary>The machine's clock in UTC, so that what is printed doesn't depend on where a test runs.</summary>
internal sealed class UtcClock : TimeProvider
{
    public override TimeZoneInfo LocalTimeZone => TimeZoneInfo.Utc;
}
