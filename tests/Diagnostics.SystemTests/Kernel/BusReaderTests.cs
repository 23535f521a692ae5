using System.Globalization;
using System.Text.Json;
using Diagnostics.KernelGuest;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// The bus reader against a real kernel: virtual interfaces, and a full CAN interface behind a serial adapter that the guest plays.
/// Formats of the adapter's messages and what the kernel makes of them: drivers/net/can/slcan (6.1) and linux/can/error.h.
/// </summary>
[Collection("kernel")]
public class BusReaderTests(BusReaderRun run) : IClassFixture<BusReaderRun>
{
    private static Observation[] Frames(IEnumerable<Observation> heard, int index = 0) =>
        [.. heard.Where(observation => observation.Kind == "frame" && observation.Interface == index)];

    private static Observation[] NotSeen(IEnumerable<Observation> heard, string kind) =>
        [.. heard.Where(observation => observation.Kind == "notSeen" && observation.Name == kind)];

    private static string[] Notes(IEnumerable<Observation> heard, string name) =>
        [.. heard.Where(observation => observation.Kind == "note" && observation.Name == name).Select(observation => observation.Text!)];

    private static long Number(string text) => long.Parse(text, CultureInfo.InvariantCulture);

    [Fact]
    public void EveryKindOfFrameIsHeardAsItWasSent()
    {
        string counting = string.Concat(Enumerable.Range(0, 64).Select(value => value.ToString("X2", CultureInfo.InvariantCulture)));
        Assert.Equal(
            [
                ("0x185", "OwnHost", 3, "AABBCC"),
                ("0x18EEFF21", "OwnHost", 8, "1122334455667788"),
                ("0x705", "Remote, OwnHost", 4, ""),
                ("0x123", "Flexible, BitRateSwitch, OwnHost", 15, counting),
                ("0x7FF", "Flexible, OwnHost", 9, new string('0', 24)),
                ("0x000", "OwnHost", 0, ""),
            ],
            Frames(run.Of("traffic")).Where(frame => frame.Id != "0x7FE").Select(frame => (frame.Id!, frame.Flags!, frame.Code, frame.Data!)));
    }

    [Fact]
    public void StampsLieBetweenTheSendersClockReadings()
    {
        IReadOnlyList<Observation> heard = run.Of("traffic");
        Observation[] sent = [.. Frames(heard).Where(frame => frame.Id != "0x7FE")];
        long before = Number(Notes(heard, "before").Single());
        long after = Number(Notes(heard, "after").Single());
        Assert.NotEmpty(sent);

        // The guest's clock readings have a resolution of 100 ns.
        Assert.All(sent, frame => Assert.InRange(frame.Time, before - 100, after));
    }

    [Theory]
    [InlineData("traffic")]
    [InlineData("appearing")]
    [InlineData("overflow")]
    [InlineData("queue")]
    [InlineData("adapter")]
    [InlineData("clock")]
    public void TimesNeverRunBackwards(string step)
    {
        Observation[] frames = [.. run.Of(step).Where(observation => observation.Kind == "frame")];
        Assert.True(frames.Length > 1);
        Assert.All(frames.Zip(frames.Skip(1)), pair => Assert.True(pair.First.Time <= pair.Second.Time));
    }

    [Theory]
    [InlineData("traffic")]
    [InlineData("appearing")]
    [InlineData("overflow")]
    [InlineData("queue")]
    [InlineData("adapter")]
    [InlineData("clock")]
    public void NoMessageOfTheKernelIsUnreadable(string step)
    {
        Assert.NotEmpty(run.Of(step));
        Assert.Empty(NotSeen(run.Of(step), "DamagedRecords"));
    }

    [Fact]
    public void InterfaceThatDoesNotExistYetIsToldAndReadWhenItAppears()
    {
        IReadOnlyList<Observation> heard = run.Of("appearing");
        long down = Number(Notes(heard, "down").Single());
        Observation[] told = [.. NotSeen(heard, "InterfaceDown").Where(span => span.Interface == 1)];
        Assert.Equal("the interface does not exist", told[0].Text);
        Assert.Contains(Frames(heard, 1), frame => frame.Time < down);
    }

    [Fact]
    public void InterfaceThatWentDownIsToldAndReadAgain()
    {
        IReadOnlyList<Observation> heard = run.Of("appearing");
        long down = Number(Notes(heard, "down").Single());
        long up = Number(Notes(heard, "up").Single());
        Assert.Contains(
            NotSeen(heard, "InterfaceDown"),
            span => span.Interface == 1 && span.Text == "the interface is down" && span.Time >= down && span.End <= up);
        Assert.Contains(Frames(heard, 1), frame => frame.Time > down && frame.Time <= up);
    }

