using System.Text;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.Tests.History.Store;

/// <summary>Round trips, every truncation and every flipped byte of a segment.</summary>
public class SegmentFormatTests
{
    private static byte[] Segment(int records, int bytes = 2048)
    {
        byte[] file = new byte[bytes];
        SegmentFormat.WriteHeader(file, StoreSeries.Minutes, 7);
        int position = SegmentFormat.HeaderBytes;
        for (int i = 0; i < records; i++)
        {
            StoreRecord record = Record(i);
            SegmentFormat.WriteRecord(file.AsSpan(position, SegmentFormat.SizeOf(record.Payload.Length)), record);
            position += SegmentFormat.SizeOf(record.Payload.Length);
        }

        return file;
    }

    private static StoreRecord Record(int i) =>
        new(StoreSeries.Minutes, RecordKind.Traffic, 7 + i, new Instant(1_700_000_000_000_000_123 + i), Encoding.UTF8.GetBytes(new string((char)('a' + i), (i * 13) + 1)));

    /// <summary>RFC 3720, B.4: 32 bytes of zeros, of ones, rising and falling.</summary>
    [Theory]
    [InlineData(0x8A9136AA, 0x00, 0)]
    [InlineData(0x62A8AB43, 0xFF, 0)]
    [InlineData(0x46DD794E, 0x00, 1)]
    [InlineData(0x113FDB5C, 0x1F, -1)]
    public void CrcIsThatOfTheStandard(uint expected, int first, int step) =>
        Assert.Equal(expected, SegmentFormat.Crc32C([.. Enumerable.Range(0, 32).Select(i => (byte)(first + (i * step)))]));

    [Fact]
    public void RoundTrip()
    {
        SegmentContent content = SegmentFormat.Read(Segment(9));
        Assert.Equal((1, StoreSeries.Minutes, 7), (content.Version, content.Series, content.FirstSequence));
        Assert.Equal((0, 0, false), (content.Holes.Count, content.TornBytes, content.IsHeaderDamaged));
        Assert.Equal(9, content.Records.Count);
        for (int i = 0; i < 9; i++)
        {
            Assert.Equal(Record(i) with { Payload = default }, content.Records[i] with { Payload = default });
            Assert.Equal(Record(i).Payload.ToArray(), content.Records[i].Payload.ToArray());
        }
    }

    [Fact]
    public void EveryTruncationKeepsTheWholeRecordsBeforeIt()
    {
        byte[] whole = Segment(9);
        for (int length = 0; length <= whole.Length; length++)
        {
            SegmentContent content = SegmentFormat.Read(whole.AsMemory(0, length));
            int position = SegmentFormat.HeaderBytes;
            int expected = 0;
            while (expected < 9 && position + SegmentFormat.SizeOf(Record(expected).Payload.Length) <= length)
            {
                position += SegmentFormat.SizeOf(Record(expected++).Payload.Length);
            }

            Assert.Equal(length < SegmentFormat.HeaderBytes, content.IsHeaderDamaged);
            Assert.Equal(content.IsHeaderDamaged ? 0 : expected, content.Records.Count);
        }
    }

    [Fact]
    public void EveryFlippedBitIsFoundAndCostsAtMostItsOwnRecord()
    {
        byte[] whole = Segment(9);
        for (int bit = 0; bit < whole.Length * 8; bit++)
        {
            byte[] flipped = (byte[])whole.Clone();
            flipped[bit / 8] ^= (byte)(1 << (bit % 8));
            SegmentContent content = SegmentFormat.Read(flipped);
            Assert.True(content.IsHeaderDamaged || content.Holes.Count > 0 || content.TornBytes > 0, $"Bit {bit} was flipped and nobody noticed.");
            if (!content.IsHeaderDamaged)
            {
                Assert.InRange(content.Records.Count, 8, 9);
            }
        }
    }

    [Fact]
    public void ARecordWhoseSizeIsAnythingDoesNoHarm()
    {
        Random random = new(7);
        for (int round = 0; round < 2_000; round++)
        {
            byte[] file = Segment(6);
            for (int change = random.Next(1, 40); change > 0; change--)
            {
                int at = random.Next(SegmentFormat.HeaderBytes, file.Length - 4);
                if (random.Next(2) == 0)
                {
                    file[at] = (byte)random.Next(256);
                }
                else
                {
                    BitConverter.TryWriteBytes(file.AsSpan(at), (uint)(random.Next(2) == 0 ? 0x44524543 : random.Next()));
                }
            }

            Assert.InRange(SegmentFormat.Read(file).Records.Count, 0, 6);
        }
    }
}
