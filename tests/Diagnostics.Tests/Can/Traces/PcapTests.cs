using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

// Layout: the classic capture file as tcpdump.org's pcap-savefile page gives it (from memory).
public class PcapTests
{
    [Theory]
    [InlineData(false, false, 500_000_123_000)]
    [InlineData(false, true, 500_000_000_123)]
    [InlineData(true, false, 500_000_123_000)]
    [InlineData(true, true, 500_000_000_123)]
    public void BothByteOrdersAndBothResolutionsAreRead(bool bigEndian, bool nanoseconds, long expected)
    {
        byte[] bytes = new CaptureBytes(bigEndian).PcapHeader(nanoseconds: nanoseconds).PcapRecord(500, 123, CaptureBytes.Classic(0x123, 1, 2)).ToArray();
        CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(TraceFormat.Pcap, parser.Format);
        Assert.Equal("can0", Assert.Single(sink.Interfaces).Facts.Name);
        CanFrame frame = Assert.Single(sink.Frames);
        Assert.Equal((new Instant(expected), CanId.Base(0x123), 2), (frame.Time, frame.Id, frame.Length));
    }

    [Theory]
    [InlineData(11, 0xFF)]
    [InlineData(8, 0x07)]
    [InlineData(7, 0x7F)]
    [InlineData(8, 0x20)]
    public void ReadingGoesOnBehindADamagedHeader(int position, byte value)
    {
        CaptureBytes capture = new CaptureBytes().PcapHeader();
        List<int> starts = [];
        for (uint id = 0; id < 10; id++)
        {
            starts.Add(capture.Length);
            capture.PcapRecord(1000, id * 1000, CaptureBytes.Classic(id, 1, 2, 3, 4));
        }

        byte[] bytes = capture.ToArray();
        bytes[starts[4] + position] = value;
        foreach (int piece in (int[])[int.MaxValue, 1])
        {
            CollectingSink sink = CaptureBytes.Read(bytes, out TraceParser parser, piece);
            Assert.InRange(parser.DamagedRecords, 1, 2);
            List<uint> ids = [.. sink.Frames.Select(frame => frame.Id.Value)];
            Assert.Equal([0u, 1u, 2u, 3u], ids.Take(4));
            Assert.Equal([6u, 7u, 8u, 9u], ids.TakeLast(4));
            Assert.Contains(sink.NotSeen, notSeen => notSeen.Kind == NotSeenKind.DamagedRecords);
        }
    }

    [Fact]
    public void EveryCutEndsWithTheWholeRecordsAndSaysSo()
    {
        CaptureBytes capture = new CaptureBytes().PcapHeader();
        List<int> ends = [capture.Length];
        for (uint id = 0; id < 5; id++)
        {
            capture.PcapRecord(id, 0, CaptureBytes.Classic(id, 1, 2, 3));
            ends.Add(capture.Length);
        }

        byte[] bytes = capture.ToArray();
        for (int length = 4; length <= bytes.Length; length++)
        {
            CollectingSink sink = CaptureBytes.Read(bytes[..length], out TraceParser parser);
            Assert.Null(parser.Error);
            Assert.Equal(Math.Max(0, ends.Count(end => end <= length) - 1), sink.Frames.Count);
            Assert.Equal(ends.Contains(length) ? 0 : 1, sink.NotSeen.Count(notSeen => notSeen.Kind == NotSeenKind.BrokenOff));
        }
    }

    [Fact]
    public void CaptureOfSomethingElseIsAnErrorWithItsPlace()
    {
        CaptureBytes.Read(new CaptureBytes().PcapHeader(1).ToArray(), out TraceParser parser);
        Assert.Equal((TraceProblem.NoCan, "byte 20"), (parser.Error?.Problem, parser.Error?.Place));
    }

    [Fact]
    public void UnknownVersionIsAnError()
    {
        byte[] bytes = new CaptureBytes().PcapHeader().ToArray();
        bytes[4] = 3;
        CaptureBytes.Read(bytes, out TraceParser parser);
        Assert.Equal(TraceProblem.UnsupportedVersion, parser.Error?.Problem);
    }
}
