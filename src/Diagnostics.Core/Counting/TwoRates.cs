namespace Diagnostics.Core.Counting;

/// <summary>
/// Two counts of independent events over two exposures (time, bits, frames), and whether their rates differ by more than chance. Given the sum of both counts, the
/// second is binomial with the second exposure's share as its ratio if the rates are the same: J. Przyborowski and H. Wilenski, Biometrika 31 (1940). The interval of
/// the ratio of rates is that of this binomial's ratio, carried over (C. J. Clopper and E. S. Pearson, Biometrika 26 (1934)).
/// Two-sided means twice the smaller tail: then the test and the interval never contradict each other. Adding up all that is no likelier, as some
/// programs do, gives smaller values, and now and then an interval that holds 1 beside a p that says otherwise.
/// Events that come in clusters make every such test too sure.
/// </summary>
internal readonly record struct TwoRates(long Before, double ExposureBefore, long After, double ExposureAfter)
{
    /// <summary>There is something to compare.</summary>
    public bool IsComparable => ExposureBefore > 0 && ExposureAfter > 0 && Before + After > 0;

    public double RateBefore => Before / ExposureBefore;

    public double RateAfter => After / ExposureAfter;

    /// <summary>P(so few or fewer after | the rate is the same).</summary>
    public double ProbabilityOfSoFew => ExactIntervals.BinomialTail(Before, Before + After, ExposureBefore / (ExposureBefore + ExposureAfter));

    /// <summary>P(so many or more after | the rate is the same).</summary>
    public double ProbabilityOfSoMany => ExactIntervals.BinomialTail(After, Before + After, ExposureAfter / (ExposureBefore + ExposureAfter));

    /// <summary>P of a difference like this or a larger one, whichever way | the rate is the same.</summary>
    public double TwoSided => Math.Min(1, 2 * Math.Min(ProbabilityOfSoFew, ProbabilityOfSoMany));

    /// <summary>Interval of rate after over rate before; the upper end is infinite where nothing was counted before.</summary>
    public (double Low, double High) RatioInterval(double confidenceLevel)
    {
        (double low, double high) = ExactIntervals.Binomial(After, Before + After, confidenceLevel);
        return (Ratio(low), Ratio(high));
    }

    /// <summary>
    /// How much exposure the second count needs before it is fewer than chance explains (one-sided, at <paramref name="probability"/>), if nothing more is counted in it. Infinite where nothing
    /// was counted before.
    /// </summary>
    public double ExposureNeeded(double probability)
    {
        if (Before <= 0 || ExposureBefore <= 0)
        {
            return double.PositiveInfinity;
        }

        // With nothing counted: (before / (before + after))^count = p.
        double share = After == 0 ? 1 - Math.Pow(probability, 1.0 / Before) : ExactIntervals.Binomial(After, Before + After, 1 - (2 * probability)).High;
        return share >= 1 ? double.PositiveInfinity : ExposureBefore * share / (1 - share);
    }

    private double Ratio(double share) => share >= 1 ? double.PositiveInfinity : share / (1 - share) * ExposureBefore / ExposureAfter;
}
