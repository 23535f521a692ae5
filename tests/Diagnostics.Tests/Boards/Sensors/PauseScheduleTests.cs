using Diagnostics.Agent.Boards.Sensors;

namespace Diagnostics.Tests.Boards.Sensors;

public sealed class PauseScheduleTests
{
    private static readonly TimeSpan Pause = TimeSpan.FromMilliseconds(150);

    /// <summary>Three conversions of 15.6 ms and what the transfers take: with the pause just two beats.</summary>
    private static readonly TimeSpan Reading = TimeSpan.FromMilliseconds(50);

    /// <summary>An hour of readings falls into each tenth of a heartbeat alike; without the spread all of them fall into one.</summary>
    [Theory]
    [InlineData(100)]
    [InlineData(1000)]
    public void ReadingsAreNotInStepWithHeartbeats(int beatMilliseconds)
    {
        Assert.All(Tenths(TimeSpan.FromMilliseconds(50), beatMilliseconds), share => Assert.InRange(share, 0.08, 0.12));
        Assert.Contains(Tenths(TimeSpan.Zero, beatMilliseconds), share => share >= 0.2);
    }

    [Fact]
    public void PausesStayWithinTheirSpreadAndTheSameSeedGivesTheSame()
    {
        PauseSchedule one = new(Pause, TimeSpan.FromMilliseconds(50), 7);
        PauseSchedule again = new(Pause, TimeSpan.FromMilliseconds(50), 7);
        TimeSpan[] pauses = [.. Enumerable.Range(0, 1000).Select(_ => one.Next())];
        Assert.All(pauses, pause => Assert.InRange(pause.TotalMilliseconds, 100, 200));
        Assert.Equal(pauses, Enumerable.Range(0, 1000).Select(_ => again.Next()));
        Assert.InRange(pauses.Average(pause => pause.TotalMilliseconds), 147, 153);
    }

    private static double[] Tenths(TimeSpan spread, int beatMilliseconds)
    {
        const int Readings = 18_000;
        PauseSchedule schedule = new(Pause, spread, 3);
        double[] tenths = new double[10];
        TimeSpan now = TimeSpan.FromMilliseconds(3);
        for (int reading = 0; reading < Readings; reading++)
        {
            tenths[(int)(now.TotalMilliseconds % beatMilliseconds / beatMilliseconds * 10)] += 1.0 / Readings;
            now += Reading + schedule.Next();
        }

        return tenths;
    }
}
