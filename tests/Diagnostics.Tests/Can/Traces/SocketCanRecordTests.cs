using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

// LINKTYPE_CAN_SOCKETCAN and LINKTYPE_LINUX_SLL, tcpdump.org; flags and sizes: linux/can.h.
public class SocketCanRecordTests
{
    [Theory]
    [InlineData(0x04, 8, 0, false, true)]
    [InlineData(0x05, 8, 0, false, true)]
    [InlineData(0x00, 8, 16, false, false)]
    [InlineData(0x00, 8, 72, false, true)]
    [InlineData(0x00, 8, 0, false, false)]
    [InlineData(0xFF, 8, 0, false, false)]
    [InlineData(0x04, 8, 0, true, false)]
    [InlineData(0x00, 12, 0, false, true)]
    [InlineData(0x04, 64, 0, false, true)]
    public void FlexibleIsToldByItsFlagOrItsSizeAndNeverByGarbage(byte flags, byte length, int size, bool reservedGarbage, bool flexible)
    {
        byte[] record = CaptureBytes.Record(0x123, length, flags, new byte[length], size);
        record[6] = reservedGarbage ? (byte)0xFF : (byte)0;
        CanFrame frame = Assert.Single(Read(record));
        Assert.Equal(flexible, frame.IsFlexible);
        Assert.Equal(length, frame.Length);
        Assert.Equal(flags == 0x05, (frame.Flags & FrameFlags.BitRateSwitch) != 0);
    }

    [Fact]
    public void FlagsOfAnInterfaceThatShowedGarbageAreNotBelieved()
    {
        List<CanFrame> frames = Read(CaptureBytes.Record(0x123, 8, 0xFF, new byte[8]), CaptureBytes.Record(0x123, 8, 0x04, new byte[8]));
        Assert.All(frames, frame => Assert.False(frame.IsFlexible));
    }

    [Fact]
    public void RemoteFrameKeepsItsCodeAndHasNoPayload()
    {
        List<CanFrame> frames = Read(CaptureBytes.Record(0x4000_0123, 4, 0, []), CaptureBytes.Record(0xC000_0123, 8, 0, new byte[8]));
        Assert.All(frames, frame => Assert.True(frame.IsRemote && frame.Length == 0));
        Assert.Equal([4, 8], frames.Select(frame => (int)frame.DataLengthCode));
    }

    [Fact]
    public void ErrorMessageCarriesItsClassAndDetail()
    {
        CanFrame frame = Assert.Single(Read(CaptureBytes.Classic(0x2000_0204, 0, 8, 0, 0, 0, 0, 0x60, 0)));
        Assert.True(frame.IsError);
        Assert.Equal(0x204u, frame.ErrorClassBits);
        Assert.Equal(96, ErrorMessage.From(frame).TransmitErrorCounter);
    }

    [Fact]
    public void LongCodeOfAnEightByteFrameIsKept()
    {
        byte[] record = CaptureBytes.Record(0x123, 8, 0, new byte[8]);
        record[7] = 14;
        Assert.Equal(14, Assert.Single(Read(record)).DataLengthCode);
    }

    [Theory]
    [InlineData(0x123u, 8, 4, TraceDamage.RecordTooShort)]
    [InlineData(0x123u, 9, 9, TraceDamage.PayloadLength)]
    [InlineData(0x123u, 65, 65, TraceDamage.PayloadLength)]
    [InlineData(0x123u, 200, 64, TraceDamage.UnsupportedFrame)]
    [InlineData(0x0001_0000u, 0, 0, TraceDamage.Identifier)]
    [InlineData(0x2000_0004u, 12, 12, TraceDamage.PayloadLength)]
    [InlineData(0x4000_0004u, 12, 12, TraceDamage.PayloadLength)]
    public void ImpossibleRecordsAreDamageByReason(uint word, byte length, int payload, TraceDamage reason)
    {
        CaptureBytes capture = new CaptureBytes().Section().Interface("can0");
        for (uint tick = 0; tick < 5; tick++)
        {
            capture.Packet(0, tick, CaptureBytes.Classic(0x100));
        }

        byte[] bytes = capture.Packet(0, 9, CaptureBytes.Record(word, length, 0, new byte[payload])).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(5, sink.Frames.Count);
        Assert.Equal((1L, 1L), (parser.DamageCount(reason), parser.DamagedRecords));
    }

    [Fact]
    public void EveryTruncatedRecordIsDamage()
    {
        byte[] record = CaptureBytes.Classic(0x123, 1, 2, 3, 4, 5, 6, 7, 8);
        for (int length = 0; length < record.Length; length++)
        {
            CanFrame frame = default;
            bool unreliable = false;
            Assert.Equal(TraceDamage.RecordTooShort, SocketCanRecord.Read(record.AsSpan(0, length), false, RecordKind.Open, ref unreliable, ref frame));
        }
    }

