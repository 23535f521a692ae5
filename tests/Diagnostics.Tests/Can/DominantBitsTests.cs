using Diagnostics.Can;
using Diagnostics.Simulation;
using Diagnostics.Simulation.Wires;
using WireBits = Diagnostics.Simulation.Wires.FrameBits;

namespace Diagnostics.Tests.Can;

public class DominantBitsTests
{
    /// <summary>The simulated wire puts its bits there by itself; a receiver makes the acknowledge slot dominant.</summary>
    [Fact]
    public void AsManyAsTheSimulatedWireCarries()
    {
        Randomness chance = new(7, "dominant bits");
        WireBits bits = new();
        for (int round = 0; round < 20_000; round++)
        {
            bool extended = chance.Chance(0.5);
            bool remote = chance.Chance(0.1);
            uint id = (uint)(chance.Next() & (extended ? 0x1FFF_FFFFu : 0x7FFu));
            int length = chance.Below(9);

            // Long runs of equal bits are where stuffing happens.
            ulong data = chance.Below(3) switch { 0 => chance.Next(), 1 => 0, _ => ulong.MaxValue };
            WireFrame frame = new(id, extended, remote, (byte)length, data);
            bits.Encode(frame);
            int dominant = 0;
            for (int at = 0; at < bits.Length; at++)
            {
                dominant += bits[at] == 0 || at == bits.AcknowledgeSlot ? 1 : 0;
            }

            Assert.Equal(dominant, DominantBits.Of(frame.ToCanFrame(default, 0)));
        }
    }

    /// <summary>Levels of worked frames, acknowledged: the project's reference values, 1.5 (computed from ISO 11898-1 by two programs that share no code with this one).</summary>
    [Theory]
    [InlineData(0x000, false, "", "0000010000010000010000010000010000010000 1 0 1 1111111")]
    [InlineData(0x014, false, "01", "000001001010000010001000001001111011101010011 1 0 1 1111111")]
    [InlineData(0x705, false, "05", "0111000001101000001010000011011101000101111101 1 0 1 1111111")]
    [InlineData(0x12345678, true, "DEADBEEF", "0100100011011100010101100111100000100100110111101010110110111110011101111011001100011011 1 0 1 1111111")]
    public void WorkedFramesHaveTheirZeros(uint id, bool extended, string data, string levels) => Assert.Equal(
        levels.Count(level => level == '0'),
        DominantBits.Of(CanFrame.Classic(default, extended ? CanId.Extended(id) : CanId.Base(id), Convert.FromHexString(data))));

    [Fact]
    public void ErrorMessagesAndFlexibleFramesHaveNone()
    {
        Assert.Null(DominantBits.Of(CanFrame.ErrorReport(default, 8, new byte[8])));
        Assert.Null(DominantBits.Of(CanFrame.Classic(default, CanId.Base(1), [1]) with { Flags = FrameFlags.Flexible }));
    }
}
