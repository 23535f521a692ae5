using System.Globalization;
using Diagnostics.Can;

namespace Diagnostics.Tests.Can;

public class FrameLengthTests
{
    private const int Intermission = 3;

    /// <summary>
    /// name, frame, CRC-15, unstuffed bits, stuff bits, slot bits (intermission included). Source: computed from the Bosch CAN 2.0 and
    /// ISO 11898-1 rules by two independent programs that work differently; no published source.
    /// </summary>
    public static TheoryData<string, string, int, int, int, int> WorkedFrames => new()
    {
        { "A", "000#", 0x0000, 44, 6, 53 },
        { "B", "014#01", 0x7753, 52, 3, 58 },
        { "C", "080#", 0x1C05, 44, 4, 51 },
        { "D", "701#00", 0x5058, 52, 4, 59 },
        { "E", "705#05", 0x68BF, 52, 4, 59 },
        { "F", "009#", 0x7C20, 44, 5, 52 },
        { "G", "123#1122334455667788", 0x4237, 108, 1, 112 },
        { "H", "555#5555555555555555", 0x1B04, 108, 1, 112 },
        { "I", "000#0000000000000000", 0x145B, 108, 16, 127 },
        { "J", "7FF#FFFFFFFFFFFFFFFF", 0x4C89, 108, 15, 126 },
        { "K", "078#01E1E1E1E1E1E00F", 0x041E, 108, 22, 133 },
        { "L", "123#R", 0x1B9D, 44, 1, 48 },
        { "M", "18EAFFFE#00EE00", 0x29D5, 88, 7, 98 },
        { "N", "18EEFF21#3F426F1A00823CC0", 0x512A, 128, 7, 138 },
        { "O", "12345678#DEADBEEF", 0x331B, 96, 2, 101 },
        { "P", "01FC3C3C#01E1E1E1E1E1E1E1", 0x7003, 128, 27, 158 },
        { "Q", "00000000#0000000000000000", 0x3DAF, 128, 19, 150 },
    };

    /// <summary>Same source: the stuffed bits from SOF to EOF, and the unstuffed bit (SOF = 0) behind which each stuff bit stands.</summary>
    public static TheoryData<string, string, int[]> WorkedBits => new()
    {
        { "000#", "0000010000010000010000010000010000010000" + "1011111111", [4, 9, 14, 19, 24, 29] },
        { "014#01", "000001001010000010001000001001111011101010011" + "1011111111", [4, 14, 23] },
        { "705#05", "0111000001101000001010000011011101000101111101" + "1011111111", [8, 16, 23, 40] },
        { "009#", "000001000100100000100111110000011000001" + "1011111111", [4, 16, 23, 27, 33] },
        { "123#1122334455667788", "000100100011000100000101000100100010001100110100010001010101011001100111011110001000100001000110111" + "1011111111", [20] },
        { "12345678#DEADBEEF", "0100100011011100010101100111100000100100110111101010110110111110011101111011001100011011" + "1011111111", [33, 61] },
    };

    [Theory]
    [MemberData(nameof(WorkedFrames))]
    public void WorkedFrameHasTheCrcStuffBitsAndLengthOfTheReference(string name, string text, int crc, int unstuffed, int stuffBits, int slot)
    {
        Assert.NotEmpty(name);
        CanFrame frame = Frame(text);
        Assert.Equal(crc, FrameLength.Crc15(frame));
        Assert.Equal(stuffBits, FrameLength.StuffBits(frame));
        Assert.Equal(new FrameBits(slot, 0), FrameLength.Of(frame));
        Assert.Equal(unstuffed, FrameLength.Of(frame).Total - Intermission - stuffBits);
    }

    [Theory]
    [MemberData(nameof(WorkedFrames))]
    public void OracleOfTheseTestsAgreesWithTheReference(string name, string text, int crc, int unstuffed, int stuffBits, int slot)
    {
        Assert.NotEmpty(name);
        NaiveFrame frame = new(Frame(text));
        Assert.Equal((crc, unstuffed, stuffBits, slot), (frame.Crc, frame.Unstuffed, frame.StuffAfter.Count, frame.Wire.Count + Intermission));
    }

    [Theory]
    [MemberData(nameof(WorkedBits))]
    public void OracleOfTheseTestsSendsTheBitsOfTheReference(string text, string wire, int[] stuffAfter)
    {
        NaiveFrame frame = new(Frame(text));
        Assert.Equal(wire, frame.WireText);
        Assert.Equal(stuffAfter, frame.StuffAfter);
    }