    [Fact]
    public void InterfaceThatWasUnpluggedIsReadAgainUnderItsName()
    {
        IReadOnlyList<Observation> heard = run.Of("appearing");
        Observation removed = NotSeen(heard, "InterfaceDown").First(span => span.Text == "the interface was removed");
        Assert.Contains(Frames(heard, 1), frame => frame.Time > removed.End);
    }

    [Fact]
    public void EveryMomentOfAnInterfaceIsEitherReadOrTold()
    {
        Observation[] spans = [.. NotSeen(run.Of("appearing"), "InterfaceDown").Where(span => span.Interface == 1)];
        Observation[] frames = Frames(run.Of("appearing"), 1);
        Assert.All(spans.Zip(spans.Skip(1)), pair => Assert.True(pair.First.End <= pair.Second.Time));
        Assert.All(frames, frame => Assert.DoesNotContain(spans, span => span.Time < frame.Time && frame.Time < span.End));

        // Between two spans with a gap the interface was being read; that happened twice: before it went down and before it was removed.
        Assert.Equal(2, spans.Zip(spans.Skip(1)).Count(pair => pair.First.End < pair.Second.Time));
    }

    [Fact]
    public void OneInterfaceGoneDoesNotStopTheOther()
    {
        IReadOnlyList<Observation> heard = run.Of("appearing");
        Assert.DoesNotContain(NotSeen(heard, "InterfaceDown"), span => span.Interface == 0);
        Observation removed = NotSeen(heard, "InterfaceDown").First(span => span.Text == "the interface was removed");
        Assert.Contains(Frames(heard), frame => frame.Time > removed.End);
    }

    [Fact]
    public void FramesThatTheKernelDroppedAreCountedToTheLast()
    {
        IReadOnlyList<Observation> heard = run.Of("overflow");
        Observation[] dropped = NotSeen(heard, "KernelDropped");
        int sent = BusSteps.Burst + Notes(heard, "probe").Length;
        int arrived = Frames(heard).Count(frame => frame.Id is "0x321" or "0x322");
        Assert.NotEmpty(dropped);
        Assert.Contains(Frames(heard), frame => frame.Id == "0x7FD");
        Assert.Equal(sent, arrived + dropped.Sum(span => span.Count));
        Assert.All(dropped, span => Assert.True(span.Time < span.End));

        // No frame lies inside the span in which frames were lost.
        Assert.All(dropped, span => Assert.DoesNotContain(Frames(heard), frame => frame.Time > span.Time && frame.Time < span.End));
    }

    [Fact]
    public void FramesThatOurQueueDroppedAreCountedToTheLast()
    {
        IReadOnlyList<Observation> heard = run.Of("queue");
        long sent = Notes(heard, "sent").Sum(Number);
        long lost = NotSeen(heard, "QueueDropped").Concat(NotSeen(heard, "KernelDropped")).Sum(span => span.Count);
        Assert.True(lost > 0);
        Assert.Contains(Frames(heard), frame => frame.Id == "0x7FD");
        Assert.Equal(sent, Frames(heard).Count(frame => frame.Id == "0x322") + lost);
        Assert.Equal(heard.Single(observation => observation.Kind == "queue").Count, NotSeen(heard, "QueueDropped").Sum(span => span.Count));
    }

    [Fact]
    public void FramesOfTheAdapterAreHeard() =>
        Assert.Equal(
            [("0x123", "None", 2, "AABB"), ("0x1ABCDEF0", "None", 3, "010203"), ("0x123", "Remote", 4, ""), ("0x000", "None", 0, "")],
            Frames(run.Of("adapter")).Where(frame => frame.Classes == 0).Select(frame => (frame.Id!, frame.Flags!, frame.Code, frame.Data!)));

    [Fact]
    public void ErrorMessagesArriveAsTheKernelMadeThem() =>
        Assert.Equal(
            [
                // Controller and counters: receive warning, TEC 10, REC 96; receive passive, REC 128; back to active.
                (0x204u, "0004000000000A60"),
                (0x204u, "0010000000000080"),
                (0x204u, "0040000000000000"),

                // Bus error, protocol, no acknowledge at the acknowledge slot.
                (0x0A8u, "0000001900000000"),

                // Bus error, protocol: recessive bit seen dominant, and stuff.
                (0x088u, "0000140000000000"),

                // Bus error, protocol: bit unspecified, at the CRC sequence.
                (0x088u, "0000010800000000"),

                // Bus-off.
                (0x040u, "0000000000000000"),
            ],
            Frames(run.Of("adapter")).Where(frame => frame.Classes != 0).Select(frame => (frame.Classes, frame.Data!)));

