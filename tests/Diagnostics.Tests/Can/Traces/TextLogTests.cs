using System.Text;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

public class TextLogTests
{
    private const string Good = "(1.000000) can0 123#1122\n";

    [Theory]
    [InlineData("(1681229878.879041) can1 123#1122", 1_681_229_878_879_041_000, "0x123", FrameFlags.None, 2, 2)]
    [InlineData("(0.5) can1 7FF#", 500_000_000, "0x7FF", FrameFlags.None, 0, 0)]
    [InlineData("(-1.250000) can1 00FFAB80#11.22.33", -1_250_000_000, "0x00FFAB80", FrameFlags.None, 3, 3)]
    [InlineData("(1.123456789) can1 123#R", 1_123_456_789, "0x123", FrameFlags.Remote, 0, 0)]
    [InlineData("(1.0) can1 123#R4", 1_000_000_000, "0x123", FrameFlags.Remote, 0, 4)]
    [InlineData("(1.0) can1 123#1122334455667788_E", 1_000_000_000, "0x123", FrameFlags.None, 8, 14)]
    [InlineData("(1.0) can1 123##3112233445566778899AABBCC", 1_000_000_000, "0x123", FrameFlags.Flexible | FrameFlags.BitRateSwitch | FrameFlags.ErrorStateIndicator, 12, 9)]
    [InlineData("(1.0) can1 123##0", 1_000_000_000, "0x123", FrameFlags.Flexible, 0, 0)]
    [InlineData("  (1.0)\tcan1   123#aabb T \r", 1_000_000_000, "0x123", FrameFlags.OwnHost, 2, 2)]
    public void LinesOfEveryKindAreRead(string line, long nanoseconds, string id, FrameFlags flags, int length, int code)
    {
        CollectingSink sink = Read(line + "\n", out TraceParser parser);
        Assert.Equal(TraceFormat.TextLog, parser.Format);
        CanFrame frame = Assert.Single(sink.Frames);
        Assert.Equal((nanoseconds, id, flags, length, code), (frame.Time.Nanoseconds, frame.Id.ToString(), frame.Flags, frame.Length, frame.DataLengthCode));
        Assert.Equal("can1", Assert.Single(sink.Interfaces).Facts.Name);
    }

    // Line of a public issue of 2023-04-11, quoted in recordings/error-frames/empty_controller_problem.log.
    [Fact]
    public void IdentifierWithBitTwentyNineIsAnErrorMessage()
    {
        CanFrame frame = Assert.Single(Read("(1681229878.879041) can1 20000004#0000000000000000\n", out TraceParser parser).Frames);
        Assert.True(frame.IsError);
        Assert.Equal(4u, frame.ErrorClassBits);
        Assert.Equal((0L, 1L), (parser.Frames, parser.ErrorMessages));
    }

