using BenchmarkDotNet.Attributes;
using Diagnostics.Benchmarks.Traffic;
using Diagnostics.Can;
using Diagnostics.Core;

namespace Diagnostics.Benchmarks;

/// <summary>The whole analysis, per frame, its seconds included; and one report.</summary>
[MemoryDiagnoser]
public class AnalyzerBenchmarks
{
    private const int Frames = 100_000;
    private readonly CanFrame[] _frames = new CanFrame[Frames];
    private readonly Analyzer _warm = New();
    private TimeSpan _length;
    private long _round;
    private Analyzer _endless = New();

    [GlobalSetup]
    public void Make()
    {
        SyntheticTraffic traffic = new(250_000);
        for (int i = 0; i < Frames; i++)
        {
            _frames[i] = traffic.Next();
            _warm.OnFrame(_frames[i]);
        }

        _length = TimeSpan.FromSeconds(Math.Ceiling((_frames[^1].Time - _frames[0].Time).TotalSeconds));
        _endless = New();
        _round = 0;
    }

    /// <summary>One bus that goes on and on, so what is allocated once doesn't count for each frame.</summary>
    [Benchmark(OperationsPerInvoke = Frames)]
    public void Frame()
    {
        long shift = (long)_length.TotalNanoseconds * _round++;
        for (int i = 0; i < _frames.Length; i++)
        {
            CanFrame frame = _frames[i];
            frame.Time = new(frame.Time.Nanoseconds + shift);
            _endless.OnFrame(in frame);
        }
    }

    [Benchmark]
    public int Snapshot() => _warm.Snapshot().Findings.Count;

    private static Analyzer New() => new(new() { SourceKind = "trace", SourceName = "benchmark", BitRate = 250_000 });
}
