using System.Buffers.Binary;
using Diagnostics.Can;

namespace Diagnostics.Benchmarks.Traffic;

/// <summary>
/// A CANopen bus made up as fast as a loop can: what the speed measurements read, so that generating costs less than reading.
/// 32 nodes with heartbeats each second, inputs by event timer, analog values that differ in each frame, outputs repeated by the controller, SYNC and
/// a controller that reads objects (identifiers and default mapping of CiA 301 and CiA 401). Frames follow each other as on a wire of that bit rate.
/// The same seed gives the same frames.
/// </summary>
internal sealed class SyntheticTraffic
{
    public const int Nodes = 32;
    private const long Millisecond = 1_000_000;

    /// <summary>Two objects that any CANopen device has: device type and serial number (CiA 301).</summary>
    private static readonly ulong[] Requests = [0x0000_0000_0010_0040, 0x0000_0000_0410_1840];
    private static readonly ulong[] Answers = [0x0000_0191_0010_0043, 0x0000_0000_0410_1843];

    private readonly PriorityQueue<Sender, long> _due = new();
    private readonly long _bitNanoseconds;
    private readonly double _pace;
    private ulong _chance;
    private long _wireFree;
    private CanFrame _frame;

    /// <param name="bitRate">bit/s.</param>
    /// <param name="pace">How much faster than the ordinary everything is sent; the wire's own limit stays.</param>
    /// <param name="seed">Of payloads and phases.</param>
    public SyntheticTraffic(int bitRate, double pace = 1, ulong seed = 1)
    {
        BitRate = bitRate;
        _bitNanoseconds = 1_000_000_000 / bitRate;
        _pace = pace;
        _chance = (seed * 0x9E37_79B9_7F4A_7C15) | 1;
        Start = Instant.FromDateTime(new(2026, 1, 7, 9, 0, 0, TimeSpan.Zero));
        _wireFree = Start.Nanoseconds;
        Add(0x080, 0, 100 * Millisecond, Content.Empty);
        for (uint node = 1; node <= Nodes; node++)
        {
            Add(0x700 + node, 1, 1000 * Millisecond, Content.Operational);
            Add(0x180 + node, 2, 200 * Millisecond, Content.Inputs);
            Add(0x280 + node, 8, 50 * Millisecond, Content.Analog);
            Add(0x200 + node, 2, 500 * Millisecond, Content.Outputs);
            Add(0x600 + node, 8, 1700 * Millisecond, Content.Request);
        }
    }

    public int BitRate { get; }

    public Instant Start { get; }

    /// <summary>Bits on the wire so far, intermission included.</summary>
    public long Bits { get; private set; }

    /// <summary>The next frame; valid until the next call.</summary>
    public ref readonly CanFrame Next()
    {
        _due.TryPeek(out Sender? sender, out long due);
        _frame.Id = sender!.Id;
        _frame.Length = sender.Length;
        _frame.DataLengthCode = sender.Length;
        Span<byte> data = _frame.Data;
        BinaryPrimitives.WriteUInt64LittleEndian(data, ContentOf(sender));
        int bits = FrameLength.Of(_frame).Total;
        Bits += bits;
        _wireFree = Math.Max(due, _wireFree) + (bits * _bitNanoseconds);
        _frame.Time = new(_wireFree);
        if (sender.Content == Content.Answer)
        {
            _due.Dequeue();
            return ref _frame;
        }

        if (sender.Content == Content.Request)
        {
            _due.DequeueEnqueue(sender, due + sender.Period);
            sender.Answer!.Count = sender.Count;
            sender.Count++;

            // By when the request was due and not by when the wire took it: a full wire falls farther and farther behind, and answers that wait for it to catch up would pile up for ever.
            _due.Enqueue(sender.Answer, due + (bits * _bitNanoseconds) + (2 * Millisecond));
            return ref _frame;
        }

        _due.DequeueEnqueue(sender, due + sender.Period);
        return ref _frame;
    }

    private ulong ContentOf(Sender sender)
    {
        switch (sender.Content)
        {
            case Content.Operational:
                return 5;
            case Content.Inputs:
                // One press or release in about 100 s.
                sender.Value ^= Chance() % 512 == 0 ? 1UL << (int)(Chance() % 16) : 0;
                return sender.Value;
            case Content.Outputs:
                sender.Value ^= Chance() % 256 == 0 ? 1UL << (int)(Chance() % 16) : 0;
                return sender.Value;
            case Content.Analog:
                // Four values of 16 bits that walk by a few steps.
                sender.Value += Chance() & 0x0007_0003_0007_0003;
                return sender.Value;
            case Content.Request:
                return Requests[sender.Count & 1];
            case Content.Answer:
                return Answers[sender.Count & 1] | ((sender.Count & 1) == 0 ? 0 : (ulong)(40_000 + sender.Id.Value) << 32);
            default:
                return 0;
        }
    }

    private void Add(uint id, byte length, long period, Content content)
    {
        Sender sender = new(CanId.Base(id), length, (long)(period / _pace), content);
        if (content == Content.Request)
        {
            sender.Answer = new(CanId.Base(id - 0x80), 8, 0, Content.Answer);
        }

        _due.Enqueue(sender, _wireFree + (long)(Chance() % (ulong)sender.Period));
    }

    /// <summary>xorshift64* (Vigna 2016, from memory).</summary>
    private ulong Chance()
    {
        _chance ^= _chance >> 12;
        _chance ^= _chance << 25;
        _chance ^= _chance >> 27;
        return (_chance * 0x2545_F491_4F6C_DD1D) >> 20;
    }

    private enum Content : byte
    {
        Empty,
        Operational,
        Inputs,
        Outputs,
        Analog,
        Request,
        Answer,
    }

    private sealed class Sender(CanId id, byte length, long period, Content content)
    {
        public readonly CanId Id = id;
        public readonly byte Length = length;
        public readonly long Period = period;
        public readonly Content Content = content;
        public ulong Value;
        public uint Count;
        public Sender? Answer;
    }
}
