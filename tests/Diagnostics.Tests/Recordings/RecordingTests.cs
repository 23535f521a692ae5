using System.Globalization;
using System.Text.Json;
using Diagnostics.Tests.Detectors;
using Diagnostics.Tests.Protocols.CanOpen;

namespace Diagnostics.Tests.Recordings;

/// <summary>
/// Real traffic through the command. What must come out is each recording's own known truth: the README of the recordings and the lines that begin with # in
/// the error-frame files. Skipped where the recordings aren't beside the checkout.
/// </summary>
public class RecordingTests
{
    private static readonly string[] SmallBus =
        ["0x1f201e0e.pcapng", "July12_lights2.pcapng", "cJSM+lJSM+dualcan.pcapng", "multiple_failed_tries_to_powerup.pcapng", "power_bluetooth_powerdownJuly7th.pcapng"];

    private static string[] Lines(params string[] path) => [.. RecordedFiles.Lines(path).Where(line => !line.StartsWith('#'))];

    private static Replayed ErrorFrames(string file, params string[] options) => Replayed.OfText(string.Join('\n', Lines("error-frames", file)) + "\n", options);

    /// <summary>A display without time stamps, given stamps a tenth of a second apart.</summary>
    private static Replayed Stamped(string file)
    {
        IEnumerable<string> log = Lines("error-frames", file).Select((line, i) =>
            string.Create(CultureInfo.InvariantCulture, $"({1_700_000_000 + (i / 10.0):0.000000}) can0 {TextFrames.FromDisplay(line)}"));
        return Replayed.OfText(string.Join('\n', log) + "\n");
    }

    private static Replayed SmallBusFile(string file) => Replayed.OfFile(RecordedFiles.Find("small-bus-125k", file));

    private static int Number(JsonElement bus, string member) => bus.GetProperty(member).GetInt32();

    private static int Errors(Replayed replayed, string kind) => replayed.Bus.GetProperty("errors").GetProperty(kind).GetInt32();

    [Fact]
    public void NowhereIsADuplicateAddress()
    {
        Assert.All(SmallBus, file => Assert.False(SmallBusFile(file).Has("node.duplicate-address"), file));
        string[] errorFrames =
        [
            "empty_controller_problem.log", "hw_timestamp_jump.log", "rx_error_counter_series.log", "rx_warning_passive_fd.log", "same_id_twice_driver_bug.host.log",
            "same_id_twice_driver_bug.second_recorder.log", "tx_bit_errors_to_passive.log", "unplug_ack_node_mcp2518fd.log", "warning_passive_busoff.log",
        ];
        Assert.All(errorFrames, file => Assert.False(ErrorFrames(file).Has("node.duplicate-address"), file));
        Assert.False(Replayed.OfText(string.Join('\n', Lines("canopen-annotated", "node4_sequence.log")) + "\n").Has("node.duplicate-address"));
    }

    [Fact]
    public void TwoUnitsThatUseOneIdentifierInTurnAreAReplacementAndNotTogether()
    {
        // ID 00E every 50 ms; one unit leaves, another comes, the first returns.
        Replayed replayed = SmallBusFile("0x1f201e0e.pcapng");
        Assert.False(replayed.Has("node.duplicate-address"));
        Assert.Equal(0.05, replayed.Bus.GetProperty("identifiers").EnumerateArray().Single(identifier => identifier.GetProperty("id").GetString() == "0x00E").GetProperty("periodSeconds").GetDouble(), 0.002);

        // While no unit is there, nobody sends; the bus isn't CANopen, so no node is named.
        Assert.Equal(["bus.no-traffic"], replayed.Kinds);
        Assert.True(Replayed.HasEnded(replayed.The("bus.no-traffic")));
        Assert.Empty(replayed.Bus.GetProperty("nodes").EnumerateArray());
    }

