using Diagnostics.Simulation.Wires;

namespace Diagnostics.Tests.Simulation;

/// <summary>
/// Rules of ISO 11898-1 and Bosch CAN Specification 2.0, "Fault confinement"; the worked counter sequences are those of the
/// shared reference values, section 3, and the duplicate's signature that of the shared methods, section 1.5.
/// </summary>
public class WireTests
{
    [Fact]
    public void ALoneSenderClimbsByEightToErrorPassiveAndStaysThere()
    {
        WireBench bench = new(1);
        bench.Send(0, 0x705, 5);
        bench.RunBits(5000);
        Assert.Equal(Enumerable.Range(1, 16).Select(n => 8 * n), bench.Ears[0].TransmitCounts);
        Assert.Equal(128, bench.Controllers[0].TransmitErrors);
        Assert.True(bench.Ears[0].Errors.Count > 40);
        Assert.All(bench.Ears[0].Errors, error => Assert.Equal(WireError.Acknowledge, error.Error));
        Assert.Null(bench.Ears[0].BusOff);
    }

    /// <summary>As in the recording unplug_ack_node: form errors first, then the same frame again and again.</summary>
    [Fact]
    public void AListenerSeesFormErrorsWhileALoneSenderIsActiveAndTheFrameRepeatedOnceItIsPassive()
    {
        WireBench bench = new(1);
        bench.Send(0, 0x222, 0x4D, 0, 0, 0, 0, 0, 0, 0);
        bench.RunBits(6000);
        WireBench.Ear listener = bench.Listener!;
        Assert.Equal(16, listener.Errors.Count);
        Assert.All(listener.Errors, error => Assert.Equal((WireError.Form, FramePosition.AcknowledgeDelimiter), (error.Error, error.Position)));
        Assert.True(listener.Received.Count > 10);
        Assert.All(listener.Received, received => Assert.Equal(0x4DUL, received.Frame.Data));
    }

    [Fact]
    public void AWaitingFrameIsAcknowledgedAsSoonAsSomebodyJoins()
    {
        WireBench bench = new(2);
        bench.Wire.Disconnect(bench.Controllers[1]);
        bench.Send(0, 0x705, 5);
        bench.RunBits(4000);
        Assert.Empty(bench.Ears[0].Sent);
        bench.Wire.Reconnect(bench.Controllers[1], new Diagnostics.Simulation.Randomness(1, "join"));
        bench.RunBits(2000);
        Assert.Single(bench.Ears[0].Sent);
        Assert.False(bench.Controllers[0].HasPending);
    }

    [Fact]
    public void ThirtyTwoErrorsInARowLeadToBusOffAndRecoveryTakes1408Bits()
    {
        WireBench bench = new(2);
        int attempts = 0;
        bool wasSending = false;
        ProtocolController sender = bench.Controllers[0];
        WireBench.Picked spoil = new(
            _ =>
            {
                // The first bit of each attempt's data: the position is known from the time since the attempt began.
                bool starts = sender.IsSending && !wasSending;
                wasSending = sender.IsSending;
                attempts += starts ? 1 : 0;
                return starts;
            },
            _ => true) { IsActive = true };
        bench.Wire.Disturbances.Add(spoil);
        bench.Send(0, 0x123, 1, 2, 3);
        while (bench.Ears[0].BusOff is null && attempts < 50)
        {
            bench.RunBits(10);
        }

        Assert.Equal(32, attempts);
        Assert.Equal(256, bench.Ears[0].TransmitCounts.Max());
        Assert.Equal(Enumerable.Range(1, 32).Select(n => 8 * n), bench.Ears[0].TransmitCounts);
        spoil.IsActive = false;
        long busOff = bench.Ears[0].BusOff!.Value;
        bench.RunBits(3000);
        long bits = (bench.Ears[0].Recovered!.Value - busOff) / WireBench.Bit;

        // The error frame that was on the line when it left delays the first sequence by less than its own length.
        Assert.InRange(bits, 1408, 1408 + 23);
        Assert.Equal((0, 0), (sender.TransmitErrors, sender.ReceiveErrors));
        Assert.Equal(ControllerPhase.Idle, sender.Phase);
    }

