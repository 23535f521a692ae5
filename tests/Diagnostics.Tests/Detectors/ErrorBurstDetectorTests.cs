using System.Text.Json;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Findings;
using Diagnostics.Simulation;
using static Diagnostics.Tests.Detectors.Replayed;

namespace Diagnostics.Tests.Detectors;

public class ErrorBurstDetectorTests
{
    private static readonly TimeSpan Begin = Minutes(2);

    /// <summary>A disturbance of some tens of milliseconds that spoils whatever is sent, every 12 s from the second minute on.</summary>
    private static Fault[] Bursts(int count) =>
        [.. Enumerable.Range(0, count).Select(i => new BusNoise(0.2) { Start = Begin + Seconds(12 * i), End = Begin + Seconds((12 * i) + 0.9) })];

    [Fact]
    public void ThreeBurstsInDifferentTensOfSecondsAreAFinding()
    {
        JsonElement burst = Of(Library(Bursts(4)), Minutes(4)).The("bus.error-burst");
        Assert.Equal("warning", Severity(burst));
        Assert.InRange(SecondsOf(burst, "start"), 120, 133);
    }

    [Fact]
    public void TwoBurstsAreNone() => Assert.False(Of(Library(Bursts(2)), Minutes(4)).Has("bus.error-burst"));

    [Fact]
    public void SingleErrorsSpreadByChanceAreNoBurst() =>
        Assert.False(Of(Library(new BusNoise(2e-5)), Minutes(15)).Has("bus.error-burst"));

    [Fact]
    public void BurstsAreFoundAlthoughFramesAreLost() =>
        Assert.True(Of(Library([.. Bursts(5), new LostFrames(0.3)]), Minutes(4)).Has("bus.error-burst"));

    [Fact]
    public void TenQuietMinutesEndIt() =>
        Assert.True(HasEnded(Of(Library(Bursts(4)), Minutes(14)).The("bus.error-burst")));

    // ---- bursts beside an address that two devices share --------------------------------------------------------------

    /// <summary>
    /// Bursts of errors, 12 s apart, beside heartbeats. ISO 11898-1: from clean counters 16 attempts (TEC + 8 each, passive at 128) until both senders of one
    /// identifier get their frames through.
    /// </summary>
    /// <param name="collides">Whether the burst of this number ends with two frames of node 5, or with one of node 6.</param>
    /// <param name="errors">In the burst of this number.</param>
    /// <param name="bursts">How many.</param>
    private static Replayed Collisions(Func<int, bool> collides, Func<int, int> errors, int bursts = 10)
    {
        System.Text.StringBuilder log = new();
        double time = 1_700_000_000;
        void Line(double after, string frame) => log.Append(System.Globalization.CultureInfo.InvariantCulture, $"({time += after:0.000000}) can0 {frame}\n");
        for (int burst = 0; burst < bursts; burst++)
        {
            for (int error = 0; error < errors(burst); error++)
            {
                Line(0.0005, "20000088#0000040000000000");
            }

            Line(0.001, collides(burst) ? "185#01" : "186#01");
            Line(0.001, collides(burst) ? "185#02" : "706#05");
            for (int beat = 0; beat < 12; beat++)
            {
                Line(0.5, "705#05");
                Line(0.5, "706#05");
            }
        }

        return OfText(log.ToString(), "--bit-rate", "125000", "--protocol", "canopen");
    }

    private static double Probability(JsonElement finding, string cause) =>
        finding.GetProperty("causes").EnumerateArray().First(one => one.GetProperty("cause").GetString() == cause).GetProperty("probability").GetDouble();

    [Fact]
    public void BurstsThatAreTheCollisionsOfASharedAddressAreLaidToIt()
    {
        Replayed replayed = Collisions(_ => true, burst => burst % 2 == 0 ? 16 : 17);
        Assert.True(replayed.Has("node.duplicate-address", 5));
        JsonElement burst = replayed.The("bus.error-burst");
        Assert.Equal("address-set-twice", TopCause(burst));
        Assert.Contains("address 5", burst.GetProperty("causes")[0].GetProperty("nextCheck").GetString(), StringComparison.Ordinal);
        Assert.Equal("node.duplicate-address/can0/node-5", burst.GetProperty("explainedBy").GetString());
        Assert.InRange(Probability(burst, "address-set-twice"), 0.85, 0.95);
    }