    [Theory]
    [InlineData("sw096010", "ErrorWarning", "ERROR-WARNING", 1, 0, 0)]
    [InlineData("sp128000", "ErrorPassive", "ERROR-PASSIVE", 1, 1, 0)]
    [InlineData("sa000000", "ErrorActive", "ERROR-ACTIVE", 1, 1, 0)]
    [InlineData("sb000255", "BusOff", "BUS-OFF", 1, 1, 1)]
    public void StateAndItsCountsAgreeWithTheProgramIp(string message, string state, string stateOfIp, int warnings, int passives, int busOffs)
    {
        IReadOnlyList<Observation> heard = run.Of("adapter");
        using JsonDocument document = JsonDocument.Parse(Notes(heard, "ip " + message).Single());
        JsonElement link = document.RootElement.EnumerateArray().Single(element => element.TryGetProperty("ifname", out _));
        JsonElement info = link.GetProperty("linkinfo").GetProperty("info_data");
        JsonElement counts = link.GetProperty("linkinfo").GetProperty("info_xstats");
        JsonElement statistics = link.GetProperty("stats64");
        Assert.Equal(stateOfIp, info.GetProperty("state").GetString());
        string said = string.Create(
            CultureInfo.InvariantCulture,
            $"{state} bitrate {info.GetProperty("bittiming_bitrate").GetInt32()} warnings {counts.GetProperty("error_warning").GetInt32()} passives {counts.GetProperty("error_passive").GetInt32()} busoffs {counts.GetProperty("bus_off").GetInt32()} buserrors {counts.GetProperty("bus_error").GetInt32()} restarts {counts.GetProperty("restarts").GetInt32()} arbitration {counts.GetProperty("arbitration_lost").GetInt32()} tx {statistics.GetProperty("tx").GetProperty("packets").GetInt32()} rx {statistics.GetProperty("rx").GetProperty("packets").GetInt32()}");
        Assert.Equal(said, Notes(heard, "link " + message).Single());
        Assert.Equal(
            (warnings, passives, busOffs),
            (counts.GetProperty("error_warning").GetInt32(), counts.GetProperty("error_passive").GetInt32(), counts.GetProperty("bus_off").GetInt32()));
    }

    [Fact]
    public void BitRateStateAndListenOnlyAreReadFromTheKernel()
    {
        Assert.Contains(run.Of("adapter"), facts => facts is { Kind: "interface", BitRate: 125_000, State: "ErrorActive" });
        Assert.Contains(run.Of("adapter"), facts => facts is { Kind: "interface", State: "BusOff" });
        Assert.Contains(run.Of("listen-only"), facts => facts is { Kind: "interface", BitRate: 125_000, ListenOnly: true });
        Assert.Contains(Frames(run.Of("listen-only")), frame => frame is { Id: "0x185", Data: "FF" });
    }

    [Fact]
    public void NothingWasTransmitted()
    {
        // To the adapter the kernel says C (close), S4 (125 kbit/s), O (open), L (open to listen only); a frame would begin with t, T, r or R.
        string[] commands = Notes(run.Of("adapter"), "command");
        Assert.Contains("O", commands);
        Assert.Contains("L", commands);
        Assert.All(commands, command => Assert.Contains(command, new[] { "C", "S4", "O", "L" }));
        Assert.Equal("0", Notes(run.Of("adapter"), "transmitted").Single());
    }

    [Fact]
    public void ClockThatIsSetIsToldAndTimesRunOn()
    {
        IReadOnlyList<Observation> heard = run.Of("clock");
        Observation[] steps = NotSeen(heard, "ClockStep");
        Assert.Equal(2, steps.Length);
        Assert.Contains("set forward by", steps[0].Text, StringComparison.Ordinal);
        Assert.Contains("set back by", steps[1].Text, StringComparison.Ordinal);
        long[] times = [.. new[] { "0x001", "0x002", "0x003" }.Select(id => Frames(heard).Single(frame => frame.Id == id).Time)];

        // The clock was set by an hour each time; all of it took less than a minute.
        Assert.InRange(times[1] - times[0], 0, 60_000_000_000);
        Assert.InRange(times[2] - times[1], 0, 60_000_000_000);
    }
}
