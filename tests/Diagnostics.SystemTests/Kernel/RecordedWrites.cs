using System.Buffers.Binary;
using System.Text;

namespace Diagnostics.SystemTests.Kernel;

/// <summary>
/// What a disk was written, in the order in which it became safe, as the kernel's target dm-log-writes recorded it (Documentation/admin-guide/device-mapper/log-writes.rst). A write that was only
/// in the disk's memory stands before the flush that made it safe; one that went around that memory (FUA) stands where it was done.
/// </summary>
/// <remarks>
/// <code>
/// sector 0: mark 8 | version 8 | number of entries 8 | size of a sector 4
/// then for each entry one sector: first sector 8 | sectors 8 | flags 8 | length of the text of a mark 8 | that text; and behind it the data
/// </code>
/// </remarks>
internal sealed class RecordedWrites
{
    private const ulong Mark = 0x6A736677736872;
    private const int BlockBytes = 4096;
    private const int SectorBytes = 512;
    private const ulong FlushFlag = 1;
    private const ulong DiscardFlag = 4;
    private const ulong MarkFlag = 8;

    private readonly List<Entry> _entries = [];
    private readonly Dictionary<long, byte[]> _before = [];
    private readonly long _diskBytes;

    /// <param name="before">The disk as it was.</param>
    /// <param name="log">What was recorded.</param>
    public RecordedWrites(string before, string log)
    {
        using (FileStream disk = File.OpenRead(before))
        {
            _diskBytes = disk.Length;
            byte[] block = new byte[BlockBytes];
            for (long place = 0; disk.ReadAtLeast(block, BlockBytes, throwOnEndOfStream: false) == BlockBytes; place++)
            {
                if (block.AsSpan().ContainsAnyExcept((byte)0))
                {
                    _before[place] = (byte[])block.Clone();
                }
            }
        }

        using FileStream file = File.OpenRead(log);
        byte[] head = new byte[BlockBytes];
        file.ReadExactly(head);
        Assert.Equal(Mark, BinaryPrimitives.ReadUInt64LittleEndian(head));
        long count = BinaryPrimitives.ReadInt64LittleEndian(head.AsSpan(16));
        int sector = BinaryPrimitives.ReadInt32LittleEndian(head.AsSpan(24));
        file.Position = sector;
        for (long n = 0; n < count; n++)
        {
            file.ReadExactly(head, 0, sector);
            long first = BinaryPrimitives.ReadInt64LittleEndian(head);
            long sectors = BinaryPrimitives.ReadInt64LittleEndian(head.AsSpan(8));
            ulong flags = BinaryPrimitives.ReadUInt64LittleEndian(head.AsSpan(16));
            int length = (int)BinaryPrimitives.ReadInt64LittleEndian(head.AsSpan(24));
            byte[] data = [];
            if ((flags & (DiscardFlag | MarkFlag)) == 0 && sectors > 0)
            {
                data = new byte[sectors * sector];
                file.ReadExactly(data);
            }

            _entries.Add(new(first * SectorBytes, data, (flags & FlushFlag) != 0, (flags & MarkFlag) != 0 ? Encoding.ASCII.GetString(head, 32, length) : null));
        }
    }

    private sealed record Entry(long Position, byte[] Data, bool IsFlush, string? Mark);

    /// <summary>Writes, flushes and marks.</summary>
    public int Places => _entries.Count;

    /// <summary>Writes and flushes.</summary>
    public int Count => _entries.Count(entry => entry.Mark is null);

    /// <summary>Places of the marks that begin with a word and a hyphen, with what follows.</summary>
    public IReadOnlyList<(int Place, string Text)> Marks(string word) =>
        [.. _entries.Index().Where(entry => entry.Item.Mark?.StartsWith(word + "-", StringComparison.Ordinal) == true).Select(entry => (entry.Index, entry.Item.Mark![(word.Length + 1)..]))];

    /// <summary>
    /// Writes files that are the disk as the plug would have left it: at each of the places with all that was safe there, and as many more of what was on its way as chance will have it, in any order.
    /// </summary>
    /// <param name="places">In rising order, each with files to write: its path, and null for nothing of what was on its way.</param>
    public void WriteDisks(IEnumerable<(int Place, string Path, Random? Chance)> places)
    {
        Dictionary<long, byte[]> disk = new(_before.Select(block => KeyValuePair.Create(block.Key, (byte[])block.Value.Clone())));
        int done = 0;
        foreach ((int place, string path, Random? chance) in places)
        {
            for (; done < place; done++)
            {
                Apply(disk, _entries[done]);
            }

            Dictionary<long, byte[]> cut = disk;
            if (chance is not null)
            {
                Entry[] onTheWay = [.. _entries.Skip(place).TakeWhile(entry => !entry.IsFlush).Where(entry => entry.Data.Length > 0 && chance.Next(2) == 0)];
                chance.Shuffle(onTheWay);
                cut = new(disk.Select(block => KeyValuePair.Create(block.Key, (byte[])block.Value.Clone())));
                foreach (Entry entry in onTheWay)
                {
                    Apply(cut, entry);
                }
            }

            using FileStream file = File.Create(path);
            file.SetLength(_diskBytes);
            foreach ((long block, byte[] bytes) in cut.Where(block => block.Value.AsSpan().ContainsAnyExcept((byte)0)).OrderBy(block => block.Key))
            {
                file.Position = block * BlockBytes;
                file.Write(bytes);
            }
        }
    }

    private static void Apply(Dictionary<long, byte[]> disk, Entry entry)
    {
        for (int at = 0; at < entry.Data.Length; at += SectorBytes)
        {
            (long block, long offset) = Math.DivRem(entry.Position + at, BlockBytes);
            if (!disk.TryGetValue(block, out byte[]? bytes))
            {
                disk[block] = bytes = new byte[BlockBytes];
            }

            entry.Data.AsSpan(at, SectorBytes).CopyTo(bytes.AsSpan((int)offset));
        }
    }
}