    [Theory]
    [InlineData("garbage", TraceDamage.LineSyntax)]
    [InlineData("(1.0 can0 123#", TraceDamage.LineSyntax)]
    [InlineData("(1) can0 123#", TraceDamage.LineSyntax)]
    [InlineData("(a.0) can0 123#", TraceDamage.LineSyntax)]
    [InlineData("(1.0000000000) can0 123#", TraceDamage.LineSyntax)]
    [InlineData("(99999999999.0) can0 123#", TraceDamage.TimeStamp)]
    [InlineData("(1.0) can0", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 12#", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 1234#", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 12G#", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 800#", TraceDamage.Identifier)]
    [InlineData("(1.0) can0 80000000#", TraceDamage.Identifier)]
    [InlineData("(1.0) can0 123#1", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 123#112233445566778899", TraceDamage.PayloadLength)]
    [InlineData("(1.0) can0 123#11_E", TraceDamage.PayloadLength)]
    [InlineData("(1.0) can0 123#1122334455667788_8", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 123#R9", TraceDamage.PayloadLength)]
    [InlineData("(1.0) can0 123#R44", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 123##", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 123##0112233445566778899", TraceDamage.PayloadLength)]
    [InlineData("(1.0) can0 20000004#112233445566778899", TraceDamage.PayloadLength)]
    [InlineData("(1.0) can0 123#11 X", TraceDamage.LineSyntax)]
    [InlineData("(1.0) can0 123#11 T more", TraceDamage.LineSyntax)]
    public void BadLineIsDamageByReasonWithItsNumber(string line, TraceDamage reason)
    {
        CollectingSink sink = Read("# a comment\n\n" + Good + line + "\n" + Good, out TraceParser parser);
        Assert.Equal(2, sink.Frames.Count);
        Assert.Equal((1L, 1L), (parser.DamageCount(reason), parser.DamagedRecords));
        NotSeen notSeen = Assert.Single(sink.NotSeen);
        Assert.Equal((NotSeenKind.DamagedRecords, 1L), (notSeen.Kind, notSeen.Count));
        Assert.Contains("line 4", notSeen.Why);
    }

    [Fact]
    public void EveryPrefixOfALineIsReadOrDamage()
    {
        const string Line = "(1.000000) can0 123##0112233445566778899AABBCC";
        for (int length = 1; length <= Line.Length; length++)
        {
            CollectingSink sink = Read(Good + Line[..length] + "\n", out TraceParser parser);
            Assert.Equal(2, sink.Frames.Count + (int)parser.DamagedRecords);
        }
    }

    [Fact]
    public void OverlongLineIsDamageAndTheNextIsRead()
    {
        foreach (int length in (int[])[TraceLimits.LineBytes + 1, 300_000])
        {
            foreach (int piece in (int[])[int.MaxValue, 100])
            {
                CollectingSink sink = CaptureBytes.Read(Encoding.ASCII.GetBytes(Good + new string('x', length) + "\n" + Good), out TraceParser parser, piece);
                Assert.Equal(2, sink.Frames.Count);
                Assert.Equal((1L, 1L), (parser.DamageCount(TraceDamage.LineTooLong), parser.DamagedRecords));
            }
        }
    }

    [Fact]
    public void ByteOrderMarkAndCarriageReturnsDoNotDisturb() =>
        Assert.Equal(2, Read("\uFEFF(1.0) can0 123#\r\n(1.1) can0 123#\r\n", out _).Frames.Count);

    [Fact]
    public void LastLineWithoutEndIsReadAndRemarked()
    {
        Assert.Equal(2, Read(Good + "(1.0) can0 123#1122", out TraceParser parser).Frames.Count);
        Assert.Contains("no line end", FormattableString.Invariant(Assert.Single(parser.Remarks)));
    }

    [Fact]
    public void LastLineThatBreaksOffIsSaid()
    {
        CollectingSink sink = Read(Good + "(1.0) can0 123#112", out TraceParser parser);
        Assert.Single(sink.Frames);
        Assert.Equal(NotSeenKind.BrokenOff, Assert.Single(sink.NotSeen).Kind);
        Assert.Equal(0, parser.DamagedRecords);
    }

    [Theory]
    [InlineData("", TraceProblem.Empty, "byte 0")]
    [InlineData("# only a comment\n\n", TraceProblem.Empty, "line 2")]
    [InlineData("hello\nworld\n", TraceProblem.NotATrace, "line 1")]
    [InlineData("hello", TraceProblem.NotATrace, "line 1")]
    [InlineData("# heading\n\n{ \"json\": true }\n", TraceProblem.NotATrace, "line 3")]
    [InlineData("  can0  20000004   [8]  00 01 00 00 00 00 00 00\n", TraceProblem.TextWithoutTimeStamps, "line 1")]
    [InlineData("# heading\ncan0 123#1122\n", TraceProblem.TextWithoutTimeStamps, "line 2")]
    public void TextThatIsNoLogIsAnErrorWithItsPlace(string text, TraceProblem problem, string place)
    {
        CollectingSink sink = Read(text, out TraceParser parser);
        Assert.Equal((problem, place), (parser.Error?.Problem, parser.Error?.Place));
        Assert.StartsWith(parser.Error!.Place, parser.Error.Message);
        Assert.Empty(sink.Story);
    }

    [Fact]
    public void BytesThatAreNothingAreAnErrorSoon()
    {
        byte[] bytes = new byte[10_000_000];
        new Random(5).NextBytes(bytes);
        bytes[0] = 1;
        CollectingSink sink = new();
        TraceParser parser = TraceParser.Create(sink);
        int position = 0;
        while (position < bytes.Length && parser.Feed(bytes.AsSpan(position, 1000)))
        {
            position += 1000;
        }

        Assert.Equal(TraceProblem.NotATrace, parser.Error?.Problem);
        Assert.InRange(position, 0, 1_000_000);
    }

    [Fact]
    public void LogThatBeginsInTheMiddleOfALineIsStillALog()
    {
        CollectingSink sink = Read("3#1122\n" + Good, out TraceParser parser);
        Assert.Null(parser.Error);
        Assert.Single(sink.Frames);
        Assert.Equal(1, parser.DamagedRecords);
    }

    private static CollectingSink Read(string text, out TraceParser parser) => CaptureBytes.Read(Encoding.UTF8.GetBytes(text), out parser);
}
