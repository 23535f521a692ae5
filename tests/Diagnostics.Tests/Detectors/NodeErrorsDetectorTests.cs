using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Findings;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class NodeErrorsDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    [Fact]
    public void ErrorsOnOneModulesFramesPointToItsDrop()
    {
        Replayed replayed = Of(Library(new BadDrop(9, 1e-3) { Start = Begin }), Minutes(12));
        JsonElement errors = replayed.The("node.errors", 9);
        Assert.Equal("fault", Severity(errors));
        Assert.Equal("cable-intermittent", TopCause(errors));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "node.errors");
        Assert.True(replayed.Node(9).GetProperty("errorsOnItsFrames").GetInt64() >= 4);
        Assert.Contains(" damaged ones are its own, while it ma", errors.GetProperty("summary").GetString(), StringComparison.Ordinal);
    }

    /// <summary>
    /// What a reader is told of these counts (errors come in disturbances; those of nodes are disturbances; of each disturbance at most one frame is damaged),
    /// on a wire whose errors nobody counted this way. No source: these are our own counts.
    /// </summary>
    [Fact]
    public void ErrorsDisturbancesAndDamagedFramesOfOneTroubleBelongTogetherAsThePageSays()
    {
        Replayed replayed = Of(Library(new BadDrop(9, 5e-3) { Start = Begin }), Minutes(12));
        long errors = replayed.Bus.GetProperty("errors").EnumerateObject().Sum(kind => kind.Value.GetInt64());
        long disturbances = replayed.Bus.GetProperty("errorEpisodes").GetInt64();
        long ofNodes = replayed.Bus.GetProperty("nodes").EnumerateArray().Sum(node => node.GetProperty("errorsOnItsFrames").GetInt64());
        long damaged = replayed.The("node.errors", 9).GetProperty("measurements").EnumerateArray().First(each => each.GetProperty("name").GetString() == "spoiltFrames").GetProperty("value").GetInt64();
        Assert.True(errors > disturbances, $"{errors} errors, {disturbances} disturbances");
        Assert.InRange(ofNodes, 1, disturbances);
        Assert.InRange(damaged, 1, disturbances);
    }

    [Fact]
    public void TheErrorRateOfTheBusThatOneDropExplainsSaysSo()
    {
        JsonElement rate = Of(Library(new BadDrop(9, 1e-3) { Start = Begin }), Minutes(12)).The("bus.error-rate");
        Assert.Equal("node.errors/can0/node-9", rate.GetProperty("explainedBy").GetString());
        Assert.EndsWith("of them hit the frames of node 9: see there.", rate.GetProperty("summary").GetString(), StringComparison.Ordinal);
    }

    [Fact]
    public void NoiseThatHitsEverybodyIsExplainedByNoModule() =>
        Assert.Equal(JsonValueKind.Null, Of(Library(new BusNoise(3e-4) { Start = Begin }), Minutes(12)).The("bus.error-rate").GetProperty("explainedBy").ValueKind);

    [Fact]
    public void NoiseThatHitsEverybodyAccusesNobody() =>
        Assert.False(Of(Library(new BusNoise(3e-4) { Start = Begin }), Minutes(12)).Has("node.errors"));

    [Fact]
    public void TwoErrorsOfOneModuleMayBeChance()
    {
        Replayed replayed = Of(Library(
            new BadDrop(9, 0.02) { Start = Begin, End = Begin + Seconds(1) },
            new BadDrop(9, 0.02) { Start = Begin + Seconds(30), End = Begin + Seconds(31) }), Minutes(4));
        Assert.False(replayed.Has("node.errors"));
    }

    [Fact]
    public void ALooseContactInADropIsNamedAmongTheFramesThatItMakesOthersRefuse()
    {
        Replayed replayed = Of(Library(new IntermittentDrop(9) { Start = Begin }), Minutes(20));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "node.errors");
        Assert.True(replayed.Has("node.errors", 9));
    }

    [Theory]
    [InlineData(ProtocolViolations.Stuff, 5, true)]
    [InlineData(ProtocolViolations.Stuff, 4, false)]
    [InlineData(ProtocolViolations.Form, 40, false)]
    public void FramesThatCameSpoiltAccuseTheirSenderAndFramesThatWereRefusedDoNot(ProtocolViolations violation, int errors, bool expected)
    {
        (Bus bus, FindingBook book, _) = TestBus.Create();
        Instant time = TestBus.Start;
        for (int second = 0; second < 60; second++)
        {
            for (byte node = 1; node <= 20; node++)
            {
                time += TimeSpan.FromMilliseconds(20);
                if (node == 9 && second >= 10 && second < 10 + errors)
                {
                    bus.OnFrame(CanFrame.ErrorReport(time - TimeSpan.FromMilliseconds(1), (uint)(ErrorClasses.Protocol | ErrorClasses.BusError), [0, 0, (byte)violation, 0, 0, 0, 0, 0]));
                }

                bus.OnFrame(CanFrame.Classic(time, CanId.Base(0x700u + node), [5]));
            }

            time = TestBus.Start + TimeSpan.FromSeconds(second + 1);
            bus.OnSecond(time);
        }

        Assert.Equal(expected, book.IsOpen(Catalogue.NodeErrors, bus.Name, Subject.OfNode(9)));
        Assert.Equal(errors, bus.Node(9)!.Errors);
    }

    [Fact]
    public void AQuarterOfAllFramesLostDoesNotMoveTheAccusationToAnother()
    {
        Replayed replayed = Of(Library(new BadDrop(9, 1e-3) { Start = Begin }, new LostFrames(0.25)), Minutes(14));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "node.errors");
        Assert.True(replayed.Has("node.errors", 9));
    }
}
