using System.Text.Json;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class StuckDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(15);

    private static Site Busy(params Fault[] faults) => Library(faults) with { People = new() { Activity = 10 } };

    [Fact]
    public void AButtonThatStaysPressedFarBeyondItsHabitIsFound()
    {
        JsonElement stuck = Of(Busy(new StuckInput(5, 1) { Start = Begin }), Minutes(22)).The("input.stuck", 5, 1);
        Assert.Equal("warning", Severity(stuck));
        Assert.Equal("button-held", TopCause(stuck));
        Assert.InRange(SecondsOf(stuck, "start"), 899, 901);
        Assert.InRange(SecondsOf(stuck, "raised"), 1199, 1203);
        Assert.False(HasEnded(stuck));
    }

    [Fact]
    public void ItsReleaseEndsIt() =>
        Assert.InRange(SecondsOf(Of(Busy(new StuckInput(5, 1) { Start = Begin, End = Minutes(21) }), Minutes(22)).The("input.stuck", 5, 1), "end"), 1259, 1261);

    [Fact]
    public void FourMinutesAreNone() =>
        Assert.False(Of(Busy(new StuckInput(5, 1) { Start = Begin, End = Begin + Minutes(4.8) }), Minutes(22)).Has("input.stuck"));

    [Fact]
    public void ASwitchThatIsOnIsNoneOfOurBusiness() =>
        Assert.False(Of(Busy(new StuckInput(7, 1) { Start = Begin }), Minutes(40)).Has("input.stuck"));

    [Fact]
    public void ADoorThatIsProppedOpenIsNoButton() =>
        Assert.False(Of(Busy(new StuckInput(11, 1) { Start = Begin }), Minutes(35)).Has("input.stuck"));

    [Fact]
    public void AnInputWithoutAHabitIsNotJudged() =>
        Assert.False(Of(Library(new StuckInput(14, 3) { Start = Minutes(1) }) with { People = new() { Activity = 0 } }, Minutes(12)).Has("input.stuck"));

    private static Replayed WithRecord(Site site, TimeSpan length)
    {
        string file = Path.GetTempFileName();
        try
        {
            File.WriteAllText(file, AsBuiltText.Write(site));
            return Of(site, length, null, "--site", file);
        }
        finally
        {
            File.Delete(file);
        }
    }

    [Fact]
    public void AnInputThatTheRecordCallsAPushButtonNeedsNoHabit()
    {
        Site site = Library(new StuckInput(14, 3) { Start = Minutes(1) }) with { People = new() { Activity = 0 } };
        JsonElement stuck = WithRecord(site, Minutes(7)).The("input.stuck", 14, 3);
        Assert.Contains("test button", stuck.GetProperty("summary").GetString(), StringComparison.Ordinal);
        Assert.InRange(SecondsOf(stuck, "raised"), 359, 363);
    }

    [Fact]
    public void AnInputThatTheRecordCallsASwitchMayRestActive() =>
        Assert.False(WithRecord(Library(new StuckInput(7, 1) { Start = Minutes(1) }) with { People = new() { Activity = 0 } }, Minutes(20)).Has("input.stuck"));

    [Fact]
    public void ItsReleaseMayHaveBeenAmongLostFrames()
    {
        // Nothing of that module but heartbeats is heard behind the loss, so nobody knows whether it is still pressed.
        Site site = Busy(new StuckInput(5, 1) { Start = Begin, End = Begin + Minutes(3) }) with { People = new() { Activity = 10, ClosesAtHour = 9.24 } };
        Replayed replayed = Of(site, Minutes(24), [(Begin + Minutes(2.9), Begin + Minutes(3.1))]);
        Assert.False(replayed.Has("input.stuck", 5, 1));
    }
}
