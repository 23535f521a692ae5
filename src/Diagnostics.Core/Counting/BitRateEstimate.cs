namespace Diagnostics.Core.Counting;

/// <summary>
/// Finds the bit rate from frames that follow each other back to back: the time between their ends is the second one's length.
/// bits / gap is a lower bound of the rate and reaches it in bursts; the highest standard rate with a cluster of such gaps wins.
/// Stamps by interrupt or USB scatter both ways, so a cluster counts only while hardly anything lies above it.
/// Standard rates: CiA 301 (10k–1M), with 33.3, 83.3 and 100 kbit/s from common practice.
/// </summary>
internal sealed class BitRateEstimate
{
    private static readonly int[] Rates = [10_000, 20_000, 33_333, 50_000, 83_333, 100_000, 125_000, 250_000, 500_000, 800_000, 1_000_000];

    private const int Needed = 25;

    /// <summary>Gaps that are whole tenths of a millisecond show the resolution of the stamps, or their maker, and not the length of a frame.</summary>
    private const long RoundNanoseconds = 100_000;

    private readonly int[] _near = new int[Rates.Length];
    private readonly int[] _round = new int[Rates.Length];
    private readonly int[] _above = new int[Rates.Length];
    private int _samples;

    public int? BitRate { get; private set; }

    /// <summary>Stops when the answer is firm, or when thousands of frames gave none.</summary>
    public bool Done { get; private set; }

    public void Add(double bits, long gapNanoseconds)
    {
        if (Done || gapNanoseconds <= 0 || gapNanoseconds > 40_000_000)
        {
            return;
        }

        double rate = bits * 1e9 / gapNanoseconds;
        for (int i = 0; i < Rates.Length; i++)
        {
            double ratio = rate / Rates[i];
            if (ratio > 1.03)
            {
                _above[i]++;
            }
            else if (ratio > 0.97)
            {
                _near[i]++;
                _round[i] += gapNanoseconds % RoundNanoseconds == 0 ? 1 : 0;
            }
        }

        if (++_samples % 64 == 0)
        {
            Decide();
        }
    }

    private void Decide()
    {
        for (int i = Rates.Length - 1; i >= 0; i--)
        {
            if (_near[i] >= Needed && _round[i] * 2 < _near[i] && _above[i] * 5 <= _near[i])
            {
                BitRate = Rates[i];
                Done = _near[i] >= 8 * Needed;
                return;
            }
        }

        BitRate = null;
        Done = _samples > 200_000;
    }
}
