using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Findings;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class DuplicateAddressDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    private static bool Says(JsonElement finding, string words) =>
        finding.GetProperty("evidence").EnumerateArray().Any(row => row.GetProperty("text").GetString()!.Contains(words, StringComparison.Ordinal));

    [Fact]
    public void ASecondModuleOnAnAddressIsFoundByItsOwnPhase()
    {
        JsonElement two = Of(Library(new DuplicateAddress(7) { Start = Begin }), Minutes(5)).The("node.duplicate-address", 7);
        Assert.Equal("fault", Severity(two));
        Assert.Equal("address-set-twice", TopCause(two));
        Assert.InRange(SecondsOf(two, "raised"), 120, 150);
        Assert.True(Says(two, "two phases at once"));
    }

    /// <summary>0x707 is the heartbeat of node 7 (CiA 301: 700h + node), once a second from each of the two.</summary>
    [Fact]
    public void ThePeriodIsThatOfEachSenderAndNoMeanOfBoth()
    {
        Replayed replayed = Of(Library(new DuplicateAddress(7) { Start = Begin }), Minutes(5));
        JsonElement beat = replayed.Bus.GetProperty("identifiers").EnumerateArray().Single(identifier => identifier.GetProperty("id").GetString() == "0x707");
        Assert.True(beat.GetProperty("twoPhases").GetBoolean());
        Assert.Equal(1, beat.GetProperty("periodSeconds").GetDouble(), 0.001);
        Assert.Equal(JsonValueKind.Null, beat.GetProperty("periodJitterSeconds").ValueKind);
        Assert.Equal(1, replayed.Node(7).GetProperty("heartbeatSeconds").GetDouble(), 0.001);
    }

    [Fact]
    public void TheStartOfTheSecondModuleIsNoRestartOfTheFirst() =>
        Assert.Equal(["node.duplicate-address/can0/node-7"], Of(Library(new DuplicateAddress(7) { Start = Begin, StartsItself = true }) with { Controller = new() { ReadsIdentities = false } }, Minutes(3)).Accusations);

    [Fact]
    public void ASecondModuleOfAnotherPeriodIsFoundToo() =>
        Assert.True(Of(Library(new DuplicateAddress(7) { Start = Begin, HeartbeatMilliseconds = 1700 }), Minutes(5)).Has("node.duplicate-address", 7));

    [Fact]
    public void TwoModulesThatWereThereBeforeWeListenedAreFound() =>
        Assert.True(Of(Library(new DuplicateAddress(7) { Start = Seconds(-15) }), Minutes(3)).Has("node.duplicate-address", 7));

    [Fact]
    public void ASecondModuleThatIsNeverStartedContradictsTheStateOfTheFirst()
    {
        // Nobody starts the second one: no controller is there that would, and the first has started itself.
        Site site = WithModules(Library(new DuplicateAddress(7) { Start = Begin }), module => module with { StartsItself = true }) with { Controller = null };
        Assert.True(Says(Of(site, Minutes(5)).The("node.duplicate-address", 7), "reported state changed"));
    }

    [Fact]
    public void TwoModulesThatStartAtTheSameBitAreFoundByTheirCollision()
    {
        // Both send at SYNC, behind the modules of higher priority, so they start together; the tool release is on at the first one only.
        Site site = WithModules(Library(new DuplicateAddress(7) { Start = Begin, StartsItself = true }, new StuckInput(7, 1) { Start = Seconds(30) }), module => module with
        {
            SynchronousEvery = 1,
            HeartbeatMilliseconds = module.Address == 7 ? 0 : module.HeartbeatMilliseconds,
        });
        JsonElement two = Of(site with { Controller = new() { SyncMilliseconds = 1000, ReadsIdentities = false }, People = new() { Activity = 0 } }, Minutes(4)).The("node.duplicate-address", 7);
        Assert.True(Says(two, "collision of two senders with clean counters"));
    }

    [Fact]
    public void TwoModulesThatOnlySendInputsAreFoundByTheirOscillators()
    {
        JsonElement two = Of(Unsupervised(new DuplicateAddress(7) { Start = Begin, Oscillator = new(35) }), Minutes(8)).The("node.duplicate-address", 7);
        Assert.True(Says(two, "so two oscillators make them"));
        Assert.InRange(SecondsOf(two, "raised"), 120 + (20 * 6), 120 + (35 * 6));
    }

    /// <summary>Where no protocol says what it is, the oscillators of two devices prove themselves on the identifier that both send; one that is alone has one.</summary>
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void WithoutAProtocolTwoSendersOfOneIdentifierAreFound(bool areTwo)
    {
        Replayed replayed = Of(areTwo ? Library(new DuplicateAddress(7) { Start = Begin }) : Library(new NodeWithoutPower(7) { Start = Begin, End = Begin + Seconds(20) }), Minutes(10), null, "--protocol", "none");
        Assert.Equal(areTwo ? "0x707" : null, replayed.Has("node.duplicate-address") ? replayed.The("node.duplicate-address").GetProperty("id").GetString() : null);
    }

    [Theory]
    [InlineData(0x080u, 40, false)]
    [InlineData(0x07Fu, 29, true)]
    [InlineData(0x07Fu, 28, false)]
    public void OneModuleThatSendsByItsTimerAndAtSyncIsNotTwo(uint pacemaker, int cycles, bool expected)
    {
        // Every fifth SYNC by the controller's oscillator, and every 5 s by its own, which is 20 ppm slower. Nine cycles find the tracks, twenty the skew.
        (Bus bus, FindingBook book, _) = TestBus.Create();
        List<CanFrame> frames = [];
        void Add(double seconds, uint id) => frames.Add(CanFrame.Classic(TestBus.Start + TimeSpan.FromSeconds(seconds), CanId.Base(id), id == pacemaker ? [] : [0]));
        for (int second = 0; second < 5 * cycles; second++)
        {
            Add(second, pacemaker);
            if (second % 5 == 0)
            {
                Add(second + 0.002, 0x187);
                Add((second * 1.00002) + 1.67, 0x187);
            }
        }

        foreach (CanFrame frame in frames.OrderBy(frame => frame.Time))
        {
            bus.OnFrame(frame);
        }

        bus.OnSecond(TestBus.Start + TimeSpan.FromSeconds(5 * cycles));
        Assert.Equal(expected, book.IsOpen(Catalogue.DuplicateAddress, bus.Name, Subject.OfNode(7)));
    }

    /// <summary>One device sends, waits a tenth of a second by its tick, and sends again; seen in a recording of a small bus with some frames removed.</summary>
    [Theory]
    [InlineData(30, 0.0001, 0.0, false)]
    [InlineData(45, 0.0003, 0.0, false)]
    [InlineData(60, 0.0, 20e-6, true)]
    public void OneSenderWhoseSecondFrameWandersIsNotTwo(int cycles, double wander, double skew, bool expected)
    {
        (Bus bus, FindingBook book, _) = TestBus.Create();
        CanId id = CanId.Extended(0x0C140200);
        for (int cycle = 0; cycle < cycles; cycle++)
        {
            double noise = 5e-6 * ((cycle * 7 % 5) - 2);
            double offset = 0.1 + (wander * Math.Sin(cycle * Math.PI / cycles)) + (skew * cycle) + noise;
            bus.OnFrame(CanFrame.Classic(TestBus.Start + TimeSpan.FromSeconds(cycle), id, [0xC0]));
            bus.OnFrame(CanFrame.Classic(TestBus.Start + TimeSpan.FromSeconds(cycle + offset), id, [0xC1]));
            bus.OnSecond(TestBus.Start + TimeSpan.FromSeconds(cycle + 0.5));
        }

        Assert.Equal(expected, book.IsOpen(Catalogue.DuplicateAddress, bus.Name, Subject.OfId(id)));
    }

    private static Site Unsupervised(params Fault[] faults) => WithModules(Library(faults), module => module with { HeartbeatMilliseconds = 0, EventTimerMilliseconds = 6000 })
        with { Controller = new() { ReadsIdentities = false }, People = new() { Activity = 0 } };

    [Theory]
    [InlineData("705#R")]
    [InlineData("705#85")]
    public void BurstsAmongGuardRequestsAreNoCollision(string first)
    {
        // The request is a remote frame, its answer under the same identifier isn't: two devices, but not two with one address. Nor are two answers.
        System.Text.StringBuilder log = new();
        double time = 1_700_000_000;
        void Line(double after, string frame) => log.Append(System.Globalization.CultureInfo.InvariantCulture, $"({time += after:0.000000}) can0 {frame}\n");
        for (int i = 0; i < 20; i++)
        {
            for (int error = 0; i >= 5 && error < 16; error++)
            {
                Line(0.0005, "20000088#0000040000000000");
            }

            Line(0.001, i < 5 ? "705#R" : first);
            Line(0.001, i % 2 == 0 ? "705#05" : "705#85");
            Line(1, "706#05");
        }

        Assert.False(OfBytes(System.Text.Encoding.ASCII.GetBytes(log.ToString()), "--bit-rate", "125000", "--protocol", "canopen").Has("node.duplicate-address"));
    }

    /// <summary>A controller that reads the serial number (1018h:4) of node 5 each second; boot-ups and a heartbeat beside it.</summary>
    private static Replayed Readings(params string[] serialsAndBoots) => ReadingsAgainst(null, serialsAndBoots);

    /// <param name="site">Path of an as-built record; null = none.</param>
    /// <param name="serialsAndBoots">In the order of time.</param>
    private static Replayed ReadingsAgainst(string? site, params string[] serialsAndBoots)
    {
        System.Text.StringBuilder log = new();
        double time = 1_700_000_000;
        void Line(string frame) => log.Append(System.Globalization.CultureInfo.InvariantCulture, $"({time += 0.02:0.000000}) can0 {frame}\n");
        for (int i = 0; i < 10; i++)
        {
            Line("705#05");
            time += 1;
        }

        foreach (string word in serialsAndBoots)
        {
            Line("705#05");
            if (word == "boot")
            {
                time += 20;
                Line("705#00");
            }
            else
            {
                Line("605#4018100400000000");
                Line("585#43181004" + word);
            }

            time += 1;
        }

        string[] record = site is null ? [] : ["--site", site];
        return Replayed.OfText(log.ToString(), ["--bit-rate", "125000", .. record]);
    }

    [Fact]
    public void ASerialNumberThatGoesBackWithoutARestartIsTwoModules() =>
        Assert.True(Says(Readings("01000000", "02000000", "01000000").The("node.duplicate-address", 5), "serial number"));

    /// <summary>01000000 and 02000000 are 1 and 2, lowest byte first (CiA 301, UNSIGNED32).</summary>
    [Theory]
    [InlineData("1", "The as-built record has 1, so 2 is the one that doesn't belong here.")]
    [InlineData("0x00000002", "The as-built record has 2, so 1 is the one that doesn't belong here.")]
    [InlineData("A-17", "The as-built record has neither: it says A-17.")]
    public void TheAsBuiltRecordTellsWhichOfTheTwoBelongsThere(string serial, string told)
    {
        string site = Path.GetTempFileName();
        try
        {
            File.WriteAllText(site, $$"""{ "schema": 1, "nodes": [ { "address": 5, "serial": "{{serial}}" } ] }""");
            Assert.True(Says(ReadingsAgainst(site, "01000000", "02000000", "01000000").The("node.duplicate-address", 5), told));
        }
        finally
        {
            File.Delete(site);
        }
    }

    [Fact]
    public void OneOtherSerialNumberMayBeAnExchangeWhoseStartWentUnheard() =>
        Assert.False(Readings("01000000", "02000000", "02000000", "02000000").Has("node.duplicate-address"));

    [Fact]
    public void OtherSerialNumbersBehindBootUpsAreExchanges()
    {
        Replayed replayed = Readings("01000000", "boot", "02000000", "boot", "01000000");
        Assert.False(replayed.Has("node.duplicate-address"));
        Assert.Equal(1, replayed.The("node.replaced", 5).GetProperty("count").GetInt32());
    }

    [Fact]
    public void TheSameNumberBehindABootUpUsesItUp()
    {
        Replayed replayed = Readings("01000000", "boot", "01000000", "02000000", "01000000");
        Assert.False(replayed.Has("node.replaced"));
        Assert.True(replayed.Has("node.duplicate-address", 5));
    }

    [Fact]
    public void OneModuleWhoseTimerWalksIsNotTwo()
    {
        Site site = WithModules(Library(), module => module with { Schedule = HeartbeatSchedule.Walk, SoftwareJitter = TimeSpan.FromMilliseconds(8) });
        Assert.Empty(Of(site, Minutes(6)).Findings);
    }

    [Fact]
    public void AModuleThatIsRestartedMovesItsPhaseAndStaysOne() =>
        Assert.False(Of(Library(new WatchdogRestarts(7) { Start = Begin, MeanBetween = Seconds(25) }), Minutes(6)).Has("node.duplicate-address"));

    [Fact]
    public void HalfOfTheFramesLostMakesNoSecondModule()
    {
        Replayed replayed = Of(Library(new LostFrames(0.5)), Minutes(8));
        Assert.False(replayed.Has("node.duplicate-address"));
        Assert.False(replayed.Has("node.silent"));
    }

    [Fact]
    public void FramesLostWithoutBeingSaidMakeNoSecondModule() =>
        Assert.False(Of(Library(new LostFrames(0.4, Reported: false)), Minutes(8)).Has("node.duplicate-address"));

    [Fact]
    public void ASecondModuleForThreePeriodsOnlyIsTooShortToTell()
    {
        Site site = WithModules(Library(new DuplicateAddress(7) { Start = Begin, End = Begin + Seconds(3), StartsItself = true }), module => module with { StartsItself = true }) with { Controller = null };
        Assert.False(Of(site, Minutes(4)).Has("node.duplicate-address"));
    }

    [Fact]
    public void TwoModulesThatBothAnswerTheControllersQuestionsAreFoundByThat()
    {
        // The controller reads the identity of whoever announces a start; both modules answer each question.
        JsonElement two = Of(Library(new DuplicateAddress(7) { Start = Begin, End = Begin + Seconds(3) }), Minutes(4)).The("node.duplicate-address", 7);
        Assert.True(Says(two, "two answers each"));
    }

    /// <summary>Node 5 is asked for five objects, a tenth of a second apart; each time its answer comes after this long.</summary>
    private static Replayed Questions(double answerSeconds, int answers)
    {
        List<(double Time, string Frame)> frames = [];
        for (int i = 0; i < 120; i++)
        {
            frames.Add((i, "705#05"));
        }

        for (int round = 0; round < 8; round++)
        {
            for (int i = 0; i < 5; i++)
            {
                double time = 20 + (4 * round) + (0.1 * i);
                frames.Add((time, "605#4000100000000000"));
                for (int answer = 0; answer < answers; answer++)
                {
                    frames.Add((time + answerSeconds + (0.001 * answer), "585#430010000" + ((i + answer) % 8) + "000000"));
                }
            }
        }

        return Replayed.OfText(string.Concat(frames.OrderBy(frame => frame.Time).Select(frame => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"({1_700_000_000 + frame.Time:0.000000}) can0 {frame.Frame}\n"))), "--bit-rate", "125000");
    }

    [Fact]
    public void TwoAnswersToEachQuestionAreTwoModules() => Assert.True(Questions(0.01, 2).Has("node.duplicate-address", 5));

    [Theory]
    [InlineData(0.01)]
    [InlineData(0.15)]
    [InlineData(0.25)]
    public void AnswersThatComeLateAsShuffledStampsMakeThemAreNot(double seconds) => Assert.False(Questions(seconds, 1).Has("node.duplicate-address"));

    [Theory]
    [InlineData(20)]
    [InlineData(300)]
    [InlineData(1000)]
    public void ShuffledStampsMakeNoSecondModule(int milliseconds)
    {
        Site site = Library(new ShuffledStamps(Seconds(milliseconds / 1000.0)) { Start = Begin }, new FirmwareDownload(7) { Start = Begin + Seconds(20) }, new CommandedReset(0) { Start = Minutes(4) });
        Assert.False(Of(site, Minutes(6)).Has("node.duplicate-address"));
    }

    [Fact]
    public void OnceTheSecondModuleIsGoneTheFindingEnds()
    {
        JsonElement two = Of(Library(new DuplicateAddress(7) { Start = Begin, End = Begin + Minutes(1) }), Minutes(16)).The("node.duplicate-address", 7);
        Assert.InRange(SecondsOf(two, "end"), 175, 190);
        Assert.Equal(1, two.GetProperty("count").GetInt32());
    }
}
