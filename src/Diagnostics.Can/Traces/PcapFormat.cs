using System.Buffers.Binary;
using System.Globalization;

namespace Diagnostics.Can.Traces;

/// <summary>Classic pcap, in the byte order of its magic number.</summary>
/// <remarks>
/// <code>
/// file header   0xA1B2C3D4 (microseconds) or 0xA1B23C4D (nanoseconds) | major 2 | minor 2 | zone 4 | accuracy 4 | snapshot length 4 | link type 4
/// record        seconds 4 | fraction 4 | captured 4 | original 4 | data
/// </code>
/// Nothing marks the start of a record, so behind damage two headers in a row that make sense are searched.
/// </remarks>
internal sealed class PcapFormat : ITraceFormat
{
    public const uint MicrosecondMagic = 0xA1B2C3D4;
    public const uint NanosecondMagic = 0xA1B23C4D;
    private const int FileHeaderBytes = 24;
    private const int RecordHeaderBytes = 16;
    private const int KnownMajorVersion = 2;
    private const uint LinkTypeMask = 0x0FFF_FFFF;
    private const long NanosecondsPerSecond = 1_000_000_000;

    /// <summary>In the search behind damage, a stamp farther than that from the last good one makes no sense.</summary>
    private const long FarthestSeconds = 2 * 86_400;

    private readonly TraceOutput _output;
    private readonly RecordReader _reader;
    private readonly bool _bigEndian;
    private readonly long _fractionNanoseconds;
    private CaptureInterface? _interface;
    private int _linkType;
    private bool _scanning;
    private long _consumed;
    private long _lastSeconds;
    private bool _heard;

    public PcapFormat(TraceOutput output, bool bigEndian, bool nanoseconds)
    {
        _output = output;
        _reader = new(output);
        _bigEndian = bigEndian;
        _fractionNanoseconds = nanoseconds ? 1 : 1000;
    }

    public int Needed { get; private set; } = FileHeaderBytes;

    public int Consume(ReadOnlySpan<byte> bytes, bool end)
    {
        int position = 0;
        while (_output.Error == null)
        {
            ReadOnlySpan<byte> rest = bytes[position..];
            int used = _interface == null ? FileHeader(rest) : _scanning ? Scan(rest, end) : Record(rest, end);
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
        if (_interface == null || (left > 0 && !_scanning))
        {
            _output.BrokenOff(_consumed);
        }
    }

    private int FileHeader(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length < FileHeaderBytes)
        {
            Needed = FileHeaderBytes;
            return -1;
        }

        int major = _bigEndian ? BinaryPrimitives.ReadUInt16BigEndian(bytes[4..]) : BinaryPrimitives.ReadUInt16LittleEndian(bytes[4..]);
        if (major != KnownMajorVersion)
        {
            _output.Fail(TraceProblem.UnsupportedVersion, 4, string.Create(CultureInfo.InvariantCulture, $"pcap version {major}; only version 2 is known"));
            return -1;
        }

        _linkType = (int)(Read32(bytes[20..]) & LinkTypeMask);
        if (!LinkTypes.CarriesCan(_linkType))
        {
            _output.Fail(TraceProblem.NoCan, 20, string.Create(CultureInfo.InvariantCulture, $"a capture of link type {_linkType}, which isn't CAN (227, 113 and 276 are)"));
            return -1;
        }

        _interface = new(_output, _reader, _linkType, "can0", isNamed: false);
        if (!_interface.TryAnnounce(out _))
        {
            _output.Damaged(TraceDamage.InterfaceLimit, _consumed);
        }

        return FileHeaderBytes;
    }

    private int Record(ReadOnlySpan<byte> bytes, bool end)
    {
        if (bytes.Length < RecordHeaderBytes)
        {
            Needed = RecordHeaderBytes;
            return -1;
        }

        uint captured = Read32(bytes[8..]);
        TraceDamage damage = captured > LongestRecord || captured > Read32(bytes[12..]) ? TraceDamage.Length
            : Read32(bytes[4..]) * _fractionNanoseconds >= NanosecondsPerSecond ? TraceDamage.TimeStamp
            : TraceDamage.None;
        if (damage != TraceDamage.None)
        {
            return Damage(damage);
        }

        int whole = RecordHeaderBytes + (int)captured;
        if (bytes.Length < whole)
        {
            if (end && HasRecordBehind(bytes))
            {
                return Damage(TraceDamage.Length);
            }

            Needed = whole;
            return -1;
        }

        long seconds = Read32(bytes);
        _lastSeconds = seconds;
        _heard = true;
        Instant time = new((seconds * NanosecondsPerSecond) + (Read32(bytes[4..]) * _fractionNanoseconds));
        _interface!.Read(time, bytes.Slice(RecordHeaderBytes, (int)captured), FrameFlags.None, _consumed);
        return whole;
    }

    private int LongestRecord => _linkType == LinkTypes.SocketCan ? TraceLimits.CanRecordBytes : TraceLimits.RecordBytes;

    private int Damage(TraceDamage reason)
    {
        _reader.Settle();
        _output.Damaged(reason, _consumed);
        _scanning = true;
        return 1;
    }

    private int Scan(ReadOnlySpan<byte> bytes, bool end)
    {
        for (int offset = 0; offset + RecordHeaderBytes <= bytes.Length; offset++)
        {
            int length = PlausibleLength(bytes[offset..]);
            if (length == 0)
            {
                continue;
            }

            int next = offset + length;
            if (next + RecordHeaderBytes > bytes.Length && !end)
            {
                Needed = length + RecordHeaderBytes;
                return offset == 0 ? -1 : offset;
            }

            if (next == bytes.Length || (next + RecordHeaderBytes <= bytes.Length && PlausibleLength(bytes[next..]) != 0))
            {
                _scanning = false;
                return offset;
            }
        }

        int used = Math.Max(0, bytes.Length - (RecordHeaderBytes - 1));
        Needed = RecordHeaderBytes;
        return used == 0 ? -1 : used;
    }

    private bool HasRecordBehind(ReadOnlySpan<byte> bytes)
    {
        for (int offset = 1; offset + RecordHeaderBytes <= bytes.Length; offset++)
        {
            int length = PlausibleLength(bytes[offset..]);
            int next = offset + length;
            if (length != 0 && (next == bytes.Length || (next + RecordHeaderBytes <= bytes.Length && PlausibleLength(bytes[next..]) != 0)))
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>Header and data of a record that makes sense as one of CAN, or 0.</summary>
    private int PlausibleLength(ReadOnlySpan<byte> bytes)
    {
        uint captured = Read32(bytes[8..]);
        long seconds = Read32(bytes);
        bool plausible = captured is >= SocketCanRecord.HeaderBytes and <= TraceLimits.CanRecordBytes
            && Read32(bytes[12..]) is uint original && original >= captured && original <= TraceLimits.RecordBytes
            && Read32(bytes[4..]) * _fractionNanoseconds < NanosecondsPerSecond
            && (!_heard || Math.Abs(seconds - _lastSeconds) <= FarthestSeconds);
        return plausible ? RecordHeaderBytes + (int)captured : 0;
    }

    private uint Read32(ReadOnlySpan<byte> bytes) =>
        _bigEndian ? BinaryPrimitives.ReadUInt32BigEndian(bytes) : BinaryPrimitives.ReadUInt32LittleEndian(bytes);
}