    [Fact]
    public void LittleEndianIdentifiersAreRecognisedPerInterfaceAndSaid()
    {
        CaptureBytes capture = new CaptureBytes().Section().Interface("can0").Interface("can1");
        uint[] words = [0x123, 0x98EEFF21, 0x700, 0x2000_0004, 0x4000_0011, 0x7FF];
        ulong tick = 0;
        foreach (uint word in words)
        {
            byte length = (byte)((word & 0x2000_0000) != 0 ? 8 : 0);
            capture.Packet(0, tick++, CaptureBytes.Record(word, length, 0, new byte[length], littleEndianId: true));
            capture.Packet(1, tick++, CaptureBytes.Record(word, length, 0, new byte[length]));
        }

        CollectingSink sink = CaptureBytes.Read(capture.ToArray(), out TraceParser parser);
        Assert.Equal(12, sink.Frames.Count);
        for (int index = 0; index < 12; index += 2)
        {
            Assert.Equal(sink.Frames[index + 1].Id, sink.Frames[index].Id);
            Assert.Equal(sink.Frames[index + 1].Flags, sink.Frames[index].Flags);
            Assert.True(sink.Frames[index].Time < sink.Frames[index + 1].Time);
        }

        Assert.Contains("can0", FormattableString.Invariant(Assert.Single(parser.Remarks)));
    }

    [Fact]
    public void OneDamagedIdentifierDoesNotTurnTheByteOrder()
    {
        List<byte[]> records = [CaptureBytes.Record(0x2301_0000, 0, 0, [])];
        records.AddRange(Enumerable.Range(0, 10).Select(index => CaptureBytes.Classic((uint)(0x200 + index))));
        List<CanFrame> frames = Read([.. records]);
        Assert.Equal(Enumerable.Range(0x200, 10).Select(id => (uint)id), frames.Where(frame => !frame.IsError).Select(frame => frame.Id.Value));
    }

    [Theory]
    [InlineData(113, true)]
    [InlineData(113, false)]
    [InlineData(276, true)]
    [InlineData(276, false)]
    public void CookedCapturesCarryCan(int linkType, bool littleEndianId)
    {
        CaptureBytes capture = new CaptureBytes().PcapHeader(linkType);
        for (uint second = 1; second <= 5; second++)
        {
            capture.PcapRecord(second, 0, Cooked(linkType, 0x000C, 1, 3, CaptureBytes.Record(0x100 + second, 2, 0, [1, 2], 16, littleEndianId)));
        }

        capture.PcapRecord(6, 0, Cooked(linkType, 0x000D, 4, 3, CaptureBytes.Record(0x200, 12, 0, new byte[12], 72, littleEndianId)));
        capture.PcapRecord(7, 0, Cooked(linkType, 0x0800, 4, 2, new byte[30]));
        CollectingSink sink = CaptureBytes.Read(capture.ToArray(), out TraceParser parser);
        Assert.Equal([0x101u, 0x102u, 0x103u, 0x104u, 0x105u, 0x200u], sink.Frames.Select(frame => frame.Id.Value));
        Assert.Equal(FrameFlags.Flexible | FrameFlags.OwnHost, sink.Frames[5].Flags);
        Assert.All(sink.Frames.Take(5), frame => Assert.Equal(FrameFlags.None, frame.Flags));
        Assert.Equal("can0", Assert.Single(sink.Interfaces).Facts.Name);
        Assert.Equal(littleEndianId ? 2 : 1, parser.Remarks.Count);
        Assert.Equal(0, parser.DamagedRecords);
    }

    [Fact]
    public void CookedCapturesOfVersionTwoKeepKernelInterfacesApart()
    {
        CaptureBytes capture = new CaptureBytes().PcapHeader(276);
        for (uint second = 1; second <= 8; second++)
        {
            capture.PcapRecord(second, 0, Cooked(276, 0x000C, 0, 3 + (second & 1), CaptureBytes.Classic(0x100 + second)));
        }

        CollectingSink sink = CaptureBytes.Read(capture.ToArray(), out TraceParser parser);
        Assert.Equal([0, 1, 0, 1, 0, 1, 0, 1], sink.Frames.Select(frame => (int)frame.Interface));
        Assert.Contains("can1 is the kernel's interface number 3", FormattableString.Invariant(Assert.Single(parser.Remarks)));
    }

    private static byte[] Cooked(int linkType, ushort protocol, byte packetType, uint kernelIndex, byte[] record)
    {
        CaptureBytes big = new(bigEndian: true);
        return linkType == 113
            ? big.Raw(big.U16(packetType)).Raw(big.U16(280)).Raw(big.U16(0)).Raw(new byte[8]).Raw(big.U16(protocol)).Raw(record).ToArray()
            : big.Raw(big.U16(protocol)).Raw(big.U16(0)).Raw(big.U32(kernelIndex)).Raw(big.U16(280)).Raw(packetType, 0).Raw(new byte[8]).Raw(record).ToArray();
    }

    private static List<CanFrame> Read(params byte[][] records)
    {
        CaptureBytes capture = new CaptureBytes().Section().Interface("can0");
        for (int index = 0; index < records.Length; index++)
        {
            capture.Packet(0, (ulong)index, records[index]);
        }

        return CaptureBytes.Read(capture.ToArray(), out _).Frames;
    }
}
