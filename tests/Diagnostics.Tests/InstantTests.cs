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
}
