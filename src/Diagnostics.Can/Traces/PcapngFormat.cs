using System.Buffers.Binary;
using System.Globalization;
using System.Text;

namespace Diagnostics.Can.Traces;

/// <summary>
/// pcapng, draft-tuexen-opsawg-pcapng: blocks in a section's byte order, each with its length at both ends.
/// </summary>
/// <remarks>
/// <code>
/// every block        type 4 | length 4 | body | length 4
/// section header     0x0A0D0D0A | length | 0x1A2B3C4D | major 2 | minor 2 | section length 8 | options
/// interface          1 | length | link type 2 | reserved 2 | snapshot length 4 | options
/// packet (obsolete)  2 | length | interface 2 | drops 2 | time high 4 | time low 4 | captured 4 | original 4 | data | options
/// simple packet      3 | length | original 4 | data
/// statistics         5 | length | interface 4 | time high 4 | time low 4 | options
/// enhanced packet    6 | length | interface 4 | time high 4 | time low 4 | captured 4 | original 4 | data | options
/// </code>
/// Other blocks are skipped. Where the two lengths differ, the next place that looks like a block is searched.
/// </remarks>
internal sealed class PcapngFormat(TraceOutput output) : ITraceFormat
{
    private const uint SectionHeader = 0x0A0D0D0A;
    private const uint ByteOrderMagic = 0x1A2B3C4D;
    private const uint InterfaceDescription = 1;
    private const uint ObsoletePacket = 2;
    private const uint SimplePacket = 3;
    private const uint NameResolution = 4;
    private const uint InterfaceStatistics = 5;
    private const uint EnhancedPacket = 6;
    private const int BlockFrame = 12;
    private const int PacketHeader = 28;
    private const int ShortestSection = 28;
    private const int ShortestInterface = 20;
    private const int ShortestSimple = 16;
    private const int ShortestStatistics = 24;
    private const int ShortestPacket = 32;
    private const int KnownMajorVersion = 1;

    private const ushort OptionEnd = 0;
    private const ushort OptionInterfaceName = 2;
    private const ushort OptionTimeResolution = 9;
    private const ushort OptionTimeOffset = 14;

    /// <summary>if_speed: bit/s.</summary>
    private const ushort OptionSpeed = 8;
    private const ushort OptionPacketFlags = 2;
    private const ushort OptionPacketDrops = 4;
    private const ushort OptionInterfaceDrops = 5;
    private const ushort OptionSystemDrops = 7;
    private const uint DirectionMask = 3;
    private const uint Outbound = 2;
    private const ushort UnknownDrops = 0xFFFF;

    private readonly RecordReader _reader = new(output);
    private readonly List<SectionInterface> _interfaces = [];
    private readonly HashSet<string> _names = [];
    private bool _bigEndian;
    private bool _started;
    private bool _scanning;
    private long _consumed;
    private long _skip;
    private uint _skippedLength;
    private bool _anyInterface;
    private bool _anyCan;

    public int Needed { get; private set; } = BlockFrame;

    public int Consume(ReadOnlySpan<byte> bytes, bool end)
    {
        int position = 0;
        while (output.Error == null)
        {
            ReadOnlySpan<byte> rest = bytes[position..];
            int used = _skip > 0 ? Skip(rest) : _skippedLength != 0 ? CheckSkipped(rest) : _scanning ? Scan(rest, end) : Block(rest, end);
            if (used < 0)
            {
                break;
            }

            position += used;
            _consumed += used;
        }

        return position;
    }

    public void Complete(int left)
    {
        _reader.Settle();
        if (!_started)
        {
            output.BrokenOff(0);
            return;
        }

        if (left > 0 || _skip > 0 || _skippedLength != 0)
        {
            if (!_scanning)
            {
                output.BrokenOff(_consumed);
            }
        }

        if (_anyInterface && !_anyCan)
        {
            output.Fail(TraceProblem.NoCan, 0, "a capture that holds no CAN interface (link types 227, 113 and 276 carry CAN)");
        }
    }

