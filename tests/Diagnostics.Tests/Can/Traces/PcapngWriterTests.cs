using System.Buffers;
using System.Security.Cryptography;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

public class PcapngWriterTests
{
    /// <summary>
    /// Computed by hand from draft-tuexen-opsawg-pcapng: frame 0x123 at 1700000000.123456789 and an error message one millisecond later
    /// (class 0x204, transmit warning, TEC 96: linux/can/error.h 6.1).
    /// </summary>
    private const string Sample =
        "0a0d0d0a1c0000004d3c2b1a01000000ffffffffffffffff1c000000"
        + "0100000028000000e3000000000000000200040063616e3009000100090000000000000028000000"
        + "060000003000000000000000fe9c971715cd853d10000000100000000000012308000000112233445566778830000000"
        + "060000003000000000000000fe9c9717550f953d10000000100000002000020408000000000800000000600030000000"
        + "050000003400000000000000fe9c9717550f953d0400080002000000000000000500080000000000000000000000000034000000";

    private const string SampleHash = "c1b8446311482dd8f700c7fcf8435acca04f9fe15c57fe57d76e06d1b04ed7de";

    private static readonly Instant Start = new(1_700_000_000_123_456_789);

    [Fact]
    public void SampleIsWrittenByteForByte()
    {
        ArrayBufferWriter<byte> output = new();
        PcapngWriter writer = new(output);
        writer.WriteInterface("can0");
        writer.Write(CanFrame.Classic(Start, CanId.Base(0x123), [0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88]));
        writer.Write(CanFrame.ErrorReport(Start + TimeSpan.FromMilliseconds(1), 0x204, [0, 8, 0, 0, 0, 0, 0x60, 0]));
        writer.WriteStatistics(0, Start + TimeSpan.FromMilliseconds(1), received: 2, dropped: 0);
        Assert.Equal(216, output.WrittenCount);
        Assert.Equal(Sample, Convert.ToHexStringLower(output.WrittenSpan));
        Assert.Equal(SampleHash, Convert.ToHexStringLower(SHA256.HashData(output.WrittenSpan)));
    }

    [Fact]
    public void SampleIsReadAsWhatItHolds()
    {
        CollectingSink sink = CaptureBytes.Read(Convert.FromHexString(Sample), out TraceParser parser);
        Assert.Equal((1L, 1L, 0L), (parser.Frames, parser.ErrorMessages, parser.DamagedRecords));
        Assert.Equal([Start, Start + TimeSpan.FromMilliseconds(1)], sink.Frames.Select(frame => frame.Time));
        Assert.Equal(CanId.Base(0x123), sink.Frames[0].Id);
        Assert.Equal(96, ErrorMessage.From(sink.Frames[1]).TransmitErrorCounter);
        Assert.Empty(sink.NotSeen);
    }

    /// <summary>Option if_speed of an interface description block: code 8, eight bytes, bit/s (draft-tuexen-opsawg-pcapng, 4.2).</summary>
    [Theory]
    [InlineData(125_000, 125_000)]
    [InlineData(1_000_000, 1_000_000)]
    [InlineData(100_000_000, null)]
    [InlineData(0, null)]
    [InlineData(null, null)]
    public void TheBitRateOfAnInterfaceComesBackIfACanBusCanHaveIt(int? written, int? read)
    {
        ArrayBufferWriter<byte> output = new();
        PcapngWriter writer = new(output);
        writer.WriteInterface("can0", written);
        writer.Write(CanFrame.Classic(Start, CanId.Base(0x123), [1]));
        CollectingSink sink = CaptureBytes.Read(output.WrittenSpan.ToArray(), out _);
        Assert.Equal(read, Assert.Single(sink.Interfaces).Facts.BitRate);
        Assert.Single(sink.Frames);
    }

    [Fact]
    public void EveryKindOfFrameComesBackAsItWas()
    {
        Random random = new(81);
        ArrayBufferWriter<byte> output = new();
        PcapngWriter writer = new(output);
        writer.WriteInterface("can0");
        writer.WriteInterface("workshop bus");
        List<CanFrame> written = [];
        for (int index = 0; index < 2000; index++)
        {
            CanFrame frame = RandomFrame(random);
            frame.Time = new(1_600_000_000_000_000_000 + index);
            frame.Interface = (byte)random.Next(2);
            written.Add(frame);
            writer.Write(frame);
        }

        CollectingSink sink = CaptureBytes.Read(output.WrittenSpan.ToArray(), out TraceParser parser);
        Assert.Equal(0, parser.DamagedRecords);
        Assert.Equal(["can0", "workshop bus"], sink.Interfaces.Select(found => found.Facts.Name));
        Assert.Equal(written.Count, sink.Frames.Count);
        for (int index = 0; index < written.Count; index++)
        {
            CanFrame expected = written[index];
            CanFrame actual = sink.Frames[index];
            Assert.Equal((expected.Time, expected.Id, expected.Flags, expected.Length, expected.DataLengthCode), (actual.Time, actual.Id, actual.Flags, actual.Length, actual.DataLengthCode));
            Assert.Equal((expected.Interface, expected.ErrorClassBits, Convert.ToHexString(expected.Bytes)), (actual.Interface, actual.ErrorClassBits, Convert.ToHexString(actual.Bytes)));
        }
    }

    [Fact]
    public void FrameOfAnUndescribedInterfaceIsRefused()
    {
        PcapngWriter writer = new(new ArrayBufferWriter<byte>());
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(CanFrame.Classic(Start, CanId.Base(1), [])));
    }

    internal static CanFrame RandomFrame(Random random)
    {
        CanId id = random.Next(2) == 0 ? CanId.Base((uint)random.Next(0x800)) : CanId.Extended((uint)random.Next(0x2000_0000));
        byte[] data = new byte[random.Next(9)];
        random.NextBytes(data);
        CanFrame frame;
        switch (random.Next(5))
        {
            case 0:
                return CanFrame.RemoteRequest(default, id, (byte)random.Next(9));
            case 1:
                byte[] detail = new byte[8];
                random.NextBytes(detail);
                return CanFrame.ErrorReport(default, (uint)random.Next(0x400), detail);
            case 2:
                int code = random.Next(16);
                byte[] payload = new byte[FrameLength.FlexiblePayload(code)];
                random.NextBytes(payload);
                frame = new() { Id = id, Length = (byte)payload.Length, DataLengthCode = (byte)code, Flags = FrameFlags.Flexible | (FrameFlags)(random.Next(4) << 3) };
                payload.CopyTo(frame.Data);
                return frame;
            default:
                frame = CanFrame.Classic(default, id, data);
                frame.DataLengthCode = data.Length == 8 && random.Next(2) == 0 ? (byte)random.Next(8, 16) : frame.DataLengthCode;
                frame.Flags = random.Next(4) == 0 ? FrameFlags.OwnHost : FrameFlags.None;
                return frame;
        }
    }
}