    [Fact]
    public void AReceiverThatFindsTheErrorFirstCountsNineTheOthersOne()
    {
        WireBench bench = new(4);
        bench.Send(0, 0x705, 5);
        long start = bench.Now;

        // Frame E of section 1.5: its third stuff bit, on the wire bit 26, lies in the data. Inverted for one receiver it makes six equal bits there.
        bench.Wire.Disturbances.Add(new WireBench.Picked(time => (time - start) / WireBench.Bit == 26, controller => controller == bench.Controllers[2]) { IsActive = true });
        bench.RunBits(400);
        Assert.Equal(WireError.Stuff, bench.Ears[2].Errors[0].Error);

        // After the retransmission each receiver has one less.
        Assert.Single(bench.Ears[0].Sent);
        Assert.Equal(7, bench.Controllers[0].TransmitErrors);
        Assert.Equal(8, bench.Controllers[2].ReceiveErrors);
        Assert.Equal(0, bench.Controllers[1].ReceiveErrors);
        Assert.Equal(0, bench.Controllers[3].ReceiveErrors);
        Assert.Equal(1, bench.Ears[1].Errors[0].Receive);
    }

    /// <summary>Rule 6 and ISO 16845-1 tests 7.6.4 and 8.6.4: seven dominant bits after the flag are tolerated, each eight cost eight. Rule 2: the first costs a receiver eight.</summary>
    [Theory]
    [InlineData(0, 8, 1)]
    [InlineData(7, 8, 9)]
    [InlineData(8, 16, 17)]
    [InlineData(15, 16, 17)]
    [InlineData(16, 24, 25)]
    public void DominantBitsAfterTheErrorFlagCount(int dominantBits, int transmitErrors, int receiveErrors)
    {
        WireBench bench = new(3);
        long start = bench.Now;
        bench.Send(0, 0x705, 5);

        // Frame E: its acknowledge delimiter is bit 48; spoilt for all, so that all flags coincide in bits 49 to 54.
        bench.Wire.Disturbances.Add(new WireBench.Picked(
            time => (time - start) / WireBench.Bit is long bit && (bit == 48 || (bit > 54 && bit <= 54 + dominantBits)),
            _ => true) { IsActive = true });
        bench.RunBits(400);

        // One less on each side after the repetition.
        Assert.Single(bench.Ears[0].Sent);
        Assert.Equal((transmitErrors - 1, receiveErrors - 1), (bench.Controllers[0].TransmitErrors, bench.Controllers[1].ReceiveErrors));
    }

    [Fact]
    public void EightGoodFramesUndoOneTransmitError()
    {
        WireBench bench = new(2);
        long start = bench.Now;
        WireBench.Picked once = new(time => (time - start) / WireBench.Bit == 30, _ => true) { IsActive = true };
        bench.Wire.Disturbances.Add(once);
        bench.Send(0, 0x123, 0x55);
        bench.RunBits(200);
        Assert.Equal(7, bench.Controllers[0].TransmitErrors);
        once.IsActive = false;
        for (int i = 0; i < 7; i++)
        {
            bench.Send(0, 0x123, (byte)i);
        }

        bench.RunBits(1000);
        Assert.Equal(0, bench.Controllers[0].TransmitErrors);
    }

