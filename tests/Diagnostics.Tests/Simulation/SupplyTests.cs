using Diagnostics.Can;
using Diagnostics.Simulation;
using Diagnostics.Simulation.Staging;

namespace Diagnostics.Tests.Simulation;

public class SupplyTests
{
    /// <summary>
    /// 20 modules of 30 mA, 5 m apart, on 0.75 mm² class 5 (26.0 Ω/km, IEC 60228): drop at the last is I·r·d·n(n+1)/2 = 1.638 V, and each on the way as tabled
    /// (the project's reference values, 6.4).
    /// </summary>
    [Fact]
    public void VoltageAlongAChainIsThatOfTheHandbookFormula()
    {
        double[] tabled =
        [
            23.8440, 23.6958, 23.5554, 23.4228, 23.2980, 23.1810, 23.0718, 22.9704, 22.8768, 22.7910,
            22.7130, 22.6428, 22.5804, 22.5258, 22.4790, 22.4400, 22.4088, 22.3854, 22.3698, 22.3620,
        ];
        SupplyNetwork supply = Chain(20, 5, 0.03, 26.0);
        Assert.All(tabled.Index(), entry => Assert.Equal(entry.Item, supply.VoltsAt(entry.Index + 1), 4));
    }

    /// <summary>Second example there: 10 of 50 mA, 10 m apart, 0.75 mm² of copper at 0.0175 Ω·mm²/m: 1.28333 V.</summary>
    [Fact]
    public void SecondExampleOfTheHandbook() => Assert.Equal(24 - 1.28333, Chain(10, 10, 0.05, 0.0175 / 0.75 * 1000).VoltsAt(10), 5);

    private static SupplyNetwork Chain(int modules, double metres, double amperes, double ohmsPerKilometre)
    {
        SiteSimulation simulation = new(new()
        {
            Name = "chain",
            BitRate = 125_000,
            Controller = null,
            Modules = [.. Enumerable.Range(1, modules).Select(address => new ModulePlan { Address = address, Name = "m", Metres = metres })],
            Supply = new() { SourceOhms = 0, FeedMetres = 0, ModuleAmperes = amperes, TrunkOhmsPerKilometre = ohmsPerKilometre },
        });
        return simulation.Stage.Supply;
    }

    /// <summary>
    /// Dominant difference with other than two terminators, by a driver of 20 to 50 Ω that gives 2.0 V at 60 Ω (methods 8.2): one 2.29–2.59 V, three 1.63–1.78 V, four 1.38–1.60 V.
    /// </summary>
    [Theory]
    [InlineData(1, 20, 2.29)]
    [InlineData(1, 50, 2.59)]
    [InlineData(2, 35, 2.00)]
    [InlineData(3, 20, 1.78)]
    [InlineData(3, 50, 1.63)]
    [InlineData(4, 20, 1.60)]
    [InlineData(4, 50, 1.38)]
    public void DriversAndTerminatorsDivide(int terminators, double driverOhms, double volts)
    {
        SiteSimulation simulation = new(WrenfieldLibrary.Create() with
        {
            Line = new() { Terminators = terminators, DriverOhms = driverOhms },
            Gauges = [new(Gauge.LineDifferenceVolts)],
        });
        simulation.Step(TimeSpan.FromSeconds(2));

        // The longest dominant stretch of a stuffed frame is five bits of 8 µs; the meter is asked for windows of one bit.
        long end = (long)(simulation.Site.WarmUp + TimeSpan.FromSeconds(2)).TotalNanoseconds;
        double highest = 0;
        for (long at = end - 1_000_000_000; at < end; at += 4_000)
        {
            highest = Math.Max(highest, simulation.Stage.Line.MeanDifference(at, at + 4_000));
        }

        Assert.Equal(volts, highest, 0.006);
    }

    [Fact]
    public void AModuleThatGetsTooLittleStartsAgain()
    {
        Site site = WrenfieldLibrary.Create() with { Supply = WrenfieldLibrary.Supply, Faults = [new SupplyLowered(8) { Start = TimeSpan.FromSeconds(10), End = TimeSpan.FromSeconds(10.2) }] };
        Recorder recorder = new();
        new SiteSimulation(site).Run(recorder, TimeSpan.FromSeconds(15));
        Assert.Equal(14, recorder.Frames.Count(frame => frame.Id.Value is > 0x700 and < 0x780 && frame.Bytes[0] == 0 && !frame.IsRemote));
    }

    [Fact]
    public void ASupplyThatIsStrongChangesNoFrame()
    {
        Recorder with = new();
        Recorder without = new();
        new SiteSimulation(WrenfieldLibrary.Create() with { Supply = WrenfieldLibrary.Supply }).Run(with, TimeSpan.FromMinutes(2));
        new SiteSimulation(WrenfieldLibrary.Create()).Run(without, TimeSpan.FromMinutes(2));
        Assert.Equal(without.Lines(), with.Lines());
    }

    [Fact]
    public void SensorsChangeNoFrame()
    {
        Recorder with = new();
        Recorder without = new();
        new SiteSimulation(WrenfieldLibrary.Create() with { Gauges = [.. WrenfieldLibrary.LineGauges, .. WrenfieldLibrary.SupplyGauges] }).Run(with, TimeSpan.FromMinutes(2));
        new SiteSimulation(WrenfieldLibrary.Create()).Run(without, TimeSpan.FromMinutes(2));
        Assert.Equal(without.Lines(), with.Lines());
    }
}
