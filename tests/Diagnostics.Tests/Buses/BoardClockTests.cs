using Diagnostics.Agent.Buses;
using Diagnostics.Can;

namespace Diagnostics.Tests.Buses;

/// <summary>The limits (50 ms, 2 s) are this project's own; the kernel slews at most 500 ppm (MAXFREQ, linux/timex.h).</summary>
public class BoardClockTests
{
    private const long Second = 1_000_000_000;
    private const long Millisecond = 1_000_000;
    private const long Wall = 1_700_000_000 * Second;
    private const long Boot = 100 * Second;

    [Fact]
    public void WithoutStepsTheLineIsTheWallClock()
    {
        BoardClock clock = new(Wall, Boot);
        ClockReading reading = clock.Read(Wall + Second, Boot + Second);
        Assert.Equal(new ClockReading(0, 0, new(Wall), new(Wall + Second)), reading);
        Assert.Equal(new Instant(Wall + (Second / 2)), clock.LineOf(Wall + (Second / 2)));
        Assert.Equal(TimeSpan.Zero, clock.WallMinusLine);
    }

    [Fact]
    public void SlowSlewIsFollowedAndNeverCalledAStep()
    {
        // An hour at 500 ppm: 1.8 s in all.
        BoardClock clock = new(Wall, Boot);
        long skew = 0;
        for (long second = 1; second <= 3600; second++)
        {
            skew += Second / 2000;
            ClockReading reading = clock.Read(Wall + (second * Second) + skew, Boot + (second * Second));
            Assert.Equal(0, reading.SteppedNanoseconds);
        }

        Assert.Equal(TimeSpan.FromSeconds(1.8), clock.WallMinusLine);
        Assert.Equal(new Instant(Wall + (3600 * Second)), clock.LineOf(Wall + (3600 * Second) + skew));
    }

    [Theory]
    [InlineData(50, 0)]
    [InlineData(51, 51)]
    [InlineData(-50, 0)]
    [InlineData(-51, -51)]
    public void OnlyBeyondFiftyMillisecondsIsAStep(long milliseconds, long stepped)
    {
        BoardClock clock = new(Wall, Boot);
        Assert.Equal(stepped * Millisecond, clock.Read(Wall + Second + (milliseconds * Millisecond), Boot + Second).SteppedNanoseconds);
    }

    [Theory]
    [InlineData(86_400)]
    [InlineData(-86_400)]
    [InlineData(3)]
    public void StepIsRemovedFromTheLine(long steppedSeconds)
    {
        BoardClock clock = new(Wall, Boot);
        clock.Read(Wall + Second, Boot + Second);
        long step = steppedSeconds * Second;
        ClockReading reading = clock.Read(Wall + (2 * Second) + step, Boot + (2 * Second));
        Assert.Equal(step, reading.SteppedNanoseconds);
        Assert.Equal(new Instant(Wall + (2 * Second)), reading.Now);

        // One frame stamped before the clock was set and one after, both read in the same batch.
        Assert.Equal(new Instant(Wall + Second + (300 * Millisecond)), clock.LineOf(Wall + Second + (300 * Millisecond)));
        Assert.Equal(new Instant(Wall + Second + (700 * Millisecond)), clock.LineOf(Wall + Second + (700 * Millisecond) + step));

        Assert.Equal(0, clock.Read(Wall + (3 * Second) + step, Boot + (3 * Second)).SteppedNanoseconds);
        Assert.Equal(new Instant(Wall + (3 * Second)), clock.LineOf(Wall + (3 * Second) + step));
        Assert.Equal(TimeSpan.FromSeconds(steppedSeconds), clock.WallMinusLine);
    }

    [Theory]
    [InlineData(2000, false)]
    [InlineData(2001, true)]
    public void OnlyAPauseBeyondTwoSecondsIsLate(long milliseconds, bool late)
    {
        BoardClock clock = new(Wall, Boot);
        long pause = milliseconds * Millisecond;
        Assert.Equal(late ? pause : 0, clock.Read(Wall + pause, Boot + pause).LateNanoseconds);
        Assert.Equal(0, clock.Read(Wall + pause + Second, Boot + pause + Second).LateNanoseconds);
    }

    [Fact]
    public void SinceBootNeverRunsBackwardsOnTheLine()
    {
        BoardClock clock = new(Wall, Boot);
        Assert.Equal(new Instant(Wall), clock.Read(Wall, Boot - Second).Now);
    }
}