    [Fact]
    public void SixteenCollisionsMakeBothSendersPassiveThenTheDominantOneWinsAndTheLoserFollows()
    {
        WireBench bench = new(3);
        bench.Send(0, 0x185, 0x01);
        bench.Send(1, 0x185, 0x03);
        bench.RunBits(5000);
        WireBench.Ear listener = bench.Listener!;
        Assert.Equal(16, listener.Errors.Count);
        Assert.Single(listener.Errors.Select(error => error.Position).Distinct());
        Assert.Equal((WireError.Bit, FramePosition.Data, true), (bench.Ears[1].Errors[0].Error, bench.Ears[1].Errors[0].Position, bench.Ears[1].Errors[0].Sending));
        Assert.Equal(Enumerable.Range(1, 16).Select(n => 8 * n), bench.Ears[0].TransmitCounts.Take(16));

        // 0x01 has its differing bit dominant.
        Assert.Equal([0x01UL, 0x03UL], listener.Received.Select(received => received.Frame.Data));
        long gap = listener.Received[1].Time - listener.Received[0].Time;
        Assert.InRange(gap / WireBench.Bit, 55, 80);
        Assert.Equal(127, bench.Controllers[0].TransmitErrors);
        Assert.Equal(135, bench.Controllers[1].TransmitErrors);
    }

    [Fact]
    public void ALaterCollisionCostsTheLoserSevenAndShowsNoErrorFlag()
    {
        WireBench bench = new(3);
        bench.Send(0, 0x185, 0x01);
        bench.Send(1, 0x185, 0x03);
        bench.RunBits(5000);
        int errors = bench.Listener!.Errors.Count;
        int before = bench.Controllers[1].TransmitErrors;

        // The winner is error-active again (127), so one more error would show its flag; the loser's passive flag is recessive.
        bench.Send(0, 0x185, 0x01);
        bench.Send(1, 0x185, 0x03);
        bench.RunBits(1000);
        Assert.Equal(before + 7, bench.Controllers[1].TransmitErrors);
        Assert.Equal(errors, bench.Listener.Errors.Count);
        Assert.Equal([0x01UL, 0x03UL, 0x01UL, 0x03UL], bench.Listener.Received.Select(received => received.Frame.Data));
    }

    [Fact]
    public void AnUnbrokenSeriesOfCollisionsDrivesTheLoserIntoBusOff()
    {
        WireBench bench = new(3);
        int rounds = 0;
        while (bench.Ears[1].BusOff is null && rounds < 40)
        {
            rounds++;
            bench.Send(0, 0x185, 0x01);
            bench.Send(1, 0x185, 0x03);
            bench.RunBits(5000);
        }

        // Round 1 = 16 collisions and the 17th that ends at 135; each later round + 7: 135 + 17·7 = 254, and the next + 8 reaches 256.
        Assert.Equal(19, rounds);
        Assert.Null(bench.Ears[0].BusOff);
    }

    [Fact]
    public void EqualFramesMerge()
    {
        WireBench bench = new(3);
        bench.Send(0, 0x705, 5);
        bench.Send(1, 0x705, 5);
        bench.RunBits(300);
        Assert.Single(bench.Listener!.Received);
        Assert.Empty(bench.Listener.Errors);
        Assert.Single(bench.Ears[0].Sent);
        Assert.Single(bench.Ears[1].Sent);
    }

    [Fact]
    public void ThoseWhoWaitSendInTheOrderOfArbitration()
    {
        WireBench bench = new(5);
        bench.Controllers[0].Send(new WireFrame(0x123 << 18, true, false, 0, 0), bench.Now);
        bench.Controllers[1].Send(new WireFrame(0x123, false, true, 1, 0), bench.Now);
        bench.Controllers[2].Send(new WireFrame(0x123, false, false, 1, 7), bench.Now);
        bench.Controllers[3].Send(new WireFrame(0x122, false, true, 0, 0), bench.Now);
        bench.Controllers[4].Send(new WireFrame(0x121, false, false, 0, 0), bench.Now);
        bench.RunBits(600);
        Assert.Equal(
            [(0x121u, false, false), (0x122u, false, true), (0x123u, false, false), (0x123u, false, true), (0x123u << 18, true, false)],
            bench.Listener!.Received.Select(received => (received.Frame.Id, received.Frame.IsExtended, received.Frame.IsRemote)));
        Assert.Empty(bench.Listener.Errors);
    }

