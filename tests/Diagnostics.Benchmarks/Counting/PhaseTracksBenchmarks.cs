using BenchmarkDotNet.Attributes;
using Diagnostics.Can;
using Diagnostics.Core.Counting;

namespace Diagnostics.Benchmarks.Counting;

/// <summary>Following the phases of one identifier, per arrival.</summary>
[MemoryDiagnoser]
public class PhaseTracksBenchmarks
{
    private readonly PhaseTracks _one = new();
    private readonly PhaseTracks _two = new();
    private readonly PhaseTracks _irregular = new();
    private long _timeOfOne;
    private long _timeOfTwo;
    private long _timeOfIrregular;
    private uint _chance = 1;

    [Benchmark]
    public void OneSender() => _one.Add(new(_timeOfOne += 1_000_000_000));

    [Benchmark(OperationsPerInvoke = 2)]
    public void TwoSenders()
    {
        _two.Add(new(_timeOfTwo += 300_000_000));
        _two.Add(new(_timeOfTwo += 700_000_000));
    }

    [Benchmark]
    public void NoRhythm()
    {
        _chance = (_chance * 1_664_525) + 1_013_904_223;
        _irregular.Add(new(_timeOfIrregular += 10_000_000 + _chance));
    }
}
