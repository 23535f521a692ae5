using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Measured;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class LineLevelDetectorTests
{
    /// <summary>Levels are learned from the first hour; here traffic is a fifth of a bus so that each node is known within it.</summary>
    private static readonly Site Site = WithModules(Measured.Library([new GaugePlan(Gauge.LineDifferenceVolts)]), module => module with { HeartbeatMilliseconds = 100 });

    private static readonly TimeSpan Learned = Minutes(75);

    [Fact]
    public void ATerminatorThatGoesMissingIsAChangeOfAllSenders()
    {
        FindingReport level = Measured.Of(Site with { Faults = [new TerminatorsChanged(1) { Start = Learned }] }, Minutes(100)).The("line.level");
        Assert.Equal("termination-missing", level.Causes[0].Cause);
        Assert.StartsWith("All senders drive the lines", level.Summary, StringComparison.Ordinal);
        Assert.Contains("120 Ω: one is missing", level.Causes[0].Expect, StringComparison.Ordinal);
        Assert.NotNull(level.Causes[0].Caution);

        // 35 Ω behind 2.0 V at 60 Ω: 2.0 · 95/60 · 120/155 = 2.45 V.
        MeasurementReport volts = level.Measurements.Single(one => one.Name == "dominantVolts");
        Assert.InRange(2.452, volts.Low!.Value, volts.High!.Value);
        Assert.Contains(level.Evidence, row => row.Text.Contains("an edge, ringing or a single glitch", StringComparison.Ordinal));
    }

    [Fact]
    public void ATerminatorTooManyIsFoundAndEndsWhenItIsGone()
    {
        FindingReport level = Measured.Of(Site with { Faults = [new TerminatorsChanged(3) { Start = Learned, End = Minutes(100) }] }, Minutes(115)).The("line.level");
        Assert.Equal("termination-extra", level.Causes[0].Cause);
        Assert.NotNull(level.End);
    }

    [Fact]
    public void OneDriverThatWeakensIsThatNodesAlone()
    {
        FindingReport level = Measured.Of(Site with { Faults = [new DriverChanged(9, 0.8) { Start = Learned }] }, Minutes(110)).The("line.level");
        Assert.Equal([9], level.Nodes!);
        Assert.Equal("device-fault", level.Causes[0].Cause);
        Assert.DoesNotContain(level.Causes, cause => cause.Cause.StartsWith("termination", StringComparison.Ordinal));
    }

    [Fact]
    public void AGroundThatShiftsMovesBothLines()
    {
        Site site = Measured.Library([new(Gauge.LineHighVolts), new(Gauge.LineLowVolts)], new GroundShifted(2.2) { Start = Minutes(2), End = Minutes(4) });
        FindingReport level = Measured.Of(site, Minutes(5)).The("line.level");
        Assert.Equal("ground-offset", level.Causes[0].Cause);
        Assert.Equal(4.7, Value(level, "commonModeVolts"), 0.1);
        Assert.NotNull(level.End);
    }

    [Theory]
    [InlineData(1.6, 0)]
    [InlineData(2.0, 0.02)]
    [InlineData(2.9, 0)]
    public void DriversWithinTheStandardFromTheStartAreNone(double volts, double coldRatio)
    {
        Site site = Site with
        {
            Gauges = WrenfieldLibrary.LineGauges,
            Line = new() { NodeDriverVolts = new Dictionary<int, double> { [5] = volts }, ColdRatio = coldRatio },
        };
        Measured measured = Measured.Of(site, Minutes(110));
        Assert.Empty(measured.Report.Findings);
        Assert.Equal(2.5, measured.Quantity("commonModeVolts").Last, 0.05);
        Assert.InRange(measured.Quantity("dominantDifferenceVolts").Last, 1.9, 2.15);
    }

    [Fact]
    public void AModuleThatWasExchangedMayDriveOtherwise()
    {
        Site site = Site with { Faults = [new NodeWithoutPower(9) { Start = Learned, End = Learned + Minutes(1) }, new DriverChanged(9, 0.8) { Start = Learned }] };
        Assert.False(Measured.Of(site, Minutes(110)).Has("line.level"));
    }

    [Fact]
    public void WindowsInWhichFramesWereLostAreLeftOut() =>
        Assert.Equal(2.0, Measured.Of(Site with { Faults = [new LostFrames(0.3)] }, Minutes(30)).Quantity("dominantDifferenceVolts").Last, 0.04);

    [Fact]
    public void NothingIsBelievedWhileFramesGoMissingWithoutAWord() =>
        Assert.DoesNotContain(
            Measured.Of(Site with { Faults = [new LostFrames(0.3, Reported: false)] }, Minutes(30)).Report.Measurements, quantity => quantity.Quantity == "dominantDifferenceVolts");

    [Fact]
    public void ShortWindowsThatDoNotFollowEachOtherGiveNoDominantLevel()
    {
        Site site = Site with { Gauges = [new(Gauge.LineDifferenceVolts) { Period = TimeSpan.FromMilliseconds(5), Window = TimeSpan.FromMilliseconds(1.16) }] };
        Assert.DoesNotContain(Measured.Of(site, Minutes(10)).Report.Measurements, quantity => quantity.Quantity == "dominantDifferenceVolts");
    }

    [Fact]
    public void ShortWindowsThatFollowEachOtherAreJoined()
    {
        Site site = Measured.Library([new GaugePlan(Gauge.LineDifferenceVolts) { Period = TimeSpan.FromMilliseconds(1.16), Window = TimeSpan.FromMilliseconds(1.16) }]);
        Assert.Equal(2.0, Measured.Of(site, Minutes(10)).Quantity("dominantDifferenceVolts").Last, 0.04);
    }

    /// <summary>What is learned in the first hour takes 51 minutes here; each figure is worked out from what the site was built as.</summary>
    [Fact]
    public void LinesThatHeldAreToldWithWhatIsExcludedAndWhatAveragesCannotShow()
    {
        IReadOnlyList<AssuranceReport> held = Of(125);
        AssuranceReport range = held.Single(one => one.Statement == NeverOutside);
        Assert.InRange(range.Observed, 124.5 / 60, 125 / 60.0);
        Assert.StartsWith("lines at our clip, CAN_H 1.85 to 4.65 V, CAN_L 0.35 to 3.15 V, and their common mode always from 2.", range.Subject, StringComparison.Ordinal);
        AssuranceReport level = held.Single(one => one.Statement == NoOtherLevel);
        Assert.InRange(level.Observed, 1, 75 / 60.0);
        Assert.Matches("^all senders together, between the lines: (1.9[6-9]|2.0[0-4]) V above the recessive level, and never [45](.[0-9])? % or more away", level.Subject);
        Assert.All(held, one => Assert.Matches("edge, (no )?ringing (and no|or a) single glitch", one.Subject));
    }

    [Fact]
    public void TimeWithoutValuesOrFramesIsNotCounted()
    {
        double whole = Hours(Of(140), NoOtherLevel);
        Assert.Equal(whole - (10 / 60.0), Hours(Of(140, new GaugesStop { Start = Minutes(100), End = Minutes(110) }), NoOtherLevel), 0.05);
        Assert.Equal(whole - (10 / 60.0), Hours(Of(140, new LostFrames(0.3) { Start = Minutes(100), End = Minutes(110) }), NoOtherLevel), 0.05);
        Assert.Equal(130 / 60.0, Hours(Of(140, new GaugesStop { Start = Minutes(100), End = Minutes(110) }), NeverOutside), 0.01);
        Assert.DoesNotContain(Of(110), one => one.Statement == NoOtherLevel);
        Assert.Empty(Of(50));
    }

    [Fact]
    public void WhereLinesWereOffNothingIsSaidOfThem()
    {
        // Three seconds of another ground are no finding yet, and no promise either.
        IReadOnlyList<AssuranceReport> shifted = Of(70, new GroundShifted(2.2) { Start = Minutes(20), End = Minutes(20.05) });
        Assert.DoesNotContain(shifted, one => one.Statement == NeverOutside);
        Assert.DoesNotContain(Of(130, new TerminatorsChanged(1) { Start = Learned }), one => one.Statement is NoOtherLevel or NeverOutside);
    }

    private const string NeverOutside = "never out of their range";
    private const string NoOtherLevel = "no change of the dominant level against the first hour";

    private static IReadOnlyList<AssuranceReport> Of(double minutes, params Fault[] faults) =>
        [.. Measured.Of(Site with { Gauges = WrenfieldLibrary.LineGauges, Faults = faults }, Minutes(minutes)).Report.Assurances.Where(one => one.Statement is NeverOutside or NoOtherLevel)];

    private static double Hours(IReadOnlyList<AssuranceReport> assurances, string statement) => assurances.Single(one => one.Statement == statement).Observed;
}