    [Fact]
    public void FramesFollowOneAnotherAfterThreeBitsOfIntermission()
    {
        WireBench bench = new(2);
        bench.Send(0, 0x705, 5);
        bench.Send(0, 0x705, 5);
        bench.RunBits(300);

        // Frame E of section 1.5: 56 bits, 59 with intermission.
        Assert.Equal(59, (bench.Listener!.Received[1].Time - bench.Listener.Received[0].Time) / WireBench.Bit);
        Assert.Equal(0, bench.Wire.BitsPlayed);
    }

    [Fact]
    public void PlayedBitByBitAFrameTakesTheSameTimeAsJumpedOver()
    {
        WireBench jumped = new(2);
        WireBench played = new(2);
        played.Wire.Disturbances.Add(new WireBench.Picked(_ => false, _ => false) { IsActive = true });
        foreach (WireBench bench in (WireBench[])[jumped, played])
        {
            for (int i = 0; i < 50; i++)
            {
                bench.Send(i % 2, 0x100u + (uint)(i * 7), (byte)i, (byte)(i * i), 0, 0);
            }

            bench.RunBits(10_000);
        }

        Assert.True(played.Wire.BitsPlayed > 4000);
        Assert.Equal(0, played.Wire.FramesJumped);
        Assert.Equal(50, jumped.Wire.FramesJumped);
        Assert.Equal(jumped.Listener!.Received, played.Listener!.Received);
        Assert.Equal(jumped.Ears[0].Sent, played.Ears[0].Sent);
    }

    [Fact]
    public void AnErrorPassiveSenderWaitsEightBitsMore()
    {
        WireBench bench = new(2);
        bench.Wire.Disconnect(bench.Controllers[1]);
        bench.Send(0, 0x705, 5);
        bench.RunBits(3000);
        List<(WireFrame Frame, long Time)> repeats = bench.Listener!.Received;

        // Frame E has 56 bits, so its acknowledge slot is bit 47, counted from 0. Then flag 6, delimiter 8, intermission 3, suspension 8.
        Assert.Equal(48 + 6 + 8 + 3 + 8, (repeats[^1].Time - repeats[^2].Time) / WireBench.Bit);
    }

    [Fact]
    public void AFrameCutOffByThePowerIsSeenAsAnErrorAndTheBusGoesOn()
    {
        WireBench bench = new(3);
        bench.Send(0, 0x123, 1, 2, 3, 4, 5, 6, 7, 8);
        bench.Timeline.PhysicallyAt(bench.Now + (40 * WireBench.Bit), () => bench.Wire.PowerOff(bench.Controllers[0]));
        bench.RunBits(45);
        bench.Send(1, 0x300, 9);
        bench.RunBits(400);
        Assert.Equal(WireError.Stuff, Assert.Single(bench.Listener!.Errors).Error);
        Assert.Equal(0x300u, Assert.Single(bench.Listener.Received).Frame.Id);
    }

    [Fact]
    public void ABrokenDropLosesItsOwnFramesOnly()
    {
        WireBench bench = new(3);
        bench.Wire.Disturbances.Add(new BitNoise(0.05, bench.Controllers[0], new Diagnostics.Simulation.Randomness(9, "drop")) { IsActive = true });
        for (int i = 0; i < 20; i++)
        {
            bench.Send(1, 0x200, (byte)i);
        }

        bench.RunBits(3000);
        Assert.Empty(bench.Listener!.Errors);
        bench.Send(0, 0x100, 1, 2, 3, 4, 5, 6, 7, 8);
        bench.RunBits(3000);
        Assert.NotEmpty(bench.Listener.Errors);
        Assert.All(bench.Ears[1].Errors, error => Assert.False(error.Sending));
    }

    [Fact]
    public void AFullQueueDropsAndCounts()
    {
        WireBench bench = new(1);
        for (int i = 0; i < ProtocolController.QueueLimit + 3; i++)
        {
            bench.Send(0, 0x100);
        }

        Assert.Equal(3, bench.Controllers[0].DroppedFrames);
    }
}
