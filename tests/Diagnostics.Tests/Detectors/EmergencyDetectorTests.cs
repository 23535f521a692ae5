using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class EmergencyDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(40);

    private static readonly TimeSpan End = Begin + Seconds(20);

    [Fact]
    public void AnEmergencyMessageIsTheModulesOwnWord()
    {
        // 2310h: current at the output (class 2xxxh, current; CiA 301).
        JsonElement says = Of(Library(new EmergencyReport(6) { Start = Begin }), Seconds(70)).The("node.reports-fault", 6);
        Assert.Equal("fault", Severity(says));
        Assert.Contains("2310h", says.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.False(HasEnded(says));
    }

    [Fact]
    public void ACommunicationErrorIsAWarning() =>
        Assert.Equal("warning", Severity(Of(Library(new EmergencyReport(6, 0x8110, 0x11) { Start = Begin }), Seconds(60)).The("node.reports-fault", 6)));

    [Fact]
    public void NoErrorEndsIt() =>
        Assert.InRange(SecondsOf(Of(Library(new EmergencyReport(6) { Start = Begin, End = End }), Seconds(90)).The("node.reports-fault", 6), "end"), 60, 61);

    /// <summary>CiA 301: error code 0000h is "error reset or no error". A minute's delay, as for other alarms that chatter, would go against the device's own word.</summary>
    [Fact]
    public void NoErrorEndsItAtOnceThoughItCameBackJustBefore()
    {
        static Fault Again(double second) => new EmergencyReport(6) { Start = Begin + Seconds(second), End = Begin + Seconds(second + 2) };
        Replayed over = Of(Library(Again(0), Again(5), Again(10)), Seconds(55));
        JsonElement says = over.The("node.reports-fault", 6);
        Assert.InRange(SecondsOf(says, "end"), 52, 53);
        Assert.Contains("reported a fault", says.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.Equal(2, says.GetProperty("count").GetInt32());
        Assert.False(HasEnded(Of(Library(Again(0), Again(5), new EmergencyReport(6) { Start = Begin + Seconds(10) }), Seconds(55)).The("node.reports-fault", 6)));
    }

    /// <summary>The start of a finding is that of its first episode, so its sentence names the code of that one, too.</summary>
    [Fact]
    public void TheCodeOfTheFirstEpisodeStandsBesideThatOfALaterOne()
    {
        JsonElement says = Of(Library(new EmergencyReport(6, 0x8210, 0x11) { Start = Begin, End = Begin + Seconds(2) }, new EmergencyReport(6, 0x8130, 0x11) { Start = Begin + Seconds(5) }), Seconds(70)).The("node.reports-fault", 6);
        Assert.Matches("first .*\\(code 8210h\\), lately .*\\(code 8130h\\)", says.GetProperty("summary").GetString()!);
        Assert.InRange(SecondsOf(says, "start"), 40, 41);
    }

    [Fact]
    public void NoErrorAloneIsNoReport() =>
        Assert.Empty(Of(Library(new EmergencyReport(6, 0, 0) { Start = Begin }), Seconds(60)).Findings);

    [Fact]
    public void WithTheResetLostARestartEndsIt()
    {
        Site site = Library(new EmergencyReport(6) { Start = Begin, End = End }, new CommandedReset(6) { Start = Begin + Seconds(60) });
        JsonElement says = Of(site, Seconds(120), [(End - Seconds(1), End + Seconds(1))]).The("node.reports-fault", 6);
        Assert.InRange(SecondsOf(says, "end"), 100, 102);
    }

    /// <summary>CiA 301: 8210h is a PDO of wrong length, 8130h a heartbeat that is missed; each stands with its own words, and the causes are those of the first.</summary>
    [Fact]
    public void OtherCodesBehindTheFirstDoNotTakeItsPlace()
    {
        JsonElement says = Of(Library(new EmergencyReport(6, 0x8210, 0x11) { Start = Begin }, new EmergencyReport(6, 0x8130, 0x11) { Start = Begin + Seconds(5) }), Seconds(70)).The("node.reports-fault", 6);
        Assert.Matches("first .*too short \\(code 8210h\\), lately .*missing \\(code 8130h\\)", says.GetProperty("summary").GetString()!);
        Assert.Equal("configuration-differs", says.GetProperty("causes")[0].GetProperty("cause").GetString());
        Assert.Equal(1, says.GetProperty("count").GetInt32());
    }

    /// <summary>CiA 301: 8140h is "recovered from bus-off"; bursts as in IEC 61000-4-4 hit everybody's frames, and one module after the other cuts itself off.</summary>
    [Fact]
    public void ModulesThatSayTheyWereBusOffWhileFramesOfAllAreDamagedSayNothingOfTheirOwn()
    {
        Replayed replayed = Of(Library(new BurstInterference(0.9) { Start = Begin, End = Begin + Minutes(5) }), Minutes(7));
        JsonElement[] says = [.. replayed.Findings.Where(finding => finding.GetProperty("finding").GetString() == "node.reports-fault")];
        Assert.True(says.Length >= 3, string.Join(", ", replayed.Accusations));
        JsonElement leader = replayed.The("bus.error-rate");
        Assert.All(says, each =>
        {
            Assert.Contains("8140h", each.GetProperty("summary").GetString(), StringComparison.Ordinal);
            Assert.Equal("bus.error-rate/can0/bus", each.GetProperty("explainedBy").GetString());
            Assert.Equal(leader.GetProperty("causes").ToString(), each.GetProperty("causes").ToString());
        });
    }

    [Fact]
    public void AModuleThatSaysItWasBusOffPointsToTheDamageOfItsOwnFrames()
    {
        Replayed replayed = Of(Library(new BadDrop(9, 5e-3) { Start = Begin }), Minutes(12));
        Assert.Equal("node.errors/can0/node-9", replayed.The("node.reports-fault", 9).GetProperty("explainedBy").GetString());
    }

    [Fact]
    public void WhereNoFrameIsDamagedThreeThatSayTheyWereBusOffStandForThemselves() =>
        Assert.All(Of(Library(Says(6), Says(7), Says(9)), Minutes(3)).Findings, each => Assert.Equal(JsonValueKind.Null, each.GetProperty("explainedBy").ValueKind));

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void TwoThatSayTheyWereBusOffStandForThemselvesAndThreeDoNot(bool third)
    {
        BusNoise noise = new(2e-5) { Start = Begin };
        Replayed replayed = Of(third ? Library(noise, Says(6), Says(7), Says(9)) : Library(noise, Says(6), Says(7)), Minutes(20));
        Assert.True(replayed.Has("bus.error-rate"));
        Assert.Equal(third ? "bus.error-rate/can0/bus" : null, replayed.The("node.reports-fault", 6).GetProperty("explainedBy").GetString());
    }

    /// <summary>Only "error-passive" and "bus-off" (8120h, 8140h; CiA 301) follow from damaged frames.</summary>
    [Fact]
    public void WhoSaysSomethingElseThenStandsForItselfAgainWithItsOwnCauses()
    {
        BusNoise noise = new(2e-5) { Start = Begin };
        Replayed replayed = Of(Library(noise, Says(6), Says(7), Says(9), new EmergencyReport(6, 0x3110, 0x05) { Start = Minutes(18) }), Minutes(20));
        JsonElement says = replayed.The("node.reports-fault", 6);
        Assert.Equal(JsonValueKind.Null, says.GetProperty("explainedBy").ValueKind);
        Assert.Equal("supply-weak", says.GetProperty("causes")[0].GetProperty("cause").GetString());
        Assert.Equal("bus.error-rate/can0/bus", replayed.The("node.reports-fault", 7).GetProperty("explainedBy").GetString());
    }

    /// <summary>Late enough that errors have been found by then.</summary>
    private static EmergencyReport Says(int node) => new(node, 0x8140, 0x11) { Start = Minutes(15) };
}
