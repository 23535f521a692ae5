using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

/// <summary>Real traffic; the frame counts were established by counting lines, and for the captures with an independent capture tool.</summary>
public class RecordingTests
{
    public static TheoryData<string, string, int, int> Traces => new()
    {
        { "canopen-annotated/node4_sequence.log", "can0 17466", 17466, 0 },
        { "error-frames/empty_controller_problem.log", "can1 1", 0, 1 },
        { "error-frames/hw_timestamp_jump.log", "can0 3", 3, 0 },
        { "error-frames/rx_error_counter_series.log", "can4 9", 3, 6 },
        { "error-frames/rx_warning_passive_fd.log", "peakfd0 2", 0, 2 },
        { "error-frames/same_id_twice_driver_bug.host.log", "can0 18", 18, 0 },
        { "error-frames/same_id_twice_driver_bug.second_recorder.log", "can0 18", 18, 0 },
        { "error-frames/tx_bit_errors_to_passive.log", "can0 7", 0, 7 },
        { "error-frames/unplug_ack_node_mcp2518fd.log", "can0 17", 10, 7 },
        { "error-frames/warning_passive_busoff.log", "can0 23", 20, 3 },
        { "small-bus-125k/0x1f201e0e.pcapng", "can0 8408", 8408, 0 },
        { "small-bus-125k/July12_lights2.pcapng", "can0 9551", 9551, 0 },
        { "small-bus-125k/cJSM+lJSM+dualcan.pcapng", "can0 2385, can1 8375", 10760, 0 },
        { "small-bus-125k/multiple_failed_tries_to_powerup.pcapng", "can0 2449", 2449, 0 },
        { "small-bus-125k/power_bluetooth_powerdownJuly7th.pcapng", "can0 23171", 23171, 0 },
    };

    [Theory]
    [MemberData(nameof(Traces))]
    public void EveryFrameOfEveryInterfaceIsReadAndNoneIsFlexible(string file, string counts, int frames, int errorMessages)
    {
        CollectingSink sink = CaptureBytes.Read(RecordedFiles.Read(file), out TraceParser parser);
        Assert.Null(parser.Error);
        Assert.Equal((frames, errorMessages, 0), (parser.Frames, parser.ErrorMessages, parser.DamagedRecords));
        Assert.Equal(counts, string.Join(", ", sink.Interfaces.Select(found => found.Facts.Name + " " + sink.Frames.Count(frame => frame.Interface == found.Index))));
        Assert.DoesNotContain(sink.Frames, frame => frame.IsFlexible);
        Assert.Empty(sink.NotSeen);
    }

    [Theory]
    [MemberData(nameof(Traces))]
    public void SizeOfThePiecesMakesNoDifference(string file, string counts, int frames, int errorMessages)
    {
        Assert.NotEmpty(counts);
        byte[] bytes = RecordedFiles.Read(file);
        List<string> whole = CaptureBytes.Read(bytes, out _).Story;
        Assert.Equal(frames + errorMessages, whole.Count - whole.Count(row => row.StartsWith("interface", StringComparison.Ordinal)));
        foreach (int piece in (int[])[1, 7, 4096])
        {
            Assert.Equal(whole, CaptureBytes.Read(bytes, out _, piece).Story);
        }
    }

    [Theory]
    [InlineData("canopen-abb-cm588/abb_cm588_node10.candump.txt", TraceProblem.TextWithoutTimeStamps)]
    [InlineData("error-frames/rx_overflow.txt", TraceProblem.TextWithoutTimeStamps)]
    [InlineData("error-frames/tx_warning_passive_busoff_with_counters.txt", TraceProblem.TextWithoutTimeStamps)]
    [InlineData("error-frames/link_state_contradictions.txt", TraceProblem.NotATrace)]
    [InlineData("switch-bounce/edges.csv", TraceProblem.NotATrace)]
    [InlineData("switch-bounce/session_s1_dd6a3741.txt", TraceProblem.NotATrace)]
    public void TextThatIsNoTraceIsSaidToBeNone(string file, TraceProblem problem)
    {
        CollectingSink sink = CaptureBytes.Read(RecordedFiles.Read(file), out TraceParser parser);
        Assert.Equal(problem, parser.Error?.Problem);
        Assert.Empty(sink.Story);
    }

    [Theory]
    [MemberData(nameof(Traces))]
    public void TimeLineOfARecordingNeverRunsBackwardsAndLosesNothing(string file, string counts, int frames, int errorMessages)
    {
        Assert.NotEmpty(counts);
        CollectingSink sink = new();
        TimeLine line = new(sink);
        TraceParser parser = TraceParser.Create(line);
        parser.Feed(RecordedFiles.Read(file));
        Assert.True(parser.Complete());
        line.Complete();
        Assert.Equal(frames + errorMessages, sink.Frames.Count);
        for (int index = 1; index < sink.Frames.Count; index++)
        {
            Assert.True(sink.Frames[index].Time >= sink.Frames[index - 1].Time);
        }

        // Only one of them holds a step of the clock; the long silences of the power-up tries are real.
        Assert.Equal(file.Contains("hw_timestamp_jump", StringComparison.Ordinal) ? 1 : 0, sink.NotSeen.Count);
    }

    // Truth from the file's own head lines: the frames are consecutive, the second stamp is wrong.
    [Fact]
    public void JumpOfTheHardwareClockIsOneWrongStampAndNoSilence()
    {
        CollectingSink sink = new();
        TimeLine line = new(sink);
        TraceParser parser = TraceParser.Create(line);
        parser.Feed(RecordedFiles.Read("error-frames/hw_timestamp_jump.log"));
        parser.Complete();
        line.Complete();
        Assert.Equal([34_679_461_888_000, 34_679_461_888_000, 34_679_472_170_000], sink.Frames.Select(frame => frame.Time.Nanoseconds));
        Assert.Equal([0x70, 0x71, 0x72], sink.Frames.Select(frame => (int)frame.Data[0]));
        NotSeen step = Assert.Single(sink.NotSeen);
        Assert.Equal((NotSeenKind.ClockStep, 1L), (step.Kind, step.Count));
    }
}
