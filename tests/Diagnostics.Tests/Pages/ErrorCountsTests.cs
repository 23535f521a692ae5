using Diagnostics.Agent.Pages;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Tests.Pages;

/// <summary>One trouble, counted as errors, as disturbances and as damaged frames: each sentence is true only of how Core counts. No source: these are our own words.</summary>
public class ErrorCountsTests
{
    private const string DamagedFrames = " A disturbance counts as one damaged frame, or as none where its frame came whole and a receiver refused it.";

    private static BusReport Bus(long errors, long? disturbances, params long[] ofNodes)
    {
        BusReport bus = SampleReports.Quiet().Buses[0];
        return bus with
        {
            Errors = new(errors, 0, 0, 0, 0, 0),
            ErrorEpisodes = disturbances,
            Nodes = [.. ofNodes.Select((count, index) => bus.Nodes[0] with { Address = index + 1, ErrorsOnItsFrames = count })],
        };
    }

    private static Report With(BusReport bus, params string[] findings) => SampleReports.Quiet() with
    {
        Buses = [bus],
        Findings = [.. findings.Select(finding => SampleReports.Rich().Findings[0] with { Finding = finding, Key = finding })],
    };

    private static string Said(BusReport bus, params string[] findings) => ErrorCounts.OfBus(With(bus, findings), bus).English;

    [Theory]
    [InlineData(45, 6, "The 45 errors came in 6 disturbances: what follows within 50 ms belongs to the same one, because a frame that was hit is repeated at once.")]
    [InlineData(45, 1, "The 45 errors came in one disturbance: what follows within 50 ms belongs to it, because a frame that was hit is repeated at once.")]
    [InlineData(6, 6, "")]
    [InlineData(0, 0, "")]
    public void ErrorsAreTracedToTheDisturbancesThatTheyCameIn(long errors, long disturbances, string expected) => Assert.Equal(expected, Said(Bus(errors, disturbances, 0)));

    /// <summary>Beside a single number there is nothing to reconcile, and an older document doesn't say how many disturbances there were.</summary>
    [Fact]
    public void NothingIsSaidWhereOnlyOneCountIsShown()
    {
        Assert.Empty(Said(Bus(45, 6)));
        Assert.NotEmpty(Said(Bus(45, 6), "bus.error-rate"));
        Assert.NotEmpty(ErrorCounts.OfBus(With(Bus(45, 6)), Bus(45, 6), besideDisturbances: true).English);
        Assert.Empty(Said(Bus(45, null, 3)));
        Assert.Null(ErrorCounts.OfNodes(Bus(45, null, 3)));
        Assert.Null(ErrorCounts.OfNodes(Bus(0, 0, 0)));
    }

    [Fact]
    public void DamagedFramesAreToldOfOnlyWhereTheyAreCounted()
    {
        Assert.EndsWith(DamagedFrames, Said(Bus(45, 6, 6), "node.errors"), StringComparison.Ordinal);
        Assert.Equal(DamagedFrames.Trim(), Said(Bus(6, 6, 6), "node.errors"));
        Assert.DoesNotContain(DamagedFrames, Said(Bus(45, 6, 6), "bus.error-rate"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(6, 0, "Errors of a node are the disturbances that hit its frames. The 6 of this bus are laid to no node.")]
    [InlineData(1, 0, "Errors of a node are the disturbances that hit its frames. The one of this bus is laid to no node.")]
    [InlineData(6, 4, "Errors of a node are the disturbances that hit its frames: together 5 of the 6 of this bus. The others are laid to no node.")]
    [InlineData(6, 5, "Errors of a node are the disturbances that hit its frames; together they are the 6 of this bus.")]
    public void ErrorsOfNodesAddUpToDisturbances(long disturbances, long ofOne, string expected) =>
        Assert.Equal(expected, ErrorCounts.OfNodes(Bus(45, disturbances, ofOne, ofOne > 0 ? 1 : 0))!.English);

    [Fact]
    public void TheOnlyDisturbanceIsNotCalledMany() =>
        Assert.Equal("Errors of a node are the disturbances that hit its frames; here that is the only one of this bus.", ErrorCounts.OfNodes(Bus(2, 1, 1, 0))!.English);
}
