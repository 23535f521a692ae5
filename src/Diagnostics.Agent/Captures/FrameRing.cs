using System.Buffers;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Agent.Captures;

/// <summary>
/// Stands before the analysis and keeps the last minutes of everything that was heard, in memory of a fixed size, so that what happened before a finding can
/// still be looked at. Kept as pieces that are each a whole pcapng section, with the interfaces and what was dropped until then: any row of them is a file that every reader of
/// pcapng opens. The oldest piece is written over. One owner, nothing allocated for a frame.
/// </summary>
internal sealed class FrameRing : IFrameSink
{
    /// <summary>350,000 classic frames: ten minutes of a busy 125 kbit/s, half a minute of a saturated 1 Mbit/s.</summary>
    public const int UsualPieces = 64;

    public const int PieceBytes = 256 * 1024;

    /// <summary>The longest block is that of an FD frame, the last are the statistics of each interface.</summary>
    private const int LongestBlock = 128;

    private const int StatisticsBlock = 52;

    private readonly IFrameSink _next;
    private readonly Piece?[] _pieces;
    private readonly List<InterfaceFacts> _interfaces = [];
    private (long Received, long Dropped)[] _counts = [];
    private PcapngWriter? _writer;
    private int _current;

    public FrameRing(IFrameSink next, int pieces = UsualPieces)
    {
        _next = next;
        _pieces = new Piece?[pieces];
    }

    public void OnInterface(byte index, InterfaceFacts facts)
    {
        _next.OnInterface(index, facts);
        if (_interfaces.Count <= index)
        {
            // A section names its interfaces at its beginning, so another one begins.
            End();
        }

        while (_interfaces.Count <= index)
        {
            _interfaces.Add(facts);
            Array.Resize(ref _counts, _interfaces.Count);
        }

        _interfaces[index] = facts;
    }

    public void OnFrame(in CanFrame frame)
    {
        _next.OnFrame(in frame);
        if (frame.Interface >= _interfaces.Count)
        {
            return;
        }

        Piece? piece = _pieces[_current];
        if (_writer is null || piece!.Room < LongestBlock + (StatisticsBlock * _interfaces.Count))
        {
            piece = Begin(frame.Time);
        }

        _writer!.Write(in frame);
        piece.Last = frame.Time;
        (long received, long dropped) = _counts[frame.Interface];
        _counts[frame.Interface] = (received + 1, dropped);
    }

    public void OnNotSeen(in NotSeen notSeen)
    {
        _next.OnNotSeen(in notSeen);
        if (notSeen.Kind is NotSeenKind.KernelDropped or NotSeenKind.QueueDropped)
        {
            for (int index = 0; index < _counts.Length; index++)
            {
                if (notSeen.Interface == index || notSeen.Interface == NotSeen.AllInterfaces)
                {
                    _counts[index] = (_counts[index].Received, _counts[index].Dropped + Math.Max(1, notSeen.Count));
                }
            }
        }
    }

    /// <summary>What is still there of a span, as one pcapng file; null where that is nothing. Where it would be longer than the limit its beginning is left out.</summary>
    public byte[]? Take(Instant from, Instant to, int mostBytes)
    {
        End();
        List<Piece> pieces = [];
        int bytes = 0;
        for (int back = 0; back < _pieces.Length; back++)
        {
            Piece? piece = _pieces[(_current - back + _pieces.Length) % _pieces.Length];
            if (piece is null || piece.Last < from || piece.Length == 0)
            {
                break;
            }

            if (piece.First > to)
            {
                continue;
            }

            if (bytes + piece.Length > mostBytes)
            {
                break;
            }

            bytes += piece.Length;
            pieces.Add(piece);
        }

        if (pieces.Count == 0)
        {
            return null;
        }

        byte[] file = new byte[bytes];
        int at = 0;
        for (int i = pieces.Count - 1; i >= 0; i--)
        {
            pieces[i].Bytes.CopyTo(file.AsSpan(at));
            at += pieces[i].Length;
        }

        return file;
    }

    private Piece Begin(Instant time)
    {
        End();
        _current = (_current + 1) % _pieces.Length;
        Piece piece = _pieces[_current] ??= new();
        piece.Clear(time);
        _writer = new(piece);
        for (int index = 0; index < _interfaces.Count; index++)
        {
            _writer.WriteInterface(_interfaces[index].Name, _interfaces[index].BitRate);
        }

        Array.Clear(_counts);
        return piece;
    }

    /// <summary>Ends the section: what each interface received and dropped in it.</summary>
    private void End()
    {
        if (_writer is null)
        {
            return;
        }

        for (int index = 0; index < _interfaces.Count; index++)
        {
            (long received, long dropped) = _counts[index];
            _writer.WriteStatistics((byte)index, _pieces[_current]!.Last, received, dropped);
        }

        _writer = null;
    }

    private sealed class Piece : IBufferWriter<byte>
    {
        private readonly byte[] _bytes = new byte[PieceBytes];

        public int Length { get; private set; }

        public int Room => _bytes.Length - Length;

        public Instant First { get; private set; }

        public Instant Last { get; set; }

        public ReadOnlySpan<byte> Bytes => _bytes.AsSpan(0, Length);

        public void Clear(Instant first)
        {
            Length = 0;
            First = Last = first;
        }

        public void Advance(int count) => Length += count;

        public Memory<byte> GetMemory(int sizeHint = 0) => _bytes.AsMemory(Length);

        public Span<byte> GetSpan(int sizeHint = 0) => _bytes.AsSpan(Length);
    }
}
