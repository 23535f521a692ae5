using Diagnostics.Can;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Simulation;

/// <summary>What each fault does to the wire, as far as our adapter hears it.</summary>
public class FaultTests
{
    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 1, 5, 12, 0, 0, TimeSpan.Zero));

    private static TimeSpan Seconds(double seconds) => TimeSpan.FromSeconds(seconds);

    private static Site Library(params Fault[] faults) => WrenfieldLibrary.Create(2) with { Start = Noon, Faults = faults };

    private static Recorder Run(Site site, double seconds)
    {
        Recorder recorder = new();
        new SiteSimulation(site).Run(recorder, Seconds(seconds));
        return recorder;
    }

    private static double[] Times(Recorder recorder, uint id) => [.. recorder.With(id).Select(frame => frame.Time.SecondsSince(Noon))];

    [Fact]
    public void AHungNodeIsSilentAndCommandsToItStillPass()
    {
        Recorder recorder = Run(Library(new NodeHang(5) { Start = Seconds(10) }), 30);
        Assert.InRange(Times(recorder, 0x705)[^1], 8.5, 10);
        Assert.InRange(Times(recorder, 0x706)[^1], 28.5, 30);
        Assert.Empty(recorder.Errors);
    }

    [Fact]
    public void ANodeWithoutPowerComesBackWithABootUp()
    {
        Recorder recorder = Run(Library(new NodeWithoutPower(5) { Start = Seconds(10), End = Seconds(20) }), 40);
        CanFrame bootUp = Assert.Single(recorder.With(0x705), frame => frame.FirstEight == 0);
        Assert.InRange(bootUp.Time.SecondsSince(Noon), 20.2, 20.4);
        Assert.DoesNotContain(recorder.With(0x705), frame => frame.Time.SecondsSince(Noon) is > 10.001 and < 20);
    }

    [Fact]
    public void AnOpenDropSilencesOneNodeThatComesBackWithoutABootUp()
    {
        Recorder recorder = Run(Library(new OpenDrop(5) { Start = Seconds(10), End = Seconds(20) }), 40);
        Assert.DoesNotContain(recorder.With(0x705), frame => frame.Time.SecondsSince(Noon) is > 10.001 and < 20);
        Assert.DoesNotContain(recorder.With(0x705), frame => frame.FirstEight == 0);
        Assert.InRange(Times(recorder, 0x705).Count(time => time > 20), 18, 24);
    }

    [Fact]
    public void ALooseDropTruncatesFrames()
    {
        Recorder recorder = Run(Library(new IntermittentDrop(5)), 600);
        Assert.InRange(recorder.Errors.Count(), 8, 400);
        Assert.All(recorder.Errors, error => Assert.True(error.IsWireError));
    }

    [Fact]
    public void ALooseJointOfTheTrunkSilencesAllBehindIt()
    {
        Fault fault = new IntermittentTrunk(10) { MeanOpen = Seconds(6), MeanBetween = Seconds(10) };
        Recorder recorder = Run(Library(fault), 300);
        int near = recorder.With(0x705).Count();
        foreach (uint node in (uint[])[11, 12, 13, 14])
        {
            Assert.True(recorder.With(0x700 + node).Count() < near - 20);
        }

        Assert.True(recorder.With(0x70A).Count() > near - 5);
    }

    [Fact]
    public void ASenderThatIsAloneRepeatsOneFrameAndTheListenerSeesFormErrorsFirst()
    {
        Recorder recorder = Run(Library(new SenderAlone(5) { Start = Seconds(10), End = Seconds(14) }), 13);
        int errors = recorder.Errors.Count();
        Assert.Equal(16, errors);
        Assert.All(recorder.Errors, error => Assert.Equal(ErrorLocation.AcknowledgeDelimiter, error.Location));
        Assert.True(recorder.With(0x705).Count() > 1000);
    }

    [Fact]
    public void ABadDropSpoilsTheFramesOfItsNode()
    {
        SiteSimulation simulation = new(Library(new BadDrop(5, 5e-3)));
        Recorder recorder = new();
        simulation.Run(recorder, Seconds(300));
        Assert.InRange(recorder.Errors.Count(), 20, 300);
        Assert.True(simulation.Stage.Modules[5].Controller.FailedAttempts > 0);

        // Another is hit only where it lost its own arbitration to a spoilt bit.
        Assert.InRange(simulation.Stage.Modules.Values.Where(module => module.Plan.Address != 5).Sum(module => module.Controller.FailedAttempts), 0, 3);
    }

    [Fact]
    public void NoiseOfTheWholeBusGivesAboutAsManyErrorsAsItsRatioSays()
    {
        Site site = Library(new BusNoise(6e-5), new HighLoad(0.4));
        SiteSimulation simulation = new(site);
        Recorder recorder = new();
        simulation.Run(recorder, Seconds(200));

        // 125 kbit/s · 200 s · 0.41 · 6e-5 = 615 inverted bits, and most of them end in an error.
        Assert.InRange(simulation.Counts.BitsInverted, 480, 760);
        Assert.InRange(recorder.Errors.Count(), 350, 800);
    }

    [Fact]
    public void BurstsHaveTheShapeOfTheStandard()
    {
        // IEC 61000-4-4: bursts of 15 ms every 300 ms, within a fifth (from memory). An error shows up to a frame later.
        Recorder recorder = Run(Library(new BurstInterference(), new HighLoad(0.5)), 60);
        double[] errors = [.. recorder.All.Where(frame => frame.IsError).Select(frame => frame.Time.SecondsSince(Noon))];
        double[] starts = [.. errors.Where((time, index) => index == 0 || time - errors[index - 1] > 0.1)];
        Assert.True(errors.Length > 200);
        Assert.InRange((starts[^1] - starts[0]) / (starts.Length - 1), 0.24, 0.36);
        Assert.All(errors, time => Assert.InRange(time - starts.Last(start => start <= time), 0, 0.0165));
    }

    [Fact]
    public void AJoiningNodeWithAWrongBitRateBringsErrorsThatEndWithIt()
    {
        Recorder recorder = Run(Library(new WrongBitRate(5, 50_000) { Start = Seconds(10), End = Seconds(13) }), 40);
        double[] errors = [.. recorder.All.Where(frame => frame.IsError).Select(frame => frame.Time.SecondsSince(Noon))];
        Assert.True(errors.Length > 100);
        Assert.All(errors, time => Assert.InRange(time, 10, 14));
        Assert.Equal(14, recorder.Frames.Where(frame => frame.Time.SecondsSince(Noon) > 25 && frame.Id.Value is > 0x700 and < 0x780).Select(frame => frame.Id).Distinct().Count());
    }

    [Fact]
    public void TwoModulesOnOneAddressGiveTwoTracksAndTwoIdentities()
    {
        Recorder recorder = Run(Library(new DuplicateAddress(5) { Start = Seconds(10), StartsItself = true }), 120);
        int before = Times(recorder, 0x705).Count(time => time < 10);
        double perSecond = Times(recorder, 0x705).Count(time => time > 20) / 100.0;
        Assert.InRange(before, 9, 11);
        Assert.InRange(perSecond, 1.9, 2.1);
        Assert.Contains(recorder.With(0x705), frame => frame.FirstEight == 0);
    }

    [Fact]
    public void ADipRestartsItsNodesTogether()
    {
        Recorder recorder = Run(Library(new SupplyDip([5, 6, 7]) { Start = Seconds(10) }), 20);
        foreach (uint node in (uint[])[5, 6, 7])
        {
            Assert.InRange(Assert.Single(recorder.With(0x700 + node), frame => frame.FirstEight == 0).Time.SecondsSince(Noon), 10.3, 10.5);
        }

        Assert.DoesNotContain(recorder.With(0x708), frame => frame.FirstEight == 0);
    }

    [Fact]
    public void ASiteWithoutPowerIsSilentAndBootsUpWhenItReturns()
    {
        Recorder recorder = Run(Library(new SiteWithoutPower { Start = Seconds(10), End = Seconds(20) }), 60);
        Assert.DoesNotContain(recorder.All, frame => frame.Time.SecondsSince(Noon) is > 10.01 and < 20);
        Assert.Equal(14, recorder.Frames.Count(frame => frame.Id.Value is > 0x700 and < 0x780 && frame.FirstEight == 0));
        Assert.Contains(recorder.Frames, frame => frame.Id.Value == 0);
    }

    [Fact]
    public void ABabblerTakesTheBus()
    {
        Recorder recorder = Run(Library(new Babbler(5, 0x185) { Start = Seconds(10), End = Seconds(20) }), 30);
        Assert.InRange(recorder.With(0x185).Count(), 4900, 5100);
    }

    [Fact]
    public void HighLoadFillsTheBusAsAsked()
    {
        SiteSimulation simulation = new(Library(new HighLoad(0.8)));
        Recorder recorder = new();
        simulation.Run(recorder, Seconds(30));
        double bits = recorder.Frames.Where(frame => frame.Id.Value is >= 0x681 and <= 0x6E4).Sum(_ => 122.0);
        Assert.InRange(bits / (30 * 125_000), 0.7, 0.9);
    }

    [Fact]
    public void AFaultReportIsSentAndTakenBack()
    {
        Recorder recorder = Run(Library(new EmergencyReport(5) { Start = Seconds(10), End = Seconds(20) }), 30);

        // EMCY: error code, low byte first, then the error register. Short circuit at an output 2320h has class 23xx; reference-values 7.2.
        Assert.Equal([0x032310UL, 0UL], recorder.With(0x085).Select(frame => frame.FirstEight));
    }

    [Fact]
    public void AGoodContactGivesOneMessageAnOperationAndAWornOneMany()
    {
        Site quiet = Library() with { People = new() { Activity = 0 } };
        Fault play = new ChildrenPlay([5]) { Start = Seconds(5), End = Seconds(200) };
        Recorder good = Run(quiet with { Faults = [play] }, 220);
        Recorder worn = Run(quiet with { Faults = [play, new WornContact(5, 1, 3), new WornContact(5, 2, 3), new WornContact(5, 3, 3), new WornContact(5, 4, 3)] }, 220);
        int Close(Recorder recorder) => Times(recorder, 0x185).Zip(Times(recorder, 0x185).Skip(1), (a, b) => b - a).Count(gap => gap < 0.03);
        Assert.True(good.With(0x185).Count() > 150);
        Assert.True(Close(worn) > Close(good) + 100);
    }

    [Fact]
    public void AStuckInputStaysActive()
    {
        Recorder recorder = Run(Library(new StuckInput(5, 1) { Start = Seconds(10) }) with { People = new() { Activity = 0 } }, 300);
        Assert.Equal(1UL, recorder.With(0x185).Last().FirstEight & 1);
        Assert.InRange(Times(recorder, 0x185)[^1], 10, 11);
    }

    [Fact]
    public void AFlappingInputTogglesWithoutPeople()
    {
        Recorder recorder = Run(Library(new FlappingInput(5, 1)) with { People = new() { Activity = 0 } }, 300);
        Assert.InRange(recorder.With(0x185).Count(), 40, 130);
    }

    [Fact]
    public void AFirmwareDownloadEndsInARestartWithTheNextVersion()
    {
        Recorder recorder = Run(Library(new FirmwareDownload(5) { Start = Seconds(10) }), 60);
        Assert.True(recorder.With(0x605).Count() > 500);
        Assert.Single(recorder.With(0x705), frame => frame.FirstEight == 0);
        Assert.Contains("2.4.2", AsText(recorder.With(0x585)), StringComparison.Ordinal);
    }

    private static string AsText(IEnumerable<CanFrame> frames) => string.Concat(frames.Select(frame => System.Text.Encoding.Latin1.GetString(frame.Bytes)));

    [Fact]
    public void ARefusedOutputDoesNotShowInItsReadBack()
    {
        Site site = Library(new OutputRefuses(6, 1)) with { People = new() { Activity = 20 } };
        Recorder recorder = Run(site, 600);
        Assert.Contains(recorder.With(0x206), frame => (frame.FirstEight & 1) != 0);
        Assert.Single(recorder.With(0x286).Select(frame => frame.FirstEight & 1).Distinct());
    }

    [Fact]
    public void AnIgnoredInputCausesNothing()
    {
        Site site = Library(new InputUnanswered(5, 1)) with { People = new() { Activity = 20 } };
        Recorder recorder = Run(site, 600);
        Assert.Contains(recorder.With(0x185), frame => (frame.FirstEight & 1) != 0);

        // Input 1 of node 5 alone switches output 2 of node 6.
        Assert.DoesNotContain(recorder.With(0x206), frame => (frame.FirstEight & 2) != 0);
    }

    [Fact]
    public void ANodeBehindAnOutputFollowsThatOutput()
    {
        Site site = WrenfieldLibrary.Create(2);
        site = site with
        {
            Start = Noon,
            People = new() { Activity = 0 },
            Modules = [.. site.Modules.Select(module => module.Address == 7 ? module with { PoweredBy = new(6, 4) } : module)],
        };
        SiteSimulation simulation = new(site);
        Recorder recorder = new();
        simulation.Run(recorder, Seconds(5));
        Assert.Empty(recorder.With(0x707));
        simulation.Stage.Controller!.SwitchOutput(6, 4);
        simulation.Run(recorder, Seconds(10));
        Assert.Equal(0UL, recorder.With(0x707).First().FirstEight);
        int count = recorder.With(0x707).Count();
        simulation.Stage.Controller.SwitchOutput(6, 4);
        simulation.Run(recorder, Seconds(10));
        Assert.InRange(recorder.With(0x707).Count(), count, count + 1);
    }

    [Fact]
    public void LostFramesAreCountedExactly()
    {
        SiteSimulation simulation = new(Library(new LostFrames(0.1)));
        Recorder recorder = new();
        simulation.Run(recorder, Seconds(100));
        Recorder whole = Run(Library(), 100);
        long told = recorder.Gaps.Sum(gap => gap.Count);
        Assert.All(recorder.Gaps, gap => Assert.Equal(NotSeenKind.KernelDropped, gap.Kind));
        Assert.InRange(whole.All.Count - recorder.All.Count - told, 0, 3);
        Assert.InRange(told, 80, 200);
        Assert.Empty(Run(Library(new LostFrames(0.1, Reported: false)), 100).Gaps);
    }

    [Fact]
    public void AClockStepIsSaidAndShuffledStampsStayInOrder()
    {
        Recorder stepped = Run(Library(new ClockStep(TimeSpan.FromHours(1)) { Start = Seconds(10) }), 20);
        NotSeen step = Assert.Single(stepped.Gaps);
        Assert.Equal(NotSeenKind.ClockStep, step.Kind);
        Assert.Equal(3600, step.End.SecondsSince(step.Start), 6);
        Recorder shuffled = Run(Library(new HighLoad(0.5), new ShuffledStamps(TimeSpan.FromMilliseconds(30))), 20);
        Assert.True(shuffled.All.Zip(shuffled.All.Skip(1), (a, b) => a.Time <= b.Time).All(ordered => ordered));
        Assert.Equal(Run(Library(new HighLoad(0.5)), 20).All.Count, shuffled.All.Count);
    }

    [Fact]
    public void AClipThatCameOffHearsNothing()
    {
        Recorder recorder = Run(Library(new AdapterUnplugged { Start = Seconds(10), End = Seconds(20) }), 30);
        Assert.DoesNotContain(recorder.All, frame => frame.Time.SecondsSince(Noon) is > 10.001 and < 20);
        Assert.Contains(recorder.With(0x705), frame => frame.Time.SecondsSince(Noon) > 20);
    }

    [Fact]
    public void TheTruthNamesFaultNodeAndFinding()
    {
        Site site = Library(new NodeHang(5) { Start = Seconds(10), End = Seconds(20) }, new CommandedReset(6));
        IReadOnlyList<GroundTruth> truth = new SiteSimulation(site).Truth;
        Assert.Equal(("node.silent", 5, false), (truth[0].Finding, truth[0].Node, truth[0].IsBenign));
        Assert.Equal((Noon + Seconds(10), Noon + Seconds(20)), (truth[0].Start, truth[0].End));
        Assert.True(truth[1].IsBenign);
    }

    [Fact]
    public void AFaultOfANodeThatIsNotThereIsRefused()
    {
        Assert.Throws<ArgumentException>(() => new SiteSimulation(Library(new NodeHang(99))));
        Assert.Throws<ArgumentException>(() => new SiteSimulation(Library(new StuckInput(5, 60))));
    }
}
