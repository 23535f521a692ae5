using BenchmarkDotNet.Attributes;
using Diagnostics.Can;
using Diagnostics.Core.Protocols.CanOpen;

namespace Diagnostics.Benchmarks.Protocols.CanOpen;

/// <summary>Target: a heartbeat or a PDO below 40 ns, nothing allocated.</summary>
[MemoryDiagnoser]
public class CanOpenDecoderBenchmarks
{
    private readonly CanOpenDecoder _decoder = new(new Deaf());
    private readonly CanFrame _heartbeat = CanFrame.Classic(default, CanId.Base(0x705), [5]);
    private readonly CanFrame _inputs = CanFrame.Classic(default, CanId.Base(0x185), [5]);
    private readonly CanFrame _fullPdo = CanFrame.Classic(default, CanId.Base(0x186), [1, 2, 3, 4, 5, 6, 7, 8]);
    private readonly CanFrame _request = CanFrame.Classic(default, CanId.Base(0x605), [0x40, 0x18, 0x10, 1, 0, 0, 0, 0]);
    private readonly CanFrame _answer = CanFrame.Classic(default, CanId.Base(0x585), [0x43, 0x18, 0x10, 1, 1, 2, 3, 4]);

    [Benchmark]
    public int Heartbeat() => (int)_decoder.Decode(_heartbeat);

    [Benchmark]
    public int PdoOfOneByte() => (int)_decoder.Decode(_inputs);

    [Benchmark]
    public int PdoOfEightBytes() => (int)_decoder.Decode(_fullPdo);

    [Benchmark]
    public int ExpeditedReadOfTwoFrames() => (int)_decoder.Decode(_request) + (int)_decoder.Decode(_answer);

    private sealed class Deaf : ICanOpenEvents
    {
        public void OnNetworkCommand(Instant time, NmtCommand command, byte node)
        {
        }

        public void OnBootUp(Instant time, byte node)
        {
        }

        public void OnErrorControl(Instant time, byte node, NodeState state, bool isGuardAnswer)
        {
        }

        public void OnGuardRequest(Instant time, byte node)
        {
        }

        public void OnSync(Instant time)
        {
        }

        public void OnTime(Instant time)
        {
        }

        public void OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer)
        {
        }

        public void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data)
        {
        }

        public void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
        {
        }

        public void OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite)
        {
        }

        public void OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer)
        {
        }

        public void OnPdo(Instant time, byte node, int number, bool isTransmit)
        {
        }

        public void OnInput(Instant time, byte node, int input, bool active, bool isFirst)
        {
        }

        public void OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst)
        {
        }

        public void OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst)
        {
        }

        public void OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data)
        {
        }
    }
}
