using System.Buffers.Binary;

namespace Diagnostics.Can.Traces;

/// <summary>
/// Reads a trace as its bytes come, in pieces of any size: pcapng, classic pcap or the SocketCAN text log, told apart by their first
/// bytes. Frames go to the sink in the order of the file and with the stamps of the file; <see cref="TimeLine"/> makes one time line of them.
/// </summary>
/// <remarks>
/// Bad input never throws: damaged records are counted by reason and told as <see cref="NotSeenKind.DamagedRecords"/>, and reading goes on
/// behind them; a trace that ends inside a record is told as <see cref="NotSeenKind.BrokenOff"/>. Something that is no trace at all sets <see cref="Error"/>.
/// At most one incomplete record is kept in memory (<see cref="TraceLimits"/>).
/// </remarks>
public sealed class TraceParser
{
    private const int MagicBytes = 4;
    private const uint PcapngMagic = 0x0A0D0D0A;

    /// <summary>How many bytes are moved at once to complete a record that was cut by the end of a piece.</summary>
    private const int StepBytes = 256;

    private readonly TraceOutput _output;
    private ITraceFormat? _format;
    private byte[] _kept = new byte[1024];
    private int _keptLength;
    private bool _complete;

    private TraceParser(IFrameSink sink, TraceInterfaces interfaces) => _output = new(sink, interfaces);

    /// <summary>Null until enough bytes came to tell.</summary>
    public TraceFormat? Format { get; private set; }

    /// <summary>Set when the input is no trace at all; nothing more is read then.</summary>
    public TraceError? Error => _output.Error;

    /// <summary>Data and remote frames handed over.</summary>
    public long Frames => _output.Frames;

    /// <summary>SocketCAN error messages handed over.</summary>
    public long ErrorMessages => _output.ErrorMessages;

    /// <summary>Stamp of the first frame or error message; null before that.</summary>
    public Instant? First => _output.First;

    /// <summary>Stamp of the last one.</summary>
    public Instant Last => _output.Last;

    public long DamagedRecords => _output.DamagedRecords;

    /// <summary>What a reader of the report should know about how the trace was read, as whole sentences; at most <see cref="TraceLimits.Remarks"/>.</summary>
    public IReadOnlyList<FormattableString> Remarks => _output.Remarks;

    /// <summary>How many records were damaged for that reason.</summary>
    public long DamageCount(TraceDamage reason) => _output.DamageCount(reason);

    /// <summary>A parser for one file. Several files that are one time line share <paramref name="interfaces"/>.</summary>
    public static TraceParser Create(IFrameSink sink, TraceInterfaces? interfaces = null) => new(sink, interfaces ?? new());

    /// <summary>Takes the next bytes. False = no trace, see <see cref="Error"/>; feeding on is harmless and does nothing.</summary>
    public bool Feed(ReadOnlySpan<byte> bytes)
    {
        ObjectDisposedException.ThrowIf(_complete, this);
        while (_keptLength > 0 && !bytes.IsEmpty && Error == null)
        {
            int before = _keptLength;
            int added = Math.Min(bytes.Length, Math.Max((_format?.Needed ?? MagicBytes) - before, StepBytes));
            Keep(bytes[..added]);
            if (_keptLength < (_format?.Needed ?? MagicBytes))
            {
                return true;
            }

            int used = Consume(_kept.AsSpan(0, _keptLength), end: false);
            if (used >= before)
            {
                // All that was kept is done with: go on in the caller's bytes.
                _keptLength = 0;
                bytes = bytes[(used - before)..];
                break;
            }

            _kept.AsSpan(used, _keptLength - used).CopyTo(_kept);
            _keptLength -= used;
            bytes = bytes[added..];
        }

        if (_keptLength == 0 && !bytes.IsEmpty && Error == null)
        {
            int used = Consume(bytes, end: false);
            Keep(bytes[used..]);
        }

        return Error == null;
    }

    /// <summary>Nothing follows. False = no trace, see <see cref="Error"/>.</summary>
    public bool Complete()
    {
        if (_complete || Error != null)
        {
            return Error == null;
        }

        _complete = true;
        if (_keptLength == 0 && _format == null)
        {
            _output.Fail(TraceProblem.Empty, 0, "the trace is empty");
            return false;
        }

        int used = Consume(_kept.AsSpan(0, _keptLength), end: true);
        if (Error == null)
        {
            _format!.Complete(_keptLength - used);
        }

        if (Error == null)
        {
            _output.Complete();
        }

        return Error == null;
    }

    private int Consume(ReadOnlySpan<byte> bytes, bool end)
    {
        if (_format == null)
        {
            if (bytes.Length < MagicBytes && !end)
            {
                return 0;
            }

            _format = Recognise(bytes);
        }

        return _format.Consume(bytes, end);
    }

    private ITraceFormat Recognise(ReadOnlySpan<byte> bytes)
    {
        if (bytes.Length >= MagicBytes)
        {
            uint magic = BinaryPrimitives.ReadUInt32LittleEndian(bytes);
            if (magic == PcapngMagic)
            {
                Format = TraceFormat.Pcapng;
                return new PcapngFormat(_output);
            }

            bool bigEndian = magic is not (PcapFormat.MicrosecondMagic or PcapFormat.NanosecondMagic);
            uint inOrder = bigEndian ? BinaryPrimitives.ReverseEndianness(magic) : magic;
            if (inOrder is PcapFormat.MicrosecondMagic or PcapFormat.NanosecondMagic)
            {
                Format = TraceFormat.Pcap;
                return new PcapFormat(_output, bigEndian, inOrder == PcapFormat.NanosecondMagic);
            }
        }

        Format = TraceFormat.TextLog;
        return new TextLogFormat(_output);
    }

    private void Keep(ReadOnlySpan<byte> bytes)
    {
        if (_keptLength + bytes.Length > _kept.Length)
        {
            Array.Resize(ref _kept, Math.Max(_kept.Length * 2, _keptLength + bytes.Length));
        }

        bytes.CopyTo(_kept.AsSpan(_keptLength));
        _keptLength += bytes.Length;
    }
}