    /// <summary>The same errors are a rate and, as half of the traffic is node 5's, soon its frames' too: no drop is accused beside the shared address.</summary>
    [Fact]
    public void AllThatTheCollisionsRaiseIsLaidToTheSharedAddress()
    {
        Replayed replayed = Collisions(_ => true, burst => burst % 2 == 0 ? 16 : 17, bursts: 40);
        foreach (string kind in (string[])["bus.error-burst", "bus.error-rate", "node.errors"])
        {
            JsonElement finding = replayed.The(kind);
            Assert.Equal("address-set-twice", TopCause(finding));
            Assert.Equal("node.duplicate-address/can0/node-5", finding.GetProperty("explainedBy").GetString());
        }
    }

    /// <summary>Three bursts were a finding before the first of 16 errors told whose they are; nine of ten are.</summary>
    [Fact]
    public void TheyAreLaidToItAsSoonAsItIsFound()
    {
        JsonElement burst = Collisions(_ => true, burst => burst == 9 ? 16 : 17).The("bus.error-burst");
        Assert.Equal("address-set-twice", TopCause(burst));
    }

    /// <summary>17 errors tell nobody; another sign may, in a second without a burst. When that is over, the bursts that were stay explained.</summary>
    [Fact]
    public void ASharedAddressThatIsFoundByAnotherSignExplainsTheBurstsBeforeIt()
    {
        (Bus bus, FindingBook book, _) = TestBus.Create();
        Instant time = TestBus.Start;
        for (int burst = 0; burst < 4; burst++)
        {
            for (int error = 0; error < 17; error++)
            {
                bus.OnFrame(CanFrame.ErrorReport(time += TimeSpan.FromMilliseconds(0.5), 0x88, [0, 0, 4, 0, 0, 0, 0, 0]));
            }

            foreach (byte inputs in (byte[])[1, 2])
            {
                CanFrame frame = CanFrame.Classic(time += TimeSpan.FromMilliseconds(1), CanId.Base(0x185), [inputs]);
                bus.OnFrame(in frame);
            }

            bus.OnSecond(time += TimeSpan.FromSeconds(12));
        }

        Finding finding = book.Find(Catalogue.ErrorBurst, "can0", Subject.WholeBus)!;
        Assert.Equal("cable-intermittent", finding.Causes[0].Cause);
        book.Raise(Catalogue.DuplicateAddress, "can0", Subject.OfNode(5), time, time, 0.95);
        bus.OnSecond(time += TimeSpan.FromSeconds(1));
        Assert.Equal("address-set-twice", finding.Causes[0].Cause);
        book.Close(Catalogue.DuplicateAddress, "can0", Subject.OfNode(5), time);
        bus.OnSecond(time + TimeSpan.FromSeconds(1));
        Assert.Equal("address-set-twice", finding.Causes[0].Cause);
    }

    [Fact]
    public void OtherBurstsBesideASharedAddressKeepTheirCauses()
    {
        Replayed replayed = Collisions(burst => burst == 0, _ => 16);
        Assert.True(replayed.Has("node.duplicate-address", 5));
        JsonElement burst = replayed.The("bus.error-burst");
        Assert.Equal("cable-intermittent", TopCause(burst));
        Assert.Equal(JsonValueKind.Null, burst.GetProperty("explainedBy").ValueKind);
    }

    /// <summary>17 errors tell no collision from clean counters, so nobody is found on the address.</summary>
    [Fact]
    public void WhatOnlyLooksLikeCollisionsIsLaidToNobody()
    {
        Replayed replayed = Collisions(_ => true, _ => 17);
        Assert.False(replayed.Has("node.duplicate-address"));
        JsonElement burst = replayed.The("bus.error-burst");
        Assert.InRange(Probability(burst, "address-set-twice"), 0.05, 0.15);
    }
}