    // G. Cook's catalogue of parametrised CRC algorithms, as reproduced by the crc-catalog pages: check values of "123456789".
    [Fact]
    public void CrcOfTheCatalogueTextIsTheCheckValue()
    {
        Assert.Equal(0x059E, FrameLength.Crc15("123456789"u8));
        List<int> bits = [];
        foreach (byte value in "123456789"u8)
        {
            for (int position = 7; position >= 0; position--)
            {
                bits.Add((value >> position) & 1);
            }
        }

        Assert.Equal(0x059E, NaiveFrame.Remainder(bits, 15, 0x4599, 0));
        Assert.Equal(0x04F03, NaiveFrame.Remainder(bits, 17, 0x1685B, 0));
        Assert.Equal(0x0ED841, NaiveFrame.Remainder(bits, 21, 0x102899, 0));
    }

    // Linux commit 80a2fbce456e, "can: length: refactor frame lengths definition to add size in bits": 111 / 131 bits for eight data bytes
    // without stuffing, at most 135 / 160; the other lengths by the same rule (47 or 67 + 8 each, bound (34 or 54 + 8s - 1) / 4).
    [Theory]
    [InlineData(false, 47, 34)]
    [InlineData(true, 67, 54)]
    public void ClassicLengthLiesBetweenTheUnstuffedLengthAndTheBound(bool extended, int overhead, int stuffed)
    {
        Assert.Equal(extended ? 131 : 111, overhead + 64);
        Assert.Equal(extended ? 160 : 135, overhead + 64 + ((stuffed + 64 - 1) / 4));
        Random random = new(71);
        for (int round = 0; round < 20_000; round++)
        {
            CanFrame frame = RandomClassic(random, extended);
            int bytes = frame.IsRemote ? 0 : frame.Length;
            int total = FrameLength.Of(frame).Total;
            int without = overhead + (8 * bytes);
            Assert.Equal(without, total - FrameLength.StuffBits(frame));
            Assert.InRange(total, without, without + ((stuffed + (8 * bytes) - 1) / 4));
        }
    }

    // The same commit: 64 data bytes take 579 / 598 bits without and at most 712 / 736 with dynamic stuffing. The other rows by the same rule.
    [Theory]
    [InlineData(0, 62, 67, 81, 91)]
    [InlineData(8, 126, 147, 145, 171)]
    [InlineData(10, 190, 227, 209, 251)]
    [InlineData(11, 227, 272, 246, 296)]
    [InlineData(15, 579, 712, 598, 736)]
    public void FlexibleLengthLiesBetweenTheUnstuffedLengthAndTheBound(int code, int plain, int worst, int plainExtended, int worstExtended)
    {
        Random random = new(72);
        for (int round = 0; round < 4_000; round++)
        {
            CanFrame frame = RandomFlexible(random, code);
            int total = FrameLength.Of(frame).Total;
            Assert.Equal(frame.Id.IsExtended ? plainExtended : plain, total - FrameLength.StuffBits(frame));
            Assert.InRange(total, frame.Id.IsExtended ? plainExtended : plain, frame.Id.IsExtended ? worstExtended : worst);
        }
    }

    // Sums over all base data frames of that DLC, computed exhaustively by an independent program; no published source.
    [Fact]
    public void AllFramesWithoutDataHaveTheStuffBitsOfTheExhaustiveCount()
    {
        int[] histogram = new int[9];
        for (uint id = 0; id <= CanId.MaxBase; id++)
        {
            histogram[FrameLength.StuffBits(CanFrame.Classic(default, CanId.Base(id), []))]++;
        }

        Assert.Equal([0, 676, 877, 393, 88, 13, 1, 0, 0], histogram);
        Assert.Equal(4032, histogram.Select((count, bits) => count * bits).Sum());
    }

    [Fact]
    public void AllFramesWithOneByteHaveTheStuffBitsOfTheExhaustiveCount()
    {
        int[] histogram = new int[11];
        for (uint id = 0; id <= CanId.MaxBase; id++)
        {
            for (int value = 0; value < 256; value++)
            {
                histogram[FrameLength.StuffBits(CanFrame.Classic(default, CanId.Base(id), [(byte)value]))]++;
            }
        }

        Assert.Equal([0, 171697, 211349, 106891, 29254, 4638, 427, 32, 0, 0, 0], histogram);
        Assert.Equal(1_058_060, histogram.Select((count, bits) => count * bits).Sum());
    }

    [Fact]
    public void RandomClassicFramesAgreeWithTheBitByBitOracle()
    {
        Random random = new(73);
        for (int round = 0; round < 20_000; round++)
        {
            CanFrame frame = RandomClassic(random, extended: random.Next(2) == 0);
            NaiveFrame oracle = new(frame);
            Assert.Equal(oracle.Crc, FrameLength.Crc15(frame));
            Assert.Equal(new FrameBits(oracle.Wire.Count + Intermission, 0), FrameLength.Of(frame));
        }
    }

    [Fact]
    public void RandomFlexibleFramesAgreeWithTheBitByBitOracle()
    {
        Random random = new(74);
        for (int round = 0; round < 20_000; round++)
        {
            CanFrame frame = RandomFlexible(random, random.Next(16));
            NaiveFrame oracle = new(frame);
            int total = oracle.Wire.Count + Intermission;
            Assert.Equal(new FrameBits(total - oracle.DataPhaseBits, oracle.DataPhaseBits), FrameLength.Of(frame));
        }
    }

