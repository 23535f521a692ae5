using Diagnostics.Agent;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Boards.Sensors;
using Diagnostics.Agent.Boards.Signals;
using Diagnostics.Agent.History;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using UnitsNet;

namespace Diagnostics.Tests.Boards.Signals;

public class ClipCheckTests
{
    private static readonly BusReport Heard = new()
    {
        Interface = "can0",
        BitRate = 125_000,
        BitRateSource = "interface",
        Protocol = "canopen",
        ListenOnly = true,
        Frames = 400,
        Errors = new(0, 0, 0, 0, 0, 0),
        Nodes = [],
        Identifiers = [],
    };

    private static readonly BoardSettings WithSupply = new() { Supply = new(SupplyPart.Ina219, 0x40, ElectricResistance.Zero) { Low = ElectricPotential.FromVolts(10) } };

    private static ClipFacts Facts(BusReport? bus, double seconds = 5, params FindingReport[] findings) =>
        new(new(1, new("live", "can0", new(0), new(1), new(0, 0, 0, [])), bus is null ? [] : [bus], findings, []), TimeSpan.FromSeconds(seconds)) { KeepsLog = true };

    private static FindingReport Finding(string name, string severity, bool isOver = false) => new()
    {
        Key = name,
        Finding = name,
        Severity = severity,
        Interface = "can0",
        Start = new(0),
        Raised = new(0),
        End = isOver ? new Instant(1) : null,
        Count = 1,
        Confidence = 1,
        Summary = name,
        Measurements = [],
        Evidence = [],
        Causes = [],
    };

    private static QuantityReport Measured(string quantity, double value) => new(quantity, "V", new(0), new(1), value, value, value, value, 1, 0.01, null, null, null);

    private static ClipFacts With(ClipFacts facts, params QuantityReport[] measured) => facts with { Report = facts.Report! with { Measurements = measured } };

    private static (ClipVerdict Verdict, string Outcomes) Of(ClipFacts facts)
    {
        ClipCheck check = ClipCheck.Of(facts);
        return (check.Verdict, string.Concat(check.Answers.Select(answer => answer.Outcome switch { ClipOutcome.Good => '+', ClipOutcome.Bad => '-', ClipOutcome.Waiting => '.', _ => '?' })));
    }

    /// <summary>In the order: hearing, bit rate, listen-only, lines, own terminator, supply, log.</summary>
    [Fact]
    public void WithoutSensorsAllIsWellAndTheRestCantBeTold() => Assert.Equal((ClipVerdict.AllWell, "+++???+"), Of(Facts(Heard)));

    [Fact]
    public void NothingHeardIsWaitedForAndThenTheClip()
    {
        Assert.Equal(ClipVerdict.Checking, Of(new(null, TimeSpan.Zero)).Verdict);
        Assert.Equal((ClipVerdict.Checking, ".?????+"), Of(Facts(null, 24)));
        Assert.Equal((ClipVerdict.CheckClip, "-?????+"), Of(Facts(null, 25)));
        Assert.True(ClipCheck.HearingPatience < TimeSpan.FromSeconds(30));
    }

    [Fact]
    public void OnlyErrorsAreNotHearing() => Assert.Equal((ClipVerdict.CheckClip, "-?+???+"), Of(Facts(Heard with { Frames = 0, ErrorMessages = 30 })));

    [Fact]
    public void ABusThatFellSilentIsTheClipFirst() => Assert.Equal(ClipVerdict.CheckClip, Of(Facts(Heard, 500, Finding("bus.no-traffic", "fault"))).Verdict);

    [Fact]
    public void AWrongBitRateIsAFaultNow() => Assert.Equal((ClipVerdict.BusFault, "+-+???+"), Of(Facts(Heard, 5, Finding("bus.bit-rate-mismatch", "fault"))));