    [Fact]
    public void TwoInterfacesOfOneFileAreKeptApart()
    {
        JsonElement[] buses = [.. SmallBusFile("cJSM+lJSM+dualcan.pcapng").Report.GetProperty("buses").EnumerateArray()];
        Assert.Equal(["can0", "can1"], buses.Select(bus => bus.GetProperty("interface").GetString()));
        Assert.All(buses, bus => Assert.Equal(Number(bus, "frames"), bus.GetProperty("identifiers").EnumerateArray().Sum(identifier => Number(identifier, "frames"))));
        Assert.All(buses, bus => Assert.True(Number(bus, "frames") > 2000));
        Assert.Equal(0, Number(buses[1], "remoteFrames"));
        Assert.NotEqual(0, Number(buses[0], "remoteFrames"));
    }

    [Fact]
    public void FourTriesToPowerUpHaveSilencesBetween()
    {
        // Three silences of 31 s, 72 s and 3 min; at the first of them hardly anything had been heard often enough to have a habit.
        Replayed replayed = SmallBusFile("multiple_failed_tries_to_powerup.pcapng");
        JsonElement quiet = replayed.The("bus.no-traffic");
        Assert.InRange(quiet.GetProperty("count").GetInt32(), 2, 3);
        Assert.True(Replayed.HasEnded(quiet));
        Assert.Equal(["bus.no-traffic"], replayed.Kinds);
    }

