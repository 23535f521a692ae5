using Diagnostics.Simulation;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Tests.Simulation;

/// <summary>
/// Values: the worked frames A–Q and the whole-space sums, computed from ISO 11898-1 by two independent programs that share no code with this one
/// (shared reference values, section 1.5; no published source).
/// </summary>
public class FrameBitsTests
{
    public static TheoryData<string, uint, bool, bool, string, int, int, int> WorkedFrames => new()
    {
        { "A", 0x000, false, false, "", 0x0000, 6, 50 },
        { "B", 0x014, false, false, "01", 0x7753, 3, 55 },
        { "C", 0x080, false, false, "", 0x1C05, 4, 48 },
        { "D", 0x701, false, false, "00", 0x5058, 4, 56 },
        { "E", 0x705, false, false, "05", 0x68BF, 4, 56 },
        { "F", 0x009, false, false, "", 0x7C20, 5, 49 },
        { "G", 0x123, false, false, "1122334455667788", 0x4237, 1, 109 },
        { "H", 0x555, false, false, "5555555555555555", 0x1B04, 1, 109 },
        { "I", 0x000, false, false, "0000000000000000", 0x145B, 16, 124 },
        { "J", 0x7FF, false, false, "FFFFFFFFFFFFFFFF", 0x4C89, 15, 123 },
        { "K", 0x078, false, false, "01E1E1E1E1E1E00F", 0x041E, 22, 130 },
        { "L", 0x123, false, true, "", 0x1B9D, 1, 45 },
        { "M", 0x18EAFFFE, true, false, "00EE00", 0x29D5, 7, 95 },
        { "N", 0x18EEFF21, true, false, "3F426F1A00823CC0", 0x512A, 7, 135 },
        { "O", 0x12345678, true, false, "DEADBEEF", 0x331B, 2, 98 },
        { "P", 0x01FC3C3C, true, false, "01E1E1E1E1E1E1E1", 0x7003, 27, 155 },
        { "Q", 0x00000000, true, false, "0000000000000000", 0x3DAF, 19, 147 },
    };

    [Theory]
    [MemberData(nameof(WorkedFrames))]
    public void WorkedFramesHaveTheirCrcStuffBitsAndLength(string name, uint id, bool extended, bool remote, string data, int crc, int stuff, int length)
    {
        FrameBits bits = Encode(new WireFrame(id, extended, remote, (byte)(data.Length / 2), Pack(data)));
        Assert.Equal((name, crc, stuff, length), (name, bits.Crc, bits.StuffBits, bits.Length));
    }

    [Theory]
    [InlineData(0x000, false, "", "0000010000010000010000010000010000010000 1 0 1 1111111")]
    [InlineData(0x014, false, "01", "000001001010000010001000001001111011101010011 1 0 1 1111111")]
    [InlineData(0x705, false, "05", "0111000001101000001010000011011101000101111101 1 0 1 1111111")]
    [InlineData(0x009, false, "", "000001000100100000100111110000011000001 1 0 1 1111111")]
    [InlineData(0x123, false, "1122334455667788", "000100100011000100000101000100100010001100110100010001010101011001100111011110001000100001000110111 1 0 1 1111111")]
    [InlineData(0x12345678, true, "DEADBEEF", "0100100011011100010101100111100000100100110111101010110110111110011101111011001100011011 1 0 1 1111111")]
    public void WorkedFramesHaveTheirLevels(uint id, bool extended, string data, string expected)
    {
        FrameBits bits = Encode(new WireFrame(id, extended, false, (byte)(data.Length / 2), Pack(data)));

        // The sender itself drives the acknowledge slot recessive; the published strings take it as acknowledged.
        string levels = string.Concat(Enumerable.Range(0, bits.Length).Select(i => i == bits.AcknowledgeSlot ? 0 : bits[i]));
        Assert.Equal(expected.Replace(" ", "", StringComparison.Ordinal), levels);
    }

    [Fact]
    public void AllFramesWithoutDataTogetherHaveTheKnownNumberOfStuffBits()
    {
        int sum = 0;
        int afterCrc = 0;
        for (uint id = 0; id < 0x800; id++)
        {
            FrameBits bits = Encode(new WireFrame(id, false, false, 0, 0));
            sum += bits.StuffBits;
            afterCrc += bits.IsStuff(bits.AcknowledgeSlot - 2) ? 1 : 0;
        }

        Assert.Equal((4032, 68), (sum, afterCrc));
    }

    [Fact]
    public void AReaderGetsBackWhatWasEncoded()
    {
        Randomness chance = new(5, "round trip");
        FrameReader reader = new();
        for (int i = 0; i < 2_000; i++)
        {
            WireFrame frame = Draw(chance);
            FrameBits bits = Encode(frame);
            reader.Reset();
            ReadResult result = ReadResult.Going;
            for (int bit = 0; bit < bits.Length; bit++)
            {
                if (reader.AtAcknowledgeSlot != (bit == bits.AcknowledgeSlot))
                {
                    Assert.Fail($"The acknowledge slot of {frame} is not at bit {bit}.");
                }

                result = reader.Push(bits[bit]);
                if (result != (bit == bits.Length - 2 ? ReadResult.Valid : bit == bits.Length - 1 ? ReadResult.Complete : ReadResult.Going))
                {
                    Assert.Fail($"{frame} gives {result} at bit {bit}.");
                }
            }

            Assert.Equal(frame, reader.Frame);
        }
    }

    [Fact]
    public void ASingleInvertedBitNeverPassesAsTheFrameThatWasSent()
    {
        Randomness chance = new(6, "flips");
        FrameReader reader = new();
        for (int i = 0; i < 300; i++)
        {
            WireFrame frame = Draw(chance);
            FrameBits bits = Encode(frame);
            for (int inverted = 1; inverted < bits.AcknowledgeSlot; inverted++)
            {
                reader.Reset();
                bool valid = false;
                for (int bit = 0; bit < bits.Length; bit++)
                {
                    ReadResult result = reader.Push(bit == inverted ? bits[bit] ^ 1 : bits[bit]);
                    valid |= result == ReadResult.Valid;
                    if (result is ReadResult.StuffError or ReadResult.FormError or ReadResult.CrcError)
                    {
                        break;
                    }
                }

                Assert.False(valid && reader.Frame == frame);
            }
        }
    }

    private static WireFrame Draw(Randomness chance)
    {
        bool extended = chance.Chance(0.3);
        bool remote = chance.Chance(0.1);
        byte length = (byte)chance.Below(9);
        ulong data = remote || length == 0 ? 0 : chance.Next() & (ulong.MaxValue >> (64 - (8 * length)));
        return new((uint)(chance.Next() & (extended ? 0x1FFF_FFFFu : 0x7FFu)), extended, remote, length, data);
    }

    private static FrameBits Encode(WireFrame frame)
    {
        FrameBits bits = new();
        bits.Encode(frame);
        return bits;
    }

    private static ulong Pack(string data) => WireFrame.Of(0, Convert.FromHexString(data)).Data;
}
