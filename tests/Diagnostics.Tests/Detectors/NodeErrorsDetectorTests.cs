using System.Text.Json;
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
        Assert.Equal("warning", Severity(errors));
        Assert.Equal("cable-intermittent", TopCause(errors));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "node.errors");
        Assert.True(replayed.Node(9).GetProperty("errorsOnItsFrames").GetInt64() >= 4);
    }

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
    public void AQuarterOfAllFramesLostDoesNotMoveTheAccusationToAnother()
    {
        Replayed replayed = Of(Library(new BadDrop(9, 1e-3) { Start = Begin }, new LostFrames(0.25)), Minutes(14));
        Assert.Single(replayed.Findings, finding => finding.GetProperty("finding").GetString() == "node.errors");
        Assert.True(replayed.Has("node.errors", 9));
    }
}
