using Diagnostics.Core.Detectors;

namespace Diagnostics.Tests.Detectors;

public class TextTests
{
    [Theory]
    [InlineData(0.007, "7 ms")]
    [InlineData(43, "43 s")]
    [InlineData(119.4, "119 s")]
    [InlineData(180, "3 min")]
    [InlineData(205, "3 min 25 s")]
    [InlineData(239.6, "4 min")]
    [InlineData(700, "12 min")]
    public void DurationsAreAsFineAsTheyAreShort(double seconds, string said) => Assert.Equal(said, Text.Seconds(seconds).English);
}