    /// <summary>-1 = nothing more can be done before more bytes come.</summary>
    private int Block(ReadOnlySpan<byte> bytes, bool end)
    {
        if (bytes.Length < BlockFrame)
        {
            Needed = BlockFrame;
            return -1;
        }

        uint type = Read32(bytes);
        bool bigEndian = _bigEndian;
        if (type == SectionHeader)
        {
            uint magic = BinaryPrimitives.ReadUInt32LittleEndian(bytes[8..]);
            if (magic == ByteOrderMagic)
            {
                bigEndian = false;
            }
            else if (magic == BinaryPrimitives.ReverseEndianness(ByteOrderMagic))
            {
                bigEndian = true;
            }
            else
            {
                return Damage(TraceDamage.Length, "begins like a capture file (pcapng), but its byte order mark is none");
            }
        }
        else if (!_started)
        {
            output.Fail(TraceProblem.NotATrace, 0, "no section header");
            return -1;
        }

        uint length = Read32(bytes[4..], bigEndian);
        if (length < BlockFrame || (length & 3) != 0)
        {
            return Damage(TraceDamage.Length, "begins like a capture file (pcapng), but its first block can't be read");
        }

        if (length > TraceLimits.BlockBytes)
        {
            bool needed = type is SectionHeader or InterfaceDescription or ObsoletePacket or SimplePacket or InterfaceStatistics or EnhancedPacket;
            if (needed || length > TraceLimits.SkippedBlockBytes)
            {
                return Damage(TraceDamage.Length, "begins like a capture file (pcapng), but its first block can't be read");
            }

            _skippedLength = length;
            _skip = length - 8 - 4;
            return 8;
        }

        if (bytes.Length < length)
        {
            if (end && HasBlockBehind(bytes))
            {
                return Damage(TraceDamage.Length, "");
            }

            Needed = (int)length;
            return -1;
        }

        if (Read32(bytes[(int)(length - 4)..], bigEndian) != length)
        {
            return Damage(TraceDamage.LengthsDiffer, "begins like a capture file (pcapng), but its first block can't be read");
        }

        _bigEndian = bigEndian;
        Handle(type, bytes[..(int)length]);
        return (int)length;
    }

    private int Damage(TraceDamage reason, string whatIfFirst)
    {
        if (!_started)
        {
            output.Fail(TraceProblem.NotATrace, 0, whatIfFirst);
            return -1;
        }

        _reader.Settle();
        output.Damaged(reason, _consumed);
        _scanning = true;
        return 1;
    }

    private int Skip(ReadOnlySpan<byte> bytes)
    {
        if (bytes.IsEmpty)
        {
            Needed = 1;
            return -1;
        }

        int used = (int)Math.Min(_skip, bytes.Length);
        _skip -= used;
        return used;
    }

    private int CheckSkipped(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length < 4)
        {
            Needed = 4;
            return -1;
        }

