using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

// Layouts and numbers: draft-tuexen-opsawg-pcapng (Sept 2015) and LINKTYPE_CAN_SOCKETCAN, tcpdump.org.
public class PcapngTests
{
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void BothByteOrdersAreRead(bool bigEndian)
    {
        byte[] bytes = new CaptureBytes(bigEndian).Section().Interface("can3")
            .Packet(0, 1_700_000_000_123_456, CaptureBytes.Classic(0x123, 1, 2, 3))
            .Packet(0, 1_700_000_000_123_500, CaptureBytes.Classic(0x98EEFF21, 9)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Null(parser.Error);
        Assert.Equal(TraceFormat.Pcapng, parser.Format);
        Assert.Equal("can3", Assert.Single(sink.Interfaces).Facts.Name);
        Assert.Equal(2, sink.Frames.Count);
        Assert.Equal(new Instant(1_700_000_000_123_456_000), sink.Frames[0].Time);
        Assert.Equal(CanId.Base(0x123), sink.Frames[0].Id);
        Assert.Equal([1, 2, 3], sink.Frames[0].Bytes.ToArray());
        Assert.Equal(CanId.Extended(0x18EEFF21), sink.Frames[1].Id);
        Assert.Empty(sink.NotSeen);
    }

    [Theory]
    [InlineData(3, 1_234, 1_234_000_000)]
    [InlineData(6, 1_234, 1_234_000)]
    [InlineData(9, 1_234, 1_234)]
    [InlineData(12, 1_234_000, 1_234)]
    [InlineData(0x80 | 10, 1536, 1_500_000_000)]
    [InlineData(28, 10_000_000_000_000_000_000, 1)]
    [InlineData(0x80 | 0, 7, 7_000_000_000)]
    [InlineData(0x80 | 64, 1ul << 63, 500_000_000)]
    [InlineData(0x80 | 93, ulong.MaxValue, 1)]
    [InlineData(0x80 | 127, ulong.MaxValue, 0)]
    public void TimeResolutionIsAPowerOfTenOrTwo(byte resolution, ulong ticks, long nanoseconds)
    {
        byte[] bytes = new CaptureBytes().Section().Interface("can0", resolution: resolution).Packet(0, ticks, CaptureBytes.Classic(1)).ToArray();
        Assert.Equal(nanoseconds, Assert.Single(CaptureBytes.Read(bytes, out _).Frames).Time.Nanoseconds);
    }

    [Fact]
    public void TimeOffsetIsWholeSecondsAndMayBeNegative()
    {
        byte[] bytes = new CaptureBytes().Section().Interface("can0", offset: 1_700_000_000).Interface("can1", offset: -5)
            .Packet(0, 1, CaptureBytes.Classic(1)).Packet(1, 1, CaptureBytes.Classic(1)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out _);
        Assert.Equal([1_700_000_000_000_001_000, -4_999_999_000], sink.Frames.Select(frame => frame.Time.Nanoseconds));
    }

    [Theory]
    [InlineData(6, ulong.MaxValue)]
    [InlineData(0x80, ulong.MaxValue)]
    [InlineData(0x80 | 30, ulong.MaxValue)]
    [InlineData(99, 1ul)]
    public void ImpossibleTimeIsDamage(byte resolution, ulong ticks)
    {
        byte[] bytes = new CaptureBytes().Section().Interface("can0", resolution: resolution).Packet(0, ticks, CaptureBytes.Classic(1)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Empty(sink.Frames);
        Assert.Equal(1, parser.DamageCount(TraceDamage.TimeStamp));
        Assert.Equal(NotSeenKind.DamagedRecords, Assert.Single(sink.NotSeen).Kind);
    }

    [Fact]
    public void SectionsNumberTheirInterfacesAnewAndNamesKeepTheirIndex()
    {
        CaptureBytes first = new CaptureBytes().Section().Interface("can0").Interface("can1").Packet(1, 10, CaptureBytes.Classic(1));
        CaptureBytes second = new CaptureBytes(true).Section().Interface("can1").Interface("can2").Packet(0, 20, CaptureBytes.Classic(2)).Packet(1, 30, CaptureBytes.Classic(3));
        CollectingSink sink = CaptureBytes.Read([.. first.ToArray(), .. second.ToArray()], out _);
        Assert.Equal(["can0", "can1", "can2"], sink.Interfaces.Select(found => found.Facts.Name));
        Assert.Equal([1, 1, 2], sink.Frames.Select(frame => (int)frame.Interface));
    }

    [Fact]
    public void SeveralFilesShareOneListOfInterfaces()
    {
        CollectingSink sink = new();
        TraceInterfaces interfaces = new();
        foreach (string name in (string[])["can1", "can0", "can1"])
        {
            TraceParser parser = TraceParser.Create(sink, interfaces);
            parser.Feed(new CaptureBytes().Section().Interface(name).Packet(0, 10, CaptureBytes.Classic(1)).ToArray());
            Assert.True(parser.Complete());
        }

        Assert.Equal([0, 1, 0], sink.Frames.Select(frame => (int)frame.Interface));
        Assert.Equal(2, sink.Interfaces.Count);
    }

    [Fact]
    public void InterfacesWithoutNameOrWithTheSameNameStayApart()
    {
        byte[] bytes = new CaptureBytes().Section().Interface(null).Interface("bus").Interface("bus").ToArray();
        Assert.Equal(["can0", "bus", "bus#2"], CaptureBytes.Read(bytes, out _).Interfaces.Select(found => found.Facts.Name));
    }

    [Fact]
    public void UnknownBlocksAreSkippedEvenLargeOnes()
    {
        byte[] bytes = new CaptureBytes().Section().Block(4, new byte[40]).Interface("can0").Block(0x0BAD, new byte[20])
            .Packet(0, 1, CaptureBytes.Classic(1)).Block(0x0BAD, new byte[400_000]).Packet(0, 2, CaptureBytes.Classic(2)).ToArray();
        foreach (int piece in (int[])[int.MaxValue, 1000])
        {
            CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser, piece);
            Assert.Equal(2, sink.Frames.Count);
            Assert.Equal(0, parser.DamagedRecords);
        }
    }

    [Fact]
    public void ObsoletePacketBlockIsReadWithItsDropCount()
    {
        CaptureBytes capture = new();
        byte[] data = CaptureBytes.Classic(0x42, 7, 8);
        byte[] Obsolete(ushort drops, uint ticks)
        {
            CaptureBytes part = new();
            return part.Block(2, part.U16(0), part.U16(drops), part.U32(0), part.U32(ticks), part.U32(10), part.U32(10), data).ToArray();
        }

        byte[] bytes = [.. capture.Section().Interface("can0").ToArray(), .. Obsolete(0, 5), .. Obsolete(3, 9), .. Obsolete(0xFFFF, 12)];
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(3, parser.Frames);
        NotSeen dropped = Assert.Single(sink.NotSeen);
        Assert.Equal((NotSeenKind.KernelDropped, 3L, new Instant(5_000), new Instant(9_000)), (dropped.Kind, dropped.Count, dropped.Start, dropped.End));
    }

    [Fact]
    public void SimplePacketBlockHasNoTimeSoItIsDamageAndSaid()
    {
        CaptureBytes capture = new();
        byte[] bytes = capture.Section().Interface("can0").Block(3, capture.U32(8), CaptureBytes.Classic(1)).Packet(0, 1, CaptureBytes.Classic(1)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Single(sink.Frames);
        Assert.Equal(1, parser.DamageCount(TraceDamage.NoTimeStamp));
        Assert.Contains("without a time stamp", FormattableString.Invariant(Assert.Single(parser.Remarks)));
    }

    [Fact]
    public void DropCountersOfStatisticsAreTotalsAndToldAsDifferences()
    {
        CaptureBytes capture = new();
        byte[] Statistics(uint ticks, ulong interfaceDrops, ulong systemDrops) => new CaptureBytes().Block(
            5, capture.U32(0), capture.U32(0), capture.U32(ticks), capture.Option(5, capture.U64(interfaceDrops)), capture.Option(7, capture.U64(systemDrops)), capture.Option(0, [])).ToArray();
        byte[] bytes =
        [
            .. new CaptureBytes().Section().Interface("can0").Packet(0, 10, CaptureBytes.Classic(1)).ToArray(),
            .. Statistics(20, 4, 1), .. Statistics(30, 4, 1), .. Statistics(40, 6, 1),
        ];
        CollectingSink sink = CaptureBytes.Read(bytes, out _);
        Assert.Equal([5L, 2L], sink.NotSeen.Select(notSeen => notSeen.Count));
        Assert.All(sink.NotSeen, notSeen => Assert.Equal(NotSeenKind.KernelDropped, notSeen.Kind));
        Assert.Equal(new Instant(10_000), sink.NotSeen[0].Start);
        Assert.Equal(new Instant(40_000), sink.NotSeen[1].End);
    }

    // draft-tuexen-opsawg-pcapng (Sept 2015) 4.6: end time example 96 c3 04 00 73 89 6a 65 = 2012-06-29 06:17:00.834163 UTC (checked: the start time example in print is wrong by its first byte).
    [Fact]
    public void TimeOfTheDraftsExampleIsReadAsHighAndLowWord()
    {
        byte[] ticks = [0x96, 0xC3, 0x04, 0x00, 0x73, 0x89, 0x6A, 0x65];
        ulong value = ((ulong)BitConverter.ToUInt32(ticks, 0) << 32) | BitConverter.ToUInt32(ticks, 4);
        byte[] bytes = new CaptureBytes().Section().Interface("can0").Packet(0, value, CaptureBytes.Classic(1)).ToArray();
        Assert.Equal("2012-06-29T06:17:00.834163Z", Assert.Single(CaptureBytes.Read(bytes, out _).Frames).Time.ToString());
    }

    [Fact]
    public void PacketOptionsSayDirectionAndDrops()
    {
        CaptureBytes capture = new();
        byte[] bytes = capture.Section().Interface("can0")
            .Packet(0, 1, CaptureBytes.Classic(1), capture.Option(2, capture.U32(2)), capture.Option(0, []))
            .Packet(0, 2, CaptureBytes.Classic(1), capture.Option(2, capture.U32(1)), capture.Option(4, capture.U64(9)), capture.Option(0, [])).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out _);
        Assert.Equal([FrameFlags.OwnHost, FrameFlags.None], sink.Frames.Select(frame => frame.Flags));
        Assert.Equal(9, Assert.Single(sink.NotSeen).Count);
    }

    [Fact]
    public void ReadingGoesOnBehindADamagedLength()
    {
        CaptureBytes start = new CaptureBytes().Section().Interface("can0").Packet(0, 1, CaptureBytes.Classic(1));
        int damaged = start.Length;
        byte[] bytes = start.Packet(0, 2, CaptureBytes.Classic(2)).Packet(0, 3, CaptureBytes.Classic(3)).ToArray();
        foreach (byte wrong in (byte[])[0, 3, 36, 200])
        {
            byte[] copy = [.. bytes];
            copy[damaged + 4] = wrong;
            foreach (int piece in (int[])[int.MaxValue, 1])
            {
                CollectingSink sink = CaptureBytes.Read(copy, out TraceParser parser, piece);
                Assert.Equal([1u, 3u], sink.Frames.Select(frame => frame.Id.Value));
                Assert.Equal(1, parser.DamagedRecords);
                NotSeen notSeen = Assert.Single(sink.NotSeen);
                Assert.Equal((NotSeenKind.DamagedRecords, 1L, new Instant(1_000), new Instant(3_000)), (notSeen.Kind, notSeen.Count, notSeen.Start, notSeen.End));
            }
        }
    }

    [Fact]
    public void EveryCutEndsWithTheWholeRecordsAndSaysSo()
    {
        CaptureBytes capture = new CaptureBytes().Section().Interface("can0");
        List<int> ends = [28, capture.Length];
        for (uint id = 0; id < 5; id++)
        {
            capture.Packet(0, id, CaptureBytes.Classic(id, 1, 2, 3));
            ends.Add(capture.Length);
        }

        byte[] bytes = capture.ToArray();
        for (int length = 4; length < bytes.Length; length++)
        {
            CollectingSink sink = CaptureBytes.Read(bytes[..length], out TraceParser parser);
            Assert.Null(parser.Error);
            Assert.Equal(Math.Max(0, ends.Count(end => end <= length) - 2), sink.Frames.Count);
            Assert.Equal(ends.Contains(length) ? 0 : 1, sink.NotSeen.Count(notSeen => notSeen.Kind == NotSeenKind.BrokenOff));
            Assert.Equal(0, parser.DamagedRecords);
        }
    }

    [Fact]
    public void PacketOfAnUndescribedInterfaceIsDamage()
    {
        CaptureBytes.Read(new CaptureBytes().Section().Interface("can0").Packet(1, 1, CaptureBytes.Classic(1)).ToArray(), out TraceParser parser);
        Assert.Equal(1, parser.DamageCount(TraceDamage.UnknownInterface));
    }

    [Fact]
    public void MoreInterfacesThanTheLimitAreDamage()
    {
        CaptureBytes capture = new CaptureBytes().Section();
        for (int index = 0; index <= TraceLimits.Interfaces; index++)
        {
            capture.Interface("can" + index);
        }

        CollectingSink sink = CaptureBytes.Read(capture.ToArray(), out TraceParser parser);
        Assert.Equal(TraceLimits.Interfaces, sink.Interfaces.Count);
        Assert.Equal(1, parser.DamageCount(TraceDamage.InterfaceLimit));
    }

    [Fact]
    public void OptionsThatOverrunTheirBlockAreDamage()
    {
        CaptureBytes capture = new();
        byte[] bytes = capture.Section().Block(1, capture.U16(227), capture.U16(0), capture.U32(0), capture.U16(2), capture.U16(4000)).ToArray();
        CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(1, parser.DamageCount(TraceDamage.Options));
    }

    [Fact]
    public void TooShortBlocksAreDamage()
    {
        CaptureBytes capture = new();
        byte[] bytes = capture.Section().Block(1, capture.U16(227)).Interface("can0").Block(6, new byte[8]).Block(5, new byte[4]).ToArray();
        CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(3, parser.DamageCount(TraceDamage.BlockTooShort));
    }

    [Fact]
    public void CaptureOfSomethingElseIsAnError()
    {
        CollectingSink sink = CaptureBytes.Read(new CaptureBytes().Section().Interface("eth0", 1).Packet(0, 1, new byte[60]).ToArray(), out TraceParser parser);
        Assert.Equal(TraceProblem.NoCan, parser.Error?.Problem);
        Assert.Empty(sink.Frames);
    }

    [Fact]
    public void InterfacesThatCarryNoCanArePassedOverBesideOthers()
    {
        byte[] bytes = new CaptureBytes().Section().Interface("eth0", 1).Interface("can0").Packet(0, 1, new byte[60]).Packet(1, 1, CaptureBytes.Classic(1)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Null(parser.Error);
        Assert.Single(sink.Frames);
        Assert.Contains("eth0 carries no CAN", FormattableString.Invariant(Assert.Single(parser.Remarks)));
    }

    [Fact]
    public void FirstBlockThatIsNoneIsAnErrorWithItsPlace()
    {
        CaptureBytes.Read([0x0A, 0x0D, 0x0D, 0x0A, 28, 0, 0, 0, 1, 2, 3, 4, 0, 0, 0, 0], out TraceParser parser);
        Assert.Equal((TraceProblem.NotATrace, "byte 0"), (parser.Error?.Problem, parser.Error?.Place));
        CaptureBytes capture = new();
        CaptureBytes.Read(capture.Block(0x0A0D0D0A, capture.U32(0x1A2B3C4D), capture.U16(2), capture.U16(0), capture.U64(0)).ToArray(), out parser);
        Assert.Equal(TraceProblem.UnsupportedVersion, parser.Error?.Problem);
    }
}
