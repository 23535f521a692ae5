using System.Numerics;

namespace Diagnostics.Simulation;

/// <summary>
/// A seeded stream of chance (xoshiro256** by Blackman and Vigna, seeded by SplitMix64). The integers are the same everywhere; logarithms and cosines are
/// the platform's, so another processor family may round a draw differently.
/// Each part of a site draws from a stream of its own, so that adding a fault doesn't change what the people do.
/// </summary>
internal sealed class Randomness
{
    private ulong _a;
    private ulong _b;
    private ulong _c;
    private ulong _d;

    public Randomness(ulong seed, string purpose)
    {
        // FNV-1a over the purpose, so that equal seeds give unrelated streams for different purposes.
        ulong state = seed ^ 14695981039346656037UL;
        foreach (char letter in purpose)
        {
            state = (state ^ letter) * 1099511628211UL;
        }

        state += seed * 0x9E3779B97F4A7C15UL;
        _a = SplitMix(ref state);
        _b = SplitMix(ref state);
        _c = SplitMix(ref state);
        _d = SplitMix(ref state);
    }

    public ulong Next()
    {
        ulong result = BitOperations.RotateLeft(_b * 5, 7) * 9;
        ulong shifted = _b << 17;
        _c ^= _a;
        _d ^= _b;
        _b ^= _c;
        _a ^= _d;
        _c ^= shifted;
        _d = BitOperations.RotateLeft(_d, 45);
        return result;
    }

    /// <summary>Uniform in [0, 1).</summary>
    public double Unit() => (Next() >> 11) * (1.0 / (1UL << 53));

    public double Between(double low, double high) => low + ((high - low) * Unit());

    /// <summary>Uniform in [0, count).</summary>
    public int Below(int count) => (int)(Unit() * count);

    public bool Chance(double probability) => Unit() < probability;

    public double Gaussian() => Math.Sqrt(-2 * Math.Log(1 - Unit())) * Math.Cos(2 * Math.PI * Unit());

    /// <summary>Exponentially distributed with the given mean.</summary>
    public double Exponential(double mean) => -mean * Math.Log(1 - Unit());

    /// <summary>How many trials pass before the first hit, each hitting with the given probability.</summary>
    public long Geometric(double probability) =>
        probability >= 1 ? 0
        : probability <= 0 ? long.MaxValue
        : (long)Math.Min(Math.Log(1 - Unit()) / Math.Log(1 - probability), 1e18);

    private static ulong SplitMix(ref ulong state)
    {
        state += 0x9E3779B97F4A7C15UL;
        ulong mixed = state;
        mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9UL;
        mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EBUL;
        return mixed ^ (mixed >> 31);
    }
}
