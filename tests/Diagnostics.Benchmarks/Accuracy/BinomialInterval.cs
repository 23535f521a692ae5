using Diagnostics.Core.Counting;

namespace Diagnostics.Benchmarks.Accuracy;

/// <summary>Exact two-sided interval of a proportion: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934).</summary>
internal static class BinomialInterval
{
    public static (double Low, double High) Of(long hits, long trials, double confidenceLevel)
    {
        double tail = (1 - confidenceLevel) / 2;
        double low = hits == 0 ? 0 : Solve(ratio => ExactIntervals.BinomialTail(hits, trials, ratio) >= tail);
        double high = hits == trials ? 1 : Solve(ratio => ExactIntervals.BinomialTail(hits + 1, trials, ratio) >= 1 - tail);
        return (low, high);
    }

    /// <summary>The ratio from which on the condition holds.</summary>
    private static double Solve(Func<double, bool> holds)
    {
        double low = 0;
        double high = 1;
        for (int i = 0; i < 60; i++)
        {
            double middle = (low + high) / 2;
            if (holds(middle))
            {
                high = middle;
            }
            else
            {
                low = middle;
            }
        }

        return (low + high) / 2;
    }
}