    [Fact]
    public void GarbageInUnusedBytesMakesNoFlexibleFramesAndNoFinding()
    {
        Replayed replayed = SmallBusFile("power_bluetooth_powerdownJuly7th.pcapng");
        Assert.Equal(23_171, Number(replayed.Bus, "frames"));
        Assert.Equal(0, replayed.Report.GetProperty("source").GetProperty("notSeen").GetProperty("damagedRecords").GetInt32());
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void TheAnnotatedTestReportIsListedAsItsReadmeSays()
    {
        // Order real, stamps synthetic: nothing about timing is judged on it.
        Replayed replayed = Replayed.OfText(string.Join('\n', Lines("canopen-annotated", "node4_sequence.log")) + "\n");
        Assert.Equal("canopen", replayed.Bus.GetProperty("protocol").GetString());
        Assert.Equal(17_466, Number(replayed.Bus, "frames"));
        Assert.Equal([1, 2, 3, 4, 5, 6, 7, 8, 9, 71], replayed.Bus.GetProperty("nodes").EnumerateArray().Select(node => Number(node, "address")));

        // 56 boot-ups of node 4, the first of which makes it known; nobody else ever starts.
        Assert.Equal(55, Number(replayed.Node(4), "restarts"));
        Assert.All([1, 2, 3, 5, 6, 7, 8, 9, 71], node => Assert.Equal(0, Number(replayed.Node(node), "restarts")));
        Assert.False(replayed.Has("node.restarted"));

        // 281 emergency messages of node 4 and one of 081.
        JsonElement says = replayed.The("node.reports-fault", 4);

        // The first is 8210h at 5.968 s; the last word, at 7.982 s, is 0000h: no error (CiA 301).
        Assert.Matches("first .*\\(code 8210h\\), at last .*\\(code 8130h\\)", says.GetProperty("summary").GetString()!);
        Assert.EndsWith(":05.968Z", says.GetProperty("start").GetString(), StringComparison.Ordinal);
        Assert.EndsWith(":07.982Z", says.GetProperty("end").GetString(), StringComparison.Ordinal);
        Assert.True(replayed.Has("node.reports-fault", 1));
    }

    [Fact]
    public void WarningPassiveBusOffComeInThatOrder()
    {
        Replayed replayed = ErrorFrames("warning_passive_busoff.log");
        Assert.Equal("bus-off", replayed.Bus.GetProperty("controllerState").GetString());
        Assert.Equal(1, Number(replayed.Bus, "busOff"));
        Assert.EndsWith(".756589Z", replayed.The("bus.error-passive").GetProperty("start").GetString(), StringComparison.Ordinal);
        Assert.EndsWith(".757308Z", replayed.The("bus.off").GetProperty("start").GetString(), StringComparison.Ordinal);
        Assert.Equal(JsonValueKind.Null, replayed.Bus.GetProperty("transmitErrorCounter").ValueKind);
    }

    [Fact]
    public void CountersCountWithoutTheirFlag()
    {
        // Receive counter 1 to 5, three good frames lower it, one more error: 3. The flag 0x200 is not set (kernels before 6.0).
        Replayed replayed = ErrorFrames("rx_error_counter_series.log");
        Assert.Equal(3, Number(replayed.Bus, "receiveErrorCounter"));
        Assert.Equal(6, Number(replayed.Bus, "errorMessages"));
        Assert.Empty(replayed.Findings);
    }

    [Fact]
    public void SixTransmitErrorsTakeOurControllerToPassive()
    {
        Replayed replayed = ErrorFrames("tx_bit_errors_to_passive.log");
        Assert.Equal(6, Errors(replayed, "bit"));
        Assert.Equal(128, Number(replayed.Bus, "transmitErrorCounter"));
        Assert.Equal(["bus.error-passive"], replayed.Kinds);
    }

    [Fact]
    public void CountersOfATextWithStampsGivenAreRead()
    {
        // Transmit warning at 96, passive at 136, then bus-off without counters.
        Replayed replayed = Stamped("tx_warning_passive_busoff_with_counters.txt");
        Assert.Equal(136, Number(replayed.Bus, "transmitErrorCounter"));
        Assert.Equal(1, Number(replayed.Bus, "busOff"));
        Assert.Equal(["bus.error-passive", "bus.off"], replayed.Kinds.Order());
    }

    [Fact]
    public void AReceiverThatGoesPassiveAfterAWarningIsSaid() =>
        Assert.Equal("error-passive", ErrorFrames("rx_warning_passive_fd.log").Bus.GetProperty("controllerState").GetString());

    [Theory]
    [InlineData("rx_overflow.txt")]
    [InlineData("tx_warning_passive_busoff_with_counters.txt")]
    [InlineData("link_state_contradictions.txt")]
    public void ATextWithoutTimeStampsIsRefused(string file)
    {
        Replayed replayed = ErrorFrames(file);
        Assert.Equal(2, replayed.ExitCode);
        Assert.Single(replayed.Error.TrimEnd('\n').Split('\n'));
    }

    [Fact]
    public void ReceiveOverflowsAreOurOwnLosses()
    {
        Replayed replayed = Stamped("rx_overflow.txt");
        Assert.Equal(2, replayed.Report.GetProperty("source").GetProperty("notSeen").GetProperty("kernelDropped").GetInt32());
        Assert.Equal(0, Errors(replayed, "other"));
    }

    [Fact]
    public void FramesThatNobodyAcknowledgesAreASenderAlone()
    {
        Replayed replayed = ErrorFrames("unplug_ack_node_mcp2518fd.log");
        Assert.Equal(["bus.no-acknowledge"], replayed.Kinds);
        Assert.Equal("0x222", replayed.The("bus.no-acknowledge").GetProperty("id").GetString());
        Assert.Equal((6, 1), (Errors(replayed, "form"), Errors(replayed, "other")));

        // The first of the six errors.
        Assert.EndsWith("09:05:02.094878Z", replayed.The("bus.no-acknowledge").GetProperty("start").GetString(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("same_id_twice_driver_bug.host.log")]
    [InlineData("same_id_twice_driver_bug.second_recorder.log")]
    public void OneIdentifierTwiceWithTwoPayloadsThroughADriverIsNoDuplicate(string file) => Assert.Empty(ErrorFrames(file).Findings);

    [Fact]
    public void AClockThatJumpsIsNoSilence()
    {
        Replayed replayed = ErrorFrames("hw_timestamp_jump.log");
        Assert.Empty(replayed.Accusations);
        Assert.Equal(3, Number(replayed.Bus, "frames"));
        Assert.Contains("2.801 s", replayed.Report.GetProperty("source").GetProperty("notSeen").GetProperty("gaps")[0].GetProperty("why").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void AControllerProblemWithoutDetailIsNone() => Assert.Empty(ErrorFrames("empty_controller_problem.log").Findings);
}
