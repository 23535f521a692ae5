using System.Text.Json;
using Diagnostics.KernelGuest;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>The built program on a real kernel: <c>listen</c> on a virtual bus and on an adapter with states and errors, through to its report page.</summary>
[Collection("kernel")]
public sealed class ListenTests(ListenTests.Listened listened) : IClassFixture<ListenTests.Listened>
{
    public sealed class Listened
    {
        private readonly Lazy<KernelRun> _run = new(() =>
            KernelRig.Run(TimeSpan.FromMinutes(4), KernelRig.Program("Diagnostics.KernelGuest") + $" program '{Path.Combine(AppContext.BaseDirectory, "diagnostics.dll")}'"));

        public KernelRun Run
        {
            get
            {
                if (KernelRig.SkipReason is { } reason)
                {
                    Assert.Skip(reason);
                }

                Assert.True(_run.Value.ExitCode == 0, _run.Value.Output);
                return _run.Value;
            }
        }

        public JsonElement Report(string file = "report.json") => JsonDocument.Parse(Run.Files[file]).RootElement;

        public JsonElement Bus(string name) => Report().GetProperty("buses").EnumerateArray().Single(bus => bus.GetProperty("interface").GetString() == name);

        public JsonElement Adapter => Report().GetProperty("buses").EnumerateArray().Single(bus => bus.GetProperty("interface").GetString() != "vcan0");
    }

    [Fact]
    public void HearsEveryKindOfFrame()
    {
        JsonElement bus = listened.Bus("vcan0");

        // Three frames in each round, heartbeats of one module after them, an extended, a remote and a flexible one; then those that came while the page was watched.
        Assert.Equal(ProgramSteps.FramesBefore + ProgramSteps.WatchedFrames + (ProgramSteps.WatchedFrames / 100), bus.GetProperty("frames").GetInt64());
        Assert.Equal(1, bus.GetProperty("remoteFrames").GetInt64());
        string?[] identifiers = [.. bus.GetProperty("identifiers").EnumerateArray().Select(identifier => identifier.GetProperty("id").GetString())];
        // In the order of arbitration: the leading 11 bits of 0x18EEFF21 are 0x63B.
        Assert.Equal(["0x123", "0x185", "0x18EEFF21", "0x705", "0x706"], identifiers);
    }

    [Fact]
    public void FindsTheModuleThatFellSilentAndKeepsTheOther()
    {
        // The guest may stall long enough to make both look silent for a moment, so only module 6 must be there.
        string?[] silent = [.. listened.Report().GetProperty("findings").EnumerateArray()
            .Where(finding => finding.GetProperty("finding").GetString() == "node.silent")
            .Select(finding => finding.GetProperty("key").GetString())];
        Assert.Contains("node.silent/vcan0/node-6", silent);
        JsonElement five = listened.Bus("vcan0").GetProperty("nodes").EnumerateArray().Single(node => node.GetProperty("address").GetInt32() == 5);
        Assert.Equal("operational", five.GetProperty("state").GetString());
    }

    [Fact]
    public void TellsTheAdaptersStateErrorsAndModeAsTheKernelGivesThem()
    {
        JsonElement bus = listened.Adapter;
        Assert.Equal(125_000, bus.GetProperty("bitRate").GetInt32());
        Assert.True(bus.GetProperty("listenOnly").GetBoolean());
        Assert.Equal("bus-off", bus.GetProperty("controllerState").GetString());
        Assert.Equal(1, bus.GetProperty("busOff").GetInt64());
        JsonElement errors = bus.GetProperty("errors");

        // e1a: acknowledge missing; e2Bs: bit and stuff error in one message (linux/drivers/net/can/slcan).
        Assert.Equal((1, 1, 1), (errors.GetProperty("ack").GetInt64(), errors.GetProperty("bit").GetInt64(), errors.GetProperty("stuff").GetInt64()));
    }

    /// <summary>Two hundred readers want the live stream of the page: a real CAN socket loses nothing meanwhile.</summary>
    [Fact]
    public void NoFrameIsLostWhileTwoHundredWantTheLiveStream()
    {
        JsonElement report = listened.Report("report-streams.json");
        JsonElement bus = report.GetProperty("buses").EnumerateArray().Single(bus => bus.GetProperty("interface").GetString() == "vcan0");
        Assert.Equal(ProgramSteps.FramesBefore + ProgramSteps.WatchedFrames + (ProgramSteps.WatchedFrames / 100), bus.GetProperty("frames").GetInt64());
        JsonElement notSeen = report.GetProperty("source").GetProperty("notSeen");
        Assert.Equal((0, 0), (notSeen.GetProperty("kernelDropped").GetInt64(), notSeen.GetProperty("queueDropped").GetInt64()));
    }

    [Fact]
    public void AnInterfaceThatGoesDownIsToldAsNotSeen()
    {
        string?[] reasons = [.. listened.Report("report-down.json").GetProperty("source").GetProperty("notSeen").GetProperty("gaps").EnumerateArray().Select(gap => gap.GetProperty("why").GetString())];
        Assert.Contains(reasons, reason => reason!.Contains("is down", StringComparison.Ordinal));
    }

    [Fact]
    public void NothingIsTransmitted()
    {
        Assert.DoesNotContain(listened.Run.Files["adapter-commands"].Split('\n'), command => command.Length > 0 && "tTrR".Contains(command[0], StringComparison.Ordinal));
        Assert.Equal("0", listened.Run.Files["transmitted"]);
    }

    [Fact]
    public void ServesItsPageAndEndsOnRequest()
    {
        Assert.Contains("node 6", listened.Run.Files["page.html"], StringComparison.Ordinal);
        Assert.Equal("0", listened.Run.Files["listen-exit"]);
    }
}