    // Own count from the field order of ISO 11898-1 (from memory): SOF to BRS 17 bits base, 36 extended, and 12 bits from the ACK slot on.
    [Theory]
    [InlineData(false, 17)]
    [InlineData(true, 36)]
    public void OnlyTheArbitrationPhaseAndTheEndStayAtTheNominalRate(bool extended, int upToSwitch)
    {
        CanFrame frame = RandomFlexible(new Random(75), 15);
        frame.Id = extended ? CanId.Extended(0x15555555) : CanId.Base(0x555);
        frame.Flags = FrameFlags.Flexible | FrameFlags.BitRateSwitch;
        Assert.Equal(upToSwitch + 12, FrameLength.Of(frame).Nominal);
        frame.Flags = FrameFlags.Flexible;
        Assert.Equal(0, FrameLength.Of(frame).Data);
    }

    [Fact]
    public void RemoteFrameHasNoDataBitsWhateverItAsksFor()
    {
        for (byte code = 0; code <= 8; code++)
        {
            CanFrame frame = CanFrame.RemoteRequest(default, CanId.Base(0x2AA), code);
            Assert.Equal(47, FrameLength.Of(frame).Total - FrameLength.StuffBits(frame));
        }
    }

    [Fact]
    public void ErrorMessageHasNoLength() =>
        Assert.Equal(default, FrameLength.Of(CanFrame.ErrorReport(default, 0x204, [0, 8, 0, 0, 0, 0, 0x60, 0])));

    // linux/can.h and ISO 11898-1:2015 (from memory): the code of each FD length.
    [Fact]
    public void EveryFlexibleLengthHasItsCodeAndNoOtherHasOne()
    {
        int[] lengths = [0, 1, 2, 3, 4, 5, 6, 7, 8, 12, 16, 20, 24, 32, 48, 64];
        for (int bytes = -1; bytes <= 300; bytes++)
        {
            if (bytes >= 0)
            {
                Assert.Equal(Array.IndexOf(lengths, bytes), FrameLength.FlexibleCode(bytes));
            }
        }

        Assert.Equal(lengths, Enumerable.Range(0, 16).Select(FrameLength.FlexiblePayload));
    }

    private static CanFrame Frame(string text)
    {
        string[] parts = text.Split('#');
        uint value = uint.Parse(parts[0], NumberStyles.HexNumber, CultureInfo.InvariantCulture);
        CanId id = parts[0].Length == 3 ? CanId.Base(value) : CanId.Extended(value);
        return parts[1] == "R" ? CanFrame.RemoteRequest(default, id, 0) : CanFrame.Classic(default, id, Convert.FromHexString(parts[1]));
    }

    private static CanFrame RandomClassic(Random random, bool extended)
    {
        CanId id = extended ? CanId.Extended((uint)Runs(random, 29)) : CanId.Base((uint)Runs(random, 11));
        if (random.Next(10) == 0)
        {
            return CanFrame.RemoteRequest(default, id, (byte)random.Next(9));
        }

        byte[] data = new byte[random.Next(9)];
        Fill(random, data);
        CanFrame frame = CanFrame.Classic(default, id, data);
        if (data.Length == 8 && random.Next(4) == 0)
        {
            frame.DataLengthCode = (byte)random.Next(8, 16);
        }

        return frame;
    }

    private static CanFrame RandomFlexible(Random random, int code)
    {
        byte[] data = new byte[FrameLength.FlexiblePayload(code)];
        Fill(random, data);
        CanFrame frame = new()
        {
            Id = random.Next(2) == 0 ? CanId.Extended((uint)Runs(random, 29)) : CanId.Base((uint)Runs(random, 11)),
            Flags = FrameFlags.Flexible
                | (random.Next(2) == 0 ? FrameFlags.BitRateSwitch : FrameFlags.None)
                | (random.Next(2) == 0 ? FrameFlags.ErrorStateIndicator : FrameFlags.None),
            Length = (byte)data.Length,
            DataLengthCode = (byte)code,
        };
        data.CopyTo(frame.Data);
        return frame;
    }

    private static void Fill(Random random, byte[] data)
    {
        for (int index = 0; index < data.Length; index++)
        {
            data[index] = (byte)Runs(random, 8);
        }
    }

    /// <summary>Numbers with long runs of equal bits as often as arbitrary ones, so that stuffing happens.</summary>
    private static ulong Runs(Random random, int width)
    {
        if (random.Next(2) == 0)
        {
            return (ulong)random.NextInt64(1L << width);
        }

        ulong value = 0;
        int bit = random.Next(2);
        for (int position = 0; position < width; position++)
        {
            bit = random.Next(5) == 0 ? 1 - bit : bit;
            value = (value << 1) | (uint)bit;
        }

        return value;
    }
}
