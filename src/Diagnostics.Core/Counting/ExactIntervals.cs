namespace Diagnostics.Core.Counting;

/// <summary>
/// Exact intervals and tails for counts. Poisson: F. Garwood, Biometrika 28 (1936): lower = chi²(α/2; 2k)/2, upper = chi²(1−α/2; 2k+2)/2.
/// Binomial: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934).
/// </summary>
internal static class ExactIntervals
{
    /// <summary>Two-sided interval of a Poisson mean after <paramref name="count"/> events.</summary>
    public static (double Low, double High) Poisson(long count, double confidenceLevel)
    {
        double tail = (1 - confidenceLevel) / 2;
        return (count == 0 ? 0 : GammaQuantile(count, tail), GammaQuantile(count + 1, 1 - tail));
    }

    /// <summary>One-sided upper bound of a Poisson mean; with no event and 95 % it is the rule of three.</summary>
    public static double PoissonUpper(long count, double confidenceLevel) => GammaQuantile(count + 1, confidenceLevel);

    /// <summary>Two-sided interval of a proportion after <paramref name="hits"/> of <paramref name="trials"/>.</summary>
    public static (double Low, double High) Binomial(long hits, long trials, double confidenceLevel)
    {
        double tail = (1 - confidenceLevel) / 2;
        double low = hits == 0 ? 0 : LeastRatio(hits, trials, tail);
        double high = hits == trials ? 1 : LeastRatio(hits + 1, trials, 1 - tail);
        return (low, high);
    }

    /// <summary>P(X ≥ <paramref name="count"/>) for a Poisson mean.</summary>
    public static double PoissonTail(long count, double mean) => count <= 0 ? 1 : mean <= 0 ? 0 : LowerGammaRatio(count, mean);

    /// <summary>P(X ≥ <paramref name="hits"/>) for Binomial(<paramref name="trials"/>, <paramref name="ratio"/>).</summary>
    public static double BinomialTail(long hits, long trials, double ratio)
    {
        if (hits <= 0)
        {
            return 1;
        }

        if (ratio <= 0 || hits > trials)
        {
            return 0;
        }

        if (ratio >= 1)
        {
            return 1;
        }

        // Summed away from the mean, where terms fall: towards it the first of them may be too small for a double.
        double odds = ratio / (1 - ratio);
        double sum = 0;
        if (hits > trials * ratio)
        {
            double term = Probability(hits);
            for (long k = hits; k <= trials && term > sum * 1e-12; k++)
            {
                sum += term;
                term *= odds * (trials - k) / (k + 1);
            }

            return Math.Min(1, sum);
        }

        double below = Probability(hits - 1);
        for (long k = hits - 1; k >= 0 && below > sum * 1e-12; k--)
        {
            sum += below;
            below *= k / (odds * (trials - k + 1));
        }

        return Math.Max(0, 1 - sum);

        double Probability(long k) => Math.Exp(LogGamma(trials + 1) - LogGamma(k + 1) - LogGamma(trials - k + 1)
            + (k * Math.Log(ratio)) + ((trials - k) * Math.Log(1 - ratio)));
    }

    /// <summary>The ratio from which on so many hits have at least this probability, by bisection: 60 halvings give full double precision here.</summary>
    private static double LeastRatio(long hits, long trials, double probability)
    {
        double low = 0;
        double high = 1;
        for (int i = 0; i < 60; i++)
        {
            double middle = (low + high) / 2;
            if (BinomialTail(hits, trials, middle) >= probability)
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

    /// <summary>The x with P(Gamma(shape) ≤ x) = probability, by bisection: 60 halvings give full double precision here.</summary>
    private static double GammaQuantile(double shape, double probability)
    {
        double low = 0;
        double high = shape + (20 * Math.Sqrt(shape)) + 40;
        for (int i = 0; i < 80; i++)
        {
            double middle = (low + high) / 2;
            if (LowerGammaRatio(shape, middle) < probability)
            {
                low = middle;
            }
            else
            {
                high = middle;
            }
        }

        return (low + high) / 2;
    }

    /// <summary>Regularised lower incomplete gamma function: series below shape + 1, continued fraction above.</summary>
    private static double LowerGammaRatio(double shape, double x)
    {
        if (x <= 0)
        {
            return 0;
        }

        double front = Math.Exp((shape * Math.Log(x)) - x - LogGamma(shape));
        if (x < shape + 1)
        {
            double term = 1 / shape;
            double sum = term;
            for (int n = 1; n < 10_000 && term > sum * 1e-16; n++)
            {
                term *= x / (shape + n);
                sum += term;
            }

            return Math.Min(1, sum * front);
        }

        double b = x + 1 - shape;
        double c = 1e300;
        double d = 1 / b;
        double fraction = d;
        for (int i = 1; i < 10_000; i++)
        {
            double a = -i * (i - shape);
            b += 2;
            d = 1 / Nonzero((a * d) + b);
            c = Nonzero(b + (a / c));
            double step = d * c;
            fraction *= step;
            if (Math.Abs(step - 1) < 1e-15)
            {
                break;
            }
        }

        return Math.Max(0, 1 - (front * fraction));

        static double Nonzero(double value) => Math.Abs(value) < 1e-300 ? 1e-300 : value;
    }

    /// <summary>Stirling's series after shifting the argument above 10: relative error below 1e-14.</summary>
    private static double LogGamma(double x)
    {
        double shift = 0;
        while (x < 10)
        {
            shift -= Math.Log(x);
            x++;
        }

        double inverse = 1 / x;
        double square = inverse * inverse;
        return shift + ((x - 0.5) * Math.Log(x)) - x + (0.5 * Math.Log(2 * Math.PI))
            + (inverse * ((1.0 / 12) - (square * ((1.0 / 360) - (square * ((1.0 / 1260) - (square * (1.0 / 1680))))))));
    }
}
