using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Buses;
using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Simulation;

namespace Diagnostics.Tests.Buses;

public sealed class SimulatedSourceTests
{
    /// <summary>A minute at the demo's pace: what sensors gave comes behind the frames of its windows, and soon enough that these are still at hand.</summary>
    [Fact]
    public void WhatTheSitesSensorsMeasureComesByTheSensorsQueue()
    {
        HandClock clock = new();
        using SimulatedSource source = new(DemoSite.Create(), 300, TimeSpan.FromHours(1), clock);
        SensorQueue sensors = new();
        source.Attach(sensors);
        Recorder recorder = new();
        HashSet<Quantity> seen = [];
        for (int read = 0; read < 120; read++)
        {
            clock.Now += TimeSpan.FromMilliseconds(2);
            Assert.True(source.Read(recorder, TimeSpan.Zero, TestContext.Current.CancellationToken));
            while (sensors.TryTake(out Measurement measurement))
            {
                seen.Add(measurement.Quantity);
                Assert.InRange(source.Now!.Value.SecondsSince(measurement.End), -0.001, 0.6);
            }
        }

        Assert.Equal(Enum.GetValues<Quantity>().Except([Quantity.BoardCelsius]), seen.Order());
        Assert.Equal(0, sensors.Dropped);
        Assert.Equal(24, source.Measuring!.NominalSupplyVolts);
    }

    /// <summary>The demo's joint draws the supply down where relays pull in, and no module so low that it restarts.</summary>
    [Fact]
    public void TheDemosLooseJointShowsAsDipsAndRestartsNobody()
    {
        Report report = Measured.Of(DemoSite.Create(), TimeSpan.FromMinutes(86)).Report;
        FindingReport dips = Assert.Single(report.Findings, finding => finding.Finding == "supply.dip");
        Assert.InRange(dips.Start.SecondsSince(DemoSite.Create().Start) / 60, 65, 66);
        Assert.DoesNotContain(report.Findings, finding => finding.Finding.Contains("restart", StringComparison.Ordinal));
        Assert.DoesNotContain(report.Assurances, assurance => assurance.Statement == "never below its limit");
    }

    private sealed class HandClock : TimeProvider
    {
        public TimeSpan Now { get; set; } = TimeSpan.FromSeconds(1);

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Now.Ticks;
    }
}
