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
}
