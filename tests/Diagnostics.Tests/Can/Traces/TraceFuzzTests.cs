using System.Buffers;
using System.Globalization;
using System.Text;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Tests.Can.Traces;

/// <summary>
/// Valid files, damaged at random from a seed: no exception, no endless loop, no more frames than bytes allow, and the same result in pieces.
/// The variable DIAGNOSTICS_FUZZ_ROUNDS sets the rounds (ten million for a long run).
/// </summary>
public class TraceFuzzTests
{
    private const int ShortRun = 3_000;

    [Fact]
    public void DamagedTracesNeverThrowAndNeverInventFrames()
    {
        int rounds = int.TryParse(Environment.GetEnvironmentVariable("DIAGNOSTICS_FUZZ_ROUNDS"), NumberStyles.None, CultureInfo.InvariantCulture, out int asked) ? asked : ShortRun;
        byte[][] seeds = Seeds();
        Tally read = new();
        for (int round = 0; round < rounds; round++)
        {
            Random random = new(round);
            byte[] bytes = Mutate(random, seeds[round % seeds.Length]);
            try
            {
                Tally whole = Read(bytes, random.Next(1, 4) == 1 ? random.Next(1, 200) : int.MaxValue, out TraceParser parser);
                Assert.InRange(whole.Frames, 0, (bytes.Length / ShortestFrame) + 1);
                Assert.Equal(parser.Frames + parser.ErrorMessages, whole.Frames);
                Assert.InRange(parser.DamagedRecords, 0, bytes.Length);
                Assert.InRange(whole.Interfaces, 0, TraceLimits.Interfaces);
                Assert.InRange(parser.Remarks.Count, 0, TraceLimits.Remarks);
                read.Frames += whole.Frames;
            }
            catch (Exception exception)
            {
                throw new InvalidOperationException("round " + round.ToString(CultureInfo.InvariantCulture), exception);
            }
        }

        // Most of the damage leaves most of the frames readable.
        Assert.True(read.Frames > rounds * 5L);
    }

    [Fact]
    public void DamagedTracesReadTheSameInPieces()
    {
        byte[][] seeds = Seeds();
        for (int round = 0; round < 600; round++)
        {
            Random random = new(1_000_000 + round);
            byte[] bytes = Mutate(random, seeds[round % seeds.Length]);
            List<string> whole = CaptureBytes.Read(bytes, out TraceParser first).Story;
            List<string> pieces = CaptureBytes.Read(bytes, out TraceParser second, random.Next(1, 50)).Story;
            Assert.True(first.Error?.Message == second.Error?.Message, "round " + round.ToString(CultureInfo.InvariantCulture));
            Assert.True(whole.SequenceEqual(pieces), "round " + round.ToString(CultureInfo.InvariantCulture));
        }
    }

    /// <summary>"(0.0)a 123#" and a line end; no frame takes fewer bytes in any format.</summary>
    private const int ShortestFrame = 11;

    private static Tally Read(byte[] bytes, int piece, out TraceParser parser)
    {
        Tally tally = new();
        TimeLine line = new(tally);
        parser = TraceParser.Create(line);
        for (int position = 0; position < bytes.Length; position += Math.Min(piece, bytes.Length - position))
        {
            parser.Feed(bytes.AsSpan(position, Math.Min(piece, bytes.Length - position)));
        }

        parser.Complete();
        line.Complete();
        return tally;
    }

    private static byte[] Mutate(Random random, byte[] seed)
    {
        List<byte> bytes = [.. seed];
        for (int change = random.Next(1, 6); change > 0 && bytes.Count > 8; change--)
        {
            int position = random.Next(8) == 0 ? random.Next(Math.Min(60, bytes.Count)) : random.Next(bytes.Count);
            int length = Math.Min(random.Next(1, random.Next(4) == 0 ? 200 : 8), bytes.Count - position);
            switch (random.Next(6))
            {
                case 0:
                    bytes[position] ^= (byte)(1 << random.Next(8));
                    break;
                case 1:
                    bytes[position] = (byte)(random.Next(3) switch { 0 => 0, 1 => 0xFF, _ => random.Next(256) });
                    break;
                case 2:
                    bytes.RemoveRange(position, length);
                    break;
                case 3:
                    byte[] added = new byte[length];
                    random.NextBytes(added);
                    bytes.InsertRange(position, added);
                    break;
                case 4:
                    bytes.InsertRange(random.Next(bytes.Count), bytes.GetRange(position, length));
                    break;
                default:
                    if (random.Next(4) == 0)
                    {
                        bytes.RemoveRange(position, bytes.Count - position);
                    }

                    break;
            }
        }

        return [.. bytes];
    }

    private static byte[][] Seeds()
    {
        const int Frames = 24;
        Random random = new(1);
        ArrayBufferWriter<byte> written = new();
        PcapngWriter writer = new(written);
        writer.WriteInterface("can0");
        writer.WriteInterface("can1");
        StringBuilder text = new("# a text log\n");
        CaptureBytes pcap = new CaptureBytes().PcapHeader();
        CaptureBytes cooked = new CaptureBytes(true).PcapHeader(113, nanoseconds: true);
        CaptureBytes big = new CaptureBytes(true).Section().Interface("can0", resolution: 9, offset: 5);
        for (int index = 0; index < Frames; index++)
        {
            CanFrame frame = PcapngWriterTests.RandomFrame(random);
            long nanoseconds = 1_700_000_000_000_000_000 + (index * 1_234_567L);
            frame.Time = new(nanoseconds);
            frame.Interface = (byte)(index & 1);
            writer.Write(frame);
            byte[] record = CaptureBytes.Classic((uint)random.Next(0x800), 1, 2, 3);
            pcap.PcapRecord(1_700_000_000, (uint)index * 1000, record);
            cooked.PcapRecord(1_700_000_000, (uint)index * 1000, [0, 0, 1, 24, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 12, .. record]);
            big.Packet(0, (ulong)nanoseconds, record);
            text.Append(CultureInfo.InvariantCulture, $"(1700000000.{index:D6}) can{index & 1} {random.Next(0x800):X3}#{(index % 5 == 0 ? "R" : index % 7 == 0 ? "#1AABB" : Convert.ToHexString(frame.Bytes[..Math.Min(8, (int)frame.Length)]))}\n");
        }

        writer.WriteStatistics(0, new(1_700_000_001_000_000_000), Frames, 3);
        return [written.WrittenSpan.ToArray(), pcap.ToArray(), Encoding.ASCII.GetBytes(text.ToString()), cooked.ToArray(), big.ToArray()];
    }

    private sealed class Tally : IFrameSink
    {
        private Instant _last = Instant.MinValue;

        public long Frames { get; set; }

        public int Interfaces { get; private set; }

        public void OnInterface(byte index, InterfaceFacts facts) => Interfaces++;

        public void OnFrame(in CanFrame frame)
        {
            Assert.True(frame.Time >= _last);
            Assert.True(frame.Length <= (frame.IsFlexible ? 64 : 8));
            _last = frame.Time;
            Frames++;
        }

        public void OnNotSeen(in NotSeen notSeen) => Assert.True(notSeen.End >= notSeen.Start);
    }
}
