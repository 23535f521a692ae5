using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class TrafficDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    private static Report Listen(TimeSpan length, params NotSeen[] gaps)
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        analyzer.Advance(Morning);
        analyzer.OnInterface(0, new("can0") { BitRate = 125_000, ListenOnly = true });
        foreach (NotSeen gap in gaps)
        {
            analyzer.OnNotSeen(gap);
        }

        for (TimeSpan time = TimeSpan.Zero; time <= length; time += Seconds(1))
        {
            analyzer.Advance(Morning + time);
        }

        return analyzer.Snapshot();
    }

    [Fact]
    public void ABusThatGoesQuietAtOnceIsOneFindingAndNoModuleIsAccused()
    {
        Replayed replayed = Of(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(40) }), Minutes(4));
        JsonElement quiet = replayed.The("bus.no-traffic");
        Assert.Equal("fault", Severity(quiet));
        Assert.InRange(SecondsOf(quiet, "start"), 119, 120.1);
        Assert.InRange(SecondsOf(quiet, "end"), 160, 162.5);
        Assert.False(replayed.Has("node.silent"));
        Assert.Equal(["bus.no-traffic/can0/bus"], replayed.Accusations);
    }

    [Fact]
    public void AGuardedSiteWithoutAnythingElseIsMissedByItsGuarding()
    {
        Site site = WithModules(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(60) }), module => module with { HeartbeatMilliseconds = 0 })
            with { Controller = new() { GuardMilliseconds = 4000 }, People = new() { Activity = 0 } };
        JsonElement quiet = Of(site, Minutes(4)).The("bus.no-traffic");

        // One and a half times three and a half of its periods.
        Assert.InRange(SecondsOf(quiet, "raised") - SecondsOf(quiet, "start"), 21, 24);
    }

    [Fact]
    public void GuardingThatOnlyPausesForAShortWhileIsNoSilence()
    {
        Site site = WithModules(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(14) }), module => module with { HeartbeatMilliseconds = 0 })
            with { Controller = new() { GuardMilliseconds = 4000 }, People = new() { Activity = 0 } };
        Assert.False(Of(site, Minutes(4)).Has("bus.no-traffic"));
    }

    [Fact]
    public void ASilenceThatBeginsWithErrorsIsFoundToo()
    {
        // A short: what was just being sent is damaged, and then nobody gets through.
        Replayed replayed = Of(Library(new BusNoise(0.5) { Start = Begin - Seconds(1.2), End = Begin + Seconds(0.1) }, new SiteWithoutPower { Start = Begin, End = Begin + Seconds(60) }), Minutes(4));
        Assert.True(replayed.Bus.GetProperty("errorMessages").GetInt32() > 0);
        Assert.InRange(SecondsOf(replayed.The("bus.no-traffic"), "start"), 117, 119);
    }

    [Fact]
    public void AnOnChangeBusWithNobodyThereIsNotCalledDead()
    {
        Site site = WithModules(Library(), module => module with { HeartbeatMilliseconds = 0 });
        Replayed replayed = Of(site with { People = new() { Activity = 4, ClosesAtHour = 9.25 } }, Minutes(60));
        Assert.Empty(replayed.Accusations);
    }

    /// <summary>Without heartbeats the bus may not be known as CANopen before its first download, which is over in seconds.</summary>
    [Fact]
    public void ADownloadOnABusThatRestsOtherwiseLeavesNoHabit()
    {
        Site site = RandomSite.Create(2_800_405) with { Start = Morning, Faults = [new FirmwareDownload(65) { Start = Begin }] };
        Replayed replayed = Of(site, Minutes(8));
        Assert.True(replayed.Bus.GetProperty("frames").GetInt64() > 1000);
        Assert.Empty(replayed.Accusations);
    }

    [Fact]
    public void APauseThatLossesExplainIsNone()
    {
        Replayed replayed = Of(Library(), Minutes(4), [(Begin, Begin + Seconds(30))]);
        Assert.Equal(["bus.not-seen"], replayed.Kinds);
    }

    [Fact]
    public void APauseBelowTheLimitOfItsFastestHeartbeatIsNone()
    {
        // The fastest cyclic sender has 1 s: its silence is noticed after 3.5 s, the bus's after 5.25 s.
        Replayed replayed = Of(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(4) }), Minutes(4));
        Assert.False(replayed.Has("bus.no-traffic"));
    }

    [Fact]
    public void NothingAtAllIsSaidAfterTenSeconds()
    {
        Assert.Empty(Listen(Seconds(10)).Findings);
        FindingReport never = Assert.Single(Listen(Seconds(12)).Findings);
        Assert.Equal("bus.no-traffic", never.Finding);
        Assert.Equal(Morning, never.Start);
    }

    [Fact]
    public void NothingAtAllIsCountedFromWhereTheInterfaceCameUp()
    {
        NotSeen down = new(NotSeenKind.InterfaceDown, 0, Morning, Morning + Seconds(60), 0, "the interface was down");
        Assert.DoesNotContain(Listen(Seconds(69), down).Findings, finding => finding.Finding == "bus.no-traffic");
        Assert.Contains(Listen(Seconds(73), down).Findings, finding => finding.Finding == "bus.no-traffic");
    }

    [Fact]
    public void OurOwnClipIsLookedAtBeforeTheSite()
    {
        Report report = Listen(Seconds(30));
        CauseReport first = Assert.Single(report.Findings).Causes[0];
        Assert.Equal("adapter-limit", first.Cause);
        Assert.StartsWith("Is the clip still on?", first.NextCheck, StringComparison.Ordinal);
    }

    [Fact]
    public void ModulesThatStartAnewClearOurClipOfTheSilenceBefore() =>
        Assert.Equal("supply-weak", TopCause(Of(Library(new SiteWithoutPower { Start = Begin, End = Begin + Seconds(40) }), Minutes(4)).The("bus.no-traffic")));
}
