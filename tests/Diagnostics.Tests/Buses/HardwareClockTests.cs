using Diagnostics.Agent.Buses;

namespace Diagnostics.Tests.Buses;

/// <summary>The limits are this project's own (no published source).</summary>
public class HardwareClockTests
{
    private const long Millisecond = 1_000_000;
    private const long Second = 1000 * Millisecond;
    private const long Wall = 1_700_000_000 * Second;

    [Fact]
    public void DelayOfTheKernelsStampIsTakenOut()
    {
        HardwareClock clock = new();
        Assert.Equal(Wall, clock.Best(Wall, 0));

        // Three frames at 1 ms intervals that the driver handed over together, 3 ms late: the controller knows when they ended.
        for (int i = 1; i <= 3; i++)
        {
            long best = clock.Best(Wall + (5 * Millisecond), i * Millisecond);
            Assert.InRange(best - Wall - (i * Millisecond), 0, 2000);
        }
    }

    [Fact]
    public void JumpOfOneFrameIsNotBelieved()
    {
        // Seconds as in a log on the linux-can list (2020-05-09): the second stamp is 2.8 s ahead of its place.
        HardwareClock clock = new();
        clock.Best(Wall, 34_679_461_888_000);
        long jumped = clock.Best(Wall + (5 * Millisecond), 34_682_263_253_000);
        Assert.Equal(Wall + (5 * Millisecond), jumped);
        Assert.Equal(1, clock.Refused);
        Assert.InRange(clock.Best(Wall + (10_282 * 1000), 34_679_472_170_000) - Wall, 10_281_000, 10_285_000);
        Assert.Equal(1, clock.Refused);
    }

    [Fact]
    public void ClockThatWasSetAnewIsTakenUpAgain()
    {
        HardwareClock clock = new();
        clock.Best(Wall, 1000 * Second);
        for (int i = 1; i <= 8; i++)
        {
            Assert.Equal(Wall + (i * Second), clock.Best(Wall + (i * Second), i * Second));
        }

        Assert.Equal(8, clock.Refused);
        Assert.InRange(clock.Best(Wall + (9 * Second) + (5 * Millisecond), 9 * Second) - Wall - (9 * Second), 0, 5 * Millisecond);
        Assert.Equal(8, clock.Refused);
    }

    [Theory]
    [InlineData(100)]
    [InlineData(-100)]
    public void DriftIsFollowed(int partsPerMillion)
    {
        HardwareClock clock = new();
        for (long i = 0; i < 3600; i++)
        {
            long controller = i * (Second + (Second / 1_000_000 * partsPerMillion));
            long best = clock.Best(Wall + (i * Second), controller);
            Assert.InRange(Wall + (i * Second) - best, 0, Millisecond);
        }

        Assert.Equal(0, clock.Refused);
    }
}
