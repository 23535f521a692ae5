using BenchmarkDotNet.Attributes;
using Diagnostics.Can;

namespace Diagnostics.Benchmarks.Can;

/// <summary>Counting a frame's bits, stuffing and CRC included.</summary>
[MemoryDiagnoser]
public class FrameLengthBenchmarks
{
    private readonly CanFrame _heartbeat = CanFrame.Classic(default, CanId.Base(0x705), [5]);
    private readonly CanFrame _full = CanFrame.Classic(default, CanId.Base(0x286), [1, 2, 3, 4, 5, 6, 7, 8]);
    private readonly CanFrame _extended = CanFrame.Classic(default, CanId.Extended(0x1234_5678), [1, 2, 3, 4, 5, 6, 7, 8]);

    [Benchmark]
    public int OneByte() => FrameLength.Of(_heartbeat).Total;

    [Benchmark]
    public int EightBytes() => FrameLength.Of(_full).Total;

    [Benchmark]
    public int EightBytesExtended() => FrameLength.Of(_extended).Total;
}
