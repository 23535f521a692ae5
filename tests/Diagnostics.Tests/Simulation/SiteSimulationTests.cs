using Diagnostics.Can;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Simulation;

public class SiteSimulationTests
{
    private static Recorder Run(Site site, TimeSpan duration)
    {
        Recorder recorder = new();
        new SiteSimulation(site).Run(recorder, duration);
        return recorder;
    }

    [Fact]
    public void TheSameSeedGivesTheSameFrames()
    {
        Site site = WrenfieldLibrary.Create(3) with { Start = Instant.FromDateTime(new(2026, 1, 5, 12, 0, 0, TimeSpan.Zero)) };
        List<string> first = [.. Run(site, TimeSpan.FromMinutes(5)).Lines()];
        Assert.Equal(first, Run(site, TimeSpan.FromMinutes(5)).Lines());
        Assert.NotEqual(first, Run(site with { Seed = 4 }, TimeSpan.FromMinutes(5)).Lines());
    }

    [Fact]
    public void StepsOfAnySizeGiveTheSameFrames()
    {
        Site site = WrenfieldLibrary.Create(3) with { Faults = [new BusNoise(1e-5)] };
        Recorder stepped = new();
        SiteSimulation simulation = new(site);
        simulation.Attach(stepped);
        for (int i = 0; i < 6000; i++)
        {
            simulation.Step(TimeSpan.FromMilliseconds(10));
        }

        Assert.Equal(Run(site, TimeSpan.FromMinutes(1)).Lines(), stepped.Lines());
    }

    [Fact]
    public void AHealthySiteHasHeartbeatsOfAllNodesAndNoError()
    {
        Recorder recorder = Run(WrenfieldLibrary.Create(), TimeSpan.FromMinutes(2));
        for (uint node = 1; node <= 14; node++)
        {
            Assert.InRange(recorder.With(0x700 + node).Count(), 119, 121);
            Assert.All(recorder.With(0x700 + node), frame => Assert.Equal(5UL, frame.FirstEight));
        }

        Assert.Empty(recorder.Errors);
        Assert.Empty(recorder.Gaps);
        Assert.Equal(125_000, Assert.Single(recorder.Facts).BitRate);
    }
}
