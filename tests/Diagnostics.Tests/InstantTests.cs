using Diagnostics.Can;

namespace Diagnostics.Tests;

public class InstantTests
{
    [Fact]
    public void PrintsAsManyDecimalsAsNeeded()
    {
        Assert.Equal("2023-11-14T22:13:20.123456789Z", new Instant(1_700_000_000_123_456_789).ToString());
        Assert.Equal("2023-11-14T22:13:20Z", new Instant(1_700_000_000_000_000_000).ToString());
    }

    /// <summary>2^64 ns are 584.55 years: a time so far off would come out as one of today.</summary>
    [Fact]
    public void ADateThatDoesNotFitStaysFarOff()
    {
        Assert.True(Instant.FromDateTime(new(2610, 7, 1, 0, 0, 0, TimeSpan.Zero)) > Instant.FromDateTime(new(2262, 1, 1, 0, 0, 0, TimeSpan.Zero)));
        Assert.True(Instant.FromDateTime(DateTimeOffset.MaxValue) > Instant.FromDateTime(new(2262, 1, 1, 0, 0, 0, TimeSpan.Zero)));
        Assert.True(Instant.FromDateTime(DateTimeOffset.MinValue) < Instant.FromDateTime(new(1678, 1, 1, 0, 0, 0, TimeSpan.Zero)));
    }
}
