using System.Buffers;
using System.Globalization;
using System.Text;
using BenchmarkDotNet.Attributes;
using Diagnostics.Benchmarks.Traffic;
using Diagnostics.Can;
using Diagnostics.Can.Traces;

namespace Diagnostics.Benchmarks.Can.Traces;

/// <summary>Reading a trace, per frame: pcapng and the text log, in pieces as from a file.</summary>
[MemoryDiagnoser]
public class TraceParserBenchmarks
{
    private const int Frames = 100_000;
    private const int Piece = 256 * 1024;
    private byte[] _pcapng = [];
    private byte[] _text = [];

    [GlobalSetup]
    public void Write()
    {
        ArrayBufferWriter<byte> buffer = new();
        PcapngWriter writer = new(buffer);
        writer.WriteInterface("can0");
        StringBuilder text = new();
        SyntheticTraffic traffic = new(250_000);
        for (int i = 0; i < Frames; i++)
        {
            ref readonly CanFrame frame = ref traffic.Next();
            writer.Write(frame);
            long microseconds = frame.Time.Nanoseconds / 1000;
            text.Append(CultureInfo.InvariantCulture, $"({microseconds / 1_000_000}.{microseconds % 1_000_000:000000}) can0 {frame.Id.Value:X3}#{Convert.ToHexString(frame.Bytes)}\n");
        }

        _pcapng = buffer.WrittenSpan.ToArray();
        _text = Encoding.ASCII.GetBytes(text.ToString());
    }

    [Benchmark(OperationsPerInvoke = Frames)]
    public long Pcapng() => Read(_pcapng);

    [Benchmark(OperationsPerInvoke = Frames)]
    public long TextLog() => Read(_text);

    private static long Read(byte[] trace)
    {
        TimeLine line = new(new Deaf());
        TraceParser parser = TraceParser.Create(line);
        for (int at = 0; at < trace.Length; at += Piece)
        {
            parser.Feed(trace.AsSpan(at, Math.Min(Piece, trace.Length - at)));
        }

        parser.Complete();
        line.Complete();
        return parser.Frames;
    }

    private sealed class Deaf : IFrameSink
    {
        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnFrame(in CanFrame frame)
        {
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
        }
    }
}
