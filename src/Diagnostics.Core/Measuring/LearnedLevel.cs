namespace Diagnostics.Core.Measuring;

/// <summary>
/// What a level usually is: the middle of the first values, and how far half of them lie from it. Learned once and then kept, because a habit that follows would
/// follow a fault, too. That its first time was an ordinary one is an assumption.
/// </summary>
internal sealed class LearnedLevel(int needed)
{
    /// <summary>The median deviation of normal values is this part of their standard deviation.</summary>
    private const double ToStandardDeviation = 1.4826;

    private List<double>? _learning = new(Math.Min(needed, 64));

    /// <summary>Null while it is being learned.</summary>
    public double? Median { get; private set; }

    /// <summary>Robust standard deviation.</summary>
    public double Spread { get; private set; }

    public void Add(double value)
    {
        if (_learning is not { } learning)
        {
            return;
        }

        learning.Add(value);
        if (learning.Count == needed)
        {
            double median = Middle(learning);
            Spread = ToStandardDeviation * Middle([.. learning.Select(one => Math.Abs(one - median))]);
            Median = median;
            _learning = null;
        }
    }

    public void Forget()
    {
        Median = null;
        _learning = [];
    }

    private static double Middle(List<double> values)
    {
        values.Sort();
        return (values[(values.Count - 1) / 2] + values[values.Count / 2]) / 2;
    }
}