    [Theory]
    [InlineData("fault", false, ClipVerdict.BusFault)]
    [InlineData("fault", true, ClipVerdict.LookAtPage)]
    [InlineData("warning", false, ClipVerdict.LookAtPage)]
    [InlineData("warning", true, ClipVerdict.LookAtPage)]
    [InlineData("note", false, ClipVerdict.AllWell)]
    public void FindingsBySeverity(string severity, bool isOver, object verdict) => Assert.Equal((ClipVerdict)verdict, Of(Facts(Heard, 500, Finding("node.silent", severity, isOver))).Verdict);

    [Fact]
    public void WhatWasTakenNoteOfIsQuietUntilItComesBack()
    {
        ClipFacts facts = Facts(Heard, 500, Finding("node.restarted", "warning", isOver: true)) with { Acknowledgements = [new(new(2), "node.restarted", new(0), 1, string.Empty)] };
        Assert.Equal(ClipVerdict.AllWell, Of(facts).Verdict);
        Assert.Equal(ClipVerdict.LookAtPage, Of(facts with { Report = facts.Report! with { Findings = [Finding("node.restarted", "warning", isOver: true) with { Count = 2 }] } }).Verdict);
    }

    [Fact]
    public void AnInterfaceThatAcknowledgesIsTold() => Assert.Equal((ClipVerdict.LookAtPage, "++-???+"), Of(Facts(Heard with { ListenOnly = false })));

    [Fact]
    public void AnInterfaceThatDoesNotSayIsNotAccused() => Assert.Equal((ClipVerdict.AllWell, "++????+"), Of(Facts(Heard with { ListenOnly = null })));

    /// <summary>A simulated bus has a supply that no part of this board measures.</summary>
    [Fact]
    public void WhatWasMeasuredIsToldAlsoWhereNoPartIsFitted() => Assert.Equal("+++??++", Of(With(Facts(Heard), Measured("supplyVolts", 23.8))).Outcomes);

    [Theory]
    [InlineData(2.6, 2.4, "+")]
    [InlineData(2.5, 2.5, "+")]
    [InlineData(2.45, 2.55, "+")]
    [InlineData(2.2, 2.8, "-")]
    public void LinesByTheirMeans(double high, double low, string outcome) =>
        Assert.Equal("+++" + outcome + "??+", Of(With(Facts(Heard), Measured("lineHighVolts", high), Measured("lineLowVolts", low))).Outcomes);

    [Theory]
    [InlineData(12, "+")]
    [InlineData(9.9, "-")]
    [InlineData(0.2, "-")]
    public void SupplyAgainstItsLimit(double volts, string outcome) =>
        Assert.Equal("+++??" + outcome + "+", Of(With(Facts(Heard) with { Settings = WithSupply }, Measured("supplyVolts", volts))).Outcomes);

    [Fact]
    public void ASupplySensorIsWaitedForAndItsTroubleTold()
    {
        Assert.Equal((ClipVerdict.Checking, "+++??.+"), Of(Facts(Heard) with { Settings = WithSupply }));
        Assert.Equal((ClipVerdict.AllWell, "+++???+"), Of(Facts(Heard, 20) with { Settings = WithSupply }));
        SensorState sensor = new(BoardEventKind.SupplySensor, Sentence.Plain("Supply sensor"), "INA219", SensorCondition.InTrouble, Sentence.Plain("It hangs."), []);

        // The last value of a sensor in trouble is no value.
        Assert.Equal((ClipVerdict.LookAtPage, "+++??-+"), Of(With(Facts(Heard) with { Settings = WithSupply, Sensors = [sensor] }, Measured("supplyVolts", 12))));
    }

    [Fact]
    public void ALogThatFailsIsTold()
    {
        Assert.Equal((ClipVerdict.LookAtPage, "+++???-"), Of(Facts(Heard) with { Troubles = [new(Trouble.OfLog, new(0), Sentence.Plain("Full."))] }));
        Assert.Equal((ClipVerdict.AllWell, "+++????"), Of(Facts(Heard) with { KeepsLog = false }));
    }

    [Fact]
    public void EachVerdictHasALightOfItsOwn() =>
        Assert.Equal(Enum.GetValues<ClipVerdict>().Length, Enum.GetValues<ClipVerdict>().Select(verdict => new ClipCheck(verdict, []).Light).Distinct().Count());
}
