using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class ControllerStateDetectorTests
{
    private static readonly TimeSpan Begin = Seconds(30);

    private static Site TakingPart(params Fault[] faults) => Library(faults) with { Observer = new() { ListenOnly = false, ReportsCounters = true } };

    [Fact]
    public void OurControllerThatHearsNothingButErrorsGoesErrorPassive()
    {
        Replayed replayed = Of(TakingPart(new BusNoise(0.05) { Start = Begin, End = Begin + Seconds(5) }), Minutes(1));
        JsonElement passive = replayed.The("bus.error-passive");
        Assert.Equal("fault", Severity(passive));
        Assert.InRange(SecondsOf(passive, "start"), 30, 36);
    }

    [Fact]
    public void OurControllerInListenOnlyThatCallsItselfPassiveIsNone()
    {
        Site site = Library(new BusNoise(0.05) { Start = Begin, End = Begin + Seconds(5) }) with { Observer = new() { CallsItselfPassive = true } };
        Assert.False(Of(site, Minutes(1)).Has("bus.error-passive"));
    }

    /// <summary>Live the mode is known: then neither the state nor a message with its limits passed says anything, however it got there.</summary>
    [Theory]
    [InlineData(true, false)]
    [InlineData(false, true)]
    public void WhatTakesNoPartInTheBusIsNeverErrorPassiveLive(bool isListenOnly, bool expected)
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        InterfaceFacts facts = new("can0") { BitRate = 125_000, ListenOnly = isListenOnly };
        analyzer.Advance(Morning);
        analyzer.OnInterface(0, facts with { State = ControllerState.ErrorActive });
        foreach (ControllerProblems problem in (ReadOnlySpan<ControllerProblems>)[ControllerProblems.ReceiveWarning, ControllerProblems.ReceivePassive])
        {
            analyzer.OnFrame(CanFrame.ErrorReport(Morning + Seconds(1), (uint)ErrorClasses.Controller, [0, (byte)problem, 0, 0, 0, 0, 0, 0]));
        }

        analyzer.OnInterface(0, facts with { State = ControllerState.ErrorPassive });
        analyzer.Advance(Morning + Seconds(3));
        Assert.Equal(expected, analyzer.Snapshot().Findings.Any(finding => finding.Finding == "bus.error-passive"));
    }

    [Fact]
    public void AWarningLevelAloneIsNotPassive()
    {
        Replayed replayed = OfText("(1700000000.000000) can0 20000004#0004000000000000\n(1700000001.000000) can0 20000004#0004000000000000\n");
        Assert.Empty(replayed.Findings);
        Assert.Equal("error-warning", replayed.Bus.GetProperty("controllerState").GetString());
    }

    [Fact]
    public void OurControllerThatSendsIntoAShortGoesBusOffAndRecovers()
    {
        Fault[] faults = [new OwnProgramSends(0x7F0) { Start = Seconds(10) }, new BusNoise(0.5) { Start = Begin, End = Begin + Seconds(5) }];
        Replayed replayed = Of(TakingPart(faults), Minutes(1));
        JsonElement off = replayed.The("bus.off");
        Assert.Equal("fault", Severity(off));
        Assert.Equal(JsonValueKind.Null, off.GetProperty("node").ValueKind);
        Assert.InRange(SecondsOf(off, "start"), 30, 36);
        Assert.True(replayed.Bus.GetProperty("busOff").GetInt32() >= 1);
        Assert.Equal("bus.off/can0/bus", replayed.The("bus.error-passive").GetProperty("explainedBy").GetString());
    }

    [Fact]
    public void OurControllerThatSendsOnAGoodBusIsFine() =>
        Assert.Empty(Of(TakingPart(new OwnProgramSends(0x7F0)), Minutes(1)).Accusations);

    [Fact]
    public void ErrorsThatOurControllerOutlivesAreNoBusOff() =>
        Assert.False(Of(TakingPart(new OwnProgramSends(0x7F0), new BusNoise(5e-4)), Minutes(1)).Has("bus.off"));

    [Fact]
    public void PassiveAfterALossOfFramesIsStillWhatTheControllerSays()
    {
        Replayed replayed = Of(TakingPart(new BusNoise(0.05) { Start = Begin, End = Begin + Seconds(5) }), Minutes(1), [(Begin - Seconds(5), Begin)]);
        Assert.True(replayed.Has("bus.error-passive"));
    }

    [Fact]
    public void AnInterfaceThatIsSaidToBeBusOffIsOneAndEndsWhenItIsActiveAgain()
    {
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0" });
        InterfaceFacts facts = new("can0") { BitRate = 125_000, ListenOnly = false };
        analyzer.Advance(Morning);
        analyzer.OnInterface(0, facts with { State = ControllerState.BusOff });
        analyzer.Advance(Morning + Seconds(3));
        Assert.Null(Assert.Single(analyzer.Snapshot().Findings, finding => finding.Finding == "bus.off").End);
        analyzer.OnInterface(0, facts with { State = ControllerState.ErrorActive });
        Core.Reporting.FindingReport off = Assert.Single(analyzer.Snapshot().Findings, finding => finding.Finding == "bus.off");
        Assert.Equal(Morning, off.Start);
        Assert.NotNull(off.End);
    }
}