        bool fits = Read32(bytes) == _skippedLength;
        _skippedLength = 0;
        return fits ? 4 : Damage(TraceDamage.LengthsDiffer, "");
    }

    /// <summary>Consumes up to the next place that looks like a block.</summary>
    private int Scan(ReadOnlySpan<byte> bytes, bool end)
    {
        for (int offset = 0; offset + BlockFrame <= bytes.Length; offset++)
        {
            int length = PlausibleLength(bytes[offset..]);
            if (length == 0)
            {
                continue;
            }

            if (offset + length > bytes.Length)
            {
                if (end)
                {
                    continue;
                }

                Needed = length;
                return offset == 0 ? -1 : offset;
            }

            if (IsWhole(bytes[offset..], length))
            {
                _scanning = false;
                return offset;
            }
        }

        int used = Math.Max(0, bytes.Length - (BlockFrame - 1));
        Needed = BlockFrame;
        return used == 0 ? -1 : used;
    }

    private bool HasBlockBehind(ReadOnlySpan<byte> bytes)
    {
        for (int offset = 1; offset + BlockFrame <= bytes.Length; offset++)
        {
            int length = PlausibleLength(bytes[offset..]);
            if (length != 0 && offset + length <= bytes.Length && IsWhole(bytes[offset..], length))
            {
                return true;
            }
        }

        return false;
    }

    private bool IsWhole(ReadOnlySpan<byte> block, int length) =>
        BinaryPrimitives.ReadUInt32LittleEndian(block[4..]) == BinaryPrimitives.ReadUInt32LittleEndian(block[(length - 4)..]);

    /// <summary>0 = no block can begin here.</summary>
    private int PlausibleLength(ReadOnlySpan<byte> bytes)
    {
        uint type = Read32(bytes);
        bool bigEndian = _bigEndian;
        int shortest;
        switch (type)
        {
            case SectionHeader:
                uint magic = BinaryPrimitives.ReadUInt32LittleEndian(bytes[8..]);
                bigEndian = magic != ByteOrderMagic;
                if (bigEndian && magic != BinaryPrimitives.ReverseEndianness(ByteOrderMagic))
                {
                    return 0;
                }

                shortest = ShortestSection;
                break;
            case InterfaceDescription:
                shortest = ShortestInterface;
                break;
            case SimplePacket:
                shortest = ShortestSimple;
                break;
            case NameResolution:
                shortest = BlockFrame;
                break;
            case InterfaceStatistics:
                shortest = ShortestStatistics;
                break;
            case ObsoletePacket or EnhancedPacket:
                shortest = ShortestPacket;
                break;
            default:
                return 0;
        }

        uint length = Read32(bytes[4..], bigEndian);
        return length < shortest || (length & 3) != 0 || length > TraceLimits.BlockBytes ? 0 : (int)length;
    }

    private void Handle(uint type, ReadOnlySpan<byte> block)
    {
        switch (type)
        {
            case EnhancedPacket:
                Packet(block, block.Length < ShortestPacket ? 0 : Read32(block[8..]), obsolete: false);
                break;
            case SectionHeader:
                Section(block);
                break;
            case InterfaceDescription:
                Interface(block);
                break;
            case ObsoletePacket:
                Packet(block, block.Length < ShortestPacket ? 0u : Read16(block[8..]), obsolete: true);
                break;
            case SimplePacket:
                _reader.Settle();
                output.Damaged(TraceDamage.NoTimeStamp, _consumed);
                output.Remark($"Records without a time stamp (simple packet blocks) were left out: when they came isn't known.");
                break;
            case InterfaceStatistics:
                Statistics(block);
                break;
        }
    }

    private void Section(ReadOnlySpan<byte> block)
    {
        if (block.Length < ShortestSection || Read16(block[12..]) != KnownMajorVersion)
        {
            if (!_started)
            {
                output.Fail(block.Length < ShortestSection ? TraceProblem.NotATrace : TraceProblem.UnsupportedVersion, 0,
                    block.Length < ShortestSection ? "the section header is too short" : string.Create(CultureInfo.InvariantCulture, $"pcapng version {Read16(block[12..])}; only version 1 is known"));
                return;
            }

            output.Damaged(TraceDamage.BlockTooShort, _consumed);
        }

        _started = true;
        _reader.Settle();
        _interfaces.Clear();
        _names.Clear();
    }

    private void Interface(ReadOnlySpan<byte> block)
    {
        if (block.Length < ShortestInterface)
        {
            output.Damaged(TraceDamage.BlockTooShort, _consumed);
            return;
        }

        if (_interfaces.Count >= TraceLimits.Interfaces)
        {
            output.Damaged(TraceDamage.InterfaceLimit, _consumed);
            return;
        }

        int linkType = Read16(block[8..]);
        string? name = null;
        byte resolution = TimeResolution.Default;
        long offset = 0;
        int? bitRate = null;
        ReadOnlySpan<byte> options = block[16..^4];
        while (TryOption(ref options, out ushort code, out ReadOnlySpan<byte> value))
        {
            if (code == OptionInterfaceName && value.Length > 0)
            {
                name = Text(value);
            }
            else if (code == OptionTimeResolution && value.Length >= 1)
            {
                resolution = value[0];
            }
            else if (code == OptionTimeOffset && value.Length >= 8)
            {
                offset = _bigEndian ? BinaryPrimitives.ReadInt64BigEndian(value) : BinaryPrimitives.ReadInt64LittleEndian(value);
            }
            else if (code == OptionSpeed && value.Length >= 8)
            {
                // Network cards write other speeds; what no CAN bus has is not a bit rate.
                ulong speed = _bigEndian ? BinaryPrimitives.ReadUInt64BigEndian(value) : BinaryPrimitives.ReadUInt64LittleEndian(value);
                bitRate = speed is >= TraceLimits.SlowestBitRate and <= TraceLimits.FastestBitRate ? (int)speed : null;
            }
        }

        string plain = name ?? "can" + _interfaces.Count.ToString(CultureInfo.InvariantCulture);
        string unique = plain;
        for (int number = 2; !_names.Add(unique); number++)
        {
            unique = plain + "#" + number.ToString(CultureInfo.InvariantCulture);
        }

        SectionInterface added = new(new(output, _reader, linkType, unique, name != null, bitRate), new(resolution, offset));
        _interfaces.Add(added);
        _anyInterface = true;
        if (!added.Source.CarriesCan)
        {
            output.Remark($"Interface {unique} carries no CAN (link type {linkType}); its records were passed over.");
            return;
        }

        _anyCan = true;

        // A cooked capture says only in its packets which interfaces they come from.
        if (linkType == LinkTypes.SocketCan && !added.Source.TryAnnounce(out _))
        {
            output.Damaged(TraceDamage.InterfaceLimit, _consumed);
        }
    }

    private void Packet(ReadOnlySpan<byte> block, uint index, bool obsolete)
    {
        if (block.Length < ShortestPacket)
        {
            _reader.Settle();
            output.Damaged(TraceDamage.BlockTooShort, _consumed);
            return;
        }

        if (index >= _interfaces.Count)
        {
            _reader.Settle();
            output.Damaged(TraceDamage.UnknownInterface, _consumed);
            return;
        }

        SectionInterface source = _interfaces[(int)index];
        if (!source.Source.CarriesCan)
        {
            return;
        }

        uint captured = Read32(block[20..]);
        if (captured > block.Length - ShortestPacket)
        {
            _reader.Settle();
            output.Damaged(TraceDamage.Length, _consumed);
            return;
        }

        if (!source.Resolution.TryConvert(((ulong)Read32(block[12..]) << 32) | Read32(block[16..]), out Instant time))
        {
            _reader.Settle();
            output.Damaged(TraceDamage.TimeStamp, _consumed);
            return;
        }

        FrameFlags extra = FrameFlags.None;
        ulong drops = 0;
        int padded = PacketHeader + (((int)captured + 3) & ~3);
        if (block.Length - 4 > padded)
        {
            ReadOnlySpan<byte> options = block[padded..^4];
            while (TryOption(ref options, out ushort code, out ReadOnlySpan<byte> value))
            {
                if (code == OptionPacketFlags && value.Length >= 4 && (Read32(value) & DirectionMask) == Outbound)
                {
                    extra = FrameFlags.OwnHost;
                }
                else if (code == OptionPacketDrops && value.Length >= 8 && !obsolete)
                {
                    drops = Read64(value);
                }
            }
        }

        if (obsolete)
        {
            ushort said = Read16(block[10..]);
            drops = said == UnknownDrops ? 0u : said;
        }

        if (drops != 0)
        {
            TellDrops(source, time, drops);
        }

        source.Last = time;
        source.Heard = true;
        source.Source.Read(time, block.Slice(PacketHeader, (int)captured), extra, _consumed);
    }

    private void Statistics(ReadOnlySpan<byte> block)
    {
        uint index = block.Length < ShortestStatistics ? uint.MaxValue : Read32(block[8..]);
        if (index >= _interfaces.Count)
        {
            output.Damaged(block.Length < ShortestStatistics ? TraceDamage.BlockTooShort : TraceDamage.UnknownInterface, _consumed);
            return;
        }

        SectionInterface source = _interfaces[(int)index];
        if (!source.Source.CarriesCan)
        {
            return;
        }

        if (!source.Resolution.TryConvert(((ulong)Read32(block[12..]) << 32) | Read32(block[16..]), out Instant time))
        {
            output.Damaged(TraceDamage.TimeStamp, _consumed);
            return;
        }

        ulong total = 0;
        ReadOnlySpan<byte> options = block[20..^4];
        while (TryOption(ref options, out ushort code, out ReadOnlySpan<byte> value))
        {
            if (code is OptionInterfaceDrops or OptionSystemDrops && value.Length >= 8)
            {
                total += Math.Min(Read64(value), long.MaxValue / 2);
            }
        }

        // Running totals since the capture began; what single packets already told isn't told again.
        ulong news = total > source.Dropped ? total - source.Dropped : 0;
        if (news != 0)
        {
            TellDrops(source, time, news);
        }

        source.Last = time;
        source.Heard = true;
    }

    private void TellDrops(SectionInterface source, Instant time, ulong count)
    {
        if (!source.Source.TryAnnounce(out byte index))
        {
            return;
        }

        _reader.Settle();
        long counted = (long)Math.Min(count, long.MaxValue / 2);
        source.Dropped = Math.Min(source.Dropped + (ulong)counted, long.MaxValue / 2);
        output.Dropped(index, source.Heard ? source.Last : time, time, counted);
    }

    private bool TryOption(ref ReadOnlySpan<byte> options, out ushort code, out ReadOnlySpan<byte> value)
    {
        code = OptionEnd;
        value = default;
        if (options.Length < 4)
        {
            return false;
        }

        code = Read16(options);
        int length = Read16(options[2..]);
        int padded = 4 + ((length + 3) & ~3);
        if (code == OptionEnd)
        {
            return false;
        }

        if (padded > options.Length)
        {
            output.Damaged(TraceDamage.Options, _consumed);
            return false;
        }

        value = options.Slice(4, length);
        options = options[padded..];
        return true;
    }

    private static string Text(ReadOnlySpan<byte> bytes)
    {
        int zero = bytes.IndexOf((byte)0);
        ReadOnlySpan<byte> shown = zero >= 0 ? bytes[..zero] : bytes;
        string text = Encoding.UTF8.GetString(shown[..Math.Min(shown.Length, TraceLimits.InterfaceNameBytes)]);
        return string.Create(text.Length, text, static (characters, source) =>
        {
            for (int index = 0; index < characters.Length; index++)
            {
                characters[index] = char.IsControl(source[index]) ? '?' : source[index];
            }
        });
    }

    private ushort Read16(ReadOnlySpan<byte> bytes) =>
        _bigEndian ? BinaryPrimitives.ReadUInt16BigEndian(bytes) : BinaryPrimitives.ReadUInt16LittleEndian(bytes);

    private uint Read32(ReadOnlySpan<byte> bytes) => Read32(bytes, _bigEndian);

    private static uint Read32(ReadOnlySpan<byte> bytes, bool bigEndian) =>
        bigEndian ? BinaryPrimitives.ReadUInt32BigEndian(bytes) : BinaryPrimitives.ReadUInt32LittleEndian(bytes);

    private ulong Read64(ReadOnlySpan<byte> bytes) =>
        _bigEndian ? BinaryPrimitives.ReadUInt64BigEndian(bytes) : BinaryPrimitives.ReadUInt64LittleEndian(bytes);

    private sealed class SectionInterface(CaptureInterface source, TimeResolution resolution)
    {
        public readonly CaptureInterface Source = source;
        public readonly TimeResolution Resolution = resolution;
        public Instant Last;
        public bool Heard;
        public ulong Dropped;
    }
}
