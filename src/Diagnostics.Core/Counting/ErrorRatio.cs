namespace Diagnostics.Core.Counting;

/// <summary>Errors per bit, by the exact Poisson interval (F. Garwood, Biometrika 28 (1936)) at 95 %.</summary>
/// <param name="Low">Lower end of the two-sided interval.</param>
/// <param name="High">Upper end of the same interval.</param>
/// <param name="Below">What is proved not to be exceeded (one-sided).</param>
public sealed record ErrorRatio(double Low, double High, double Below)
{
    public const double ConfidenceLevel = 0.95;

    /// <summary>Null where errors couldn't be seen or no bit was counted.</summary>
    /// <param name="episodes">Errors 50 ms or more apart, which is what can be taken for independent; null = they couldn't be seen.</param>
    /// <param name="bits">Bits on the wire; null = not known.</param>
    public static ErrorRatio? Of(long? episodes, double? bits)
    {
        if (episodes is not long count || bits is not > 0)
        {
            return null;
        }

        (double low, double high) = ExactIntervals.Poisson(count, ConfidenceLevel);
        return new(low / bits.Value, high / bits.Value, ExactIntervals.PoissonUpper(count, ConfidenceLevel) / bits.Value);
    }
}
