namespace Diagnostics.Agent.Pages;

/// <summary>Where the axes of charts end: a little above the most, at a number that a person reads at once.</summary>
internal static class ChartScale
{
    /// <summary>Of a load, ratio.</summary>
    public static double OfLoad(double most) => Array.Find((double[])[0.02, 0.05, 0.1, 0.2, 0.5, 1], top => most <= top) is > 0 and double found ? found : Math.Ceiling(Math.Min(most, 1000));

    /// <summary>Of counts: 1, 2 or 5 with zeros.</summary>
    public static double OfCounts(long most)
    {
        for (double size = 1; ; size *= 10)
        {
            if (Array.Find((double[])[1, 2, 5], factor => most <= size * factor) is > 0 and double found)
            {
                return size * found;
            }
        }
    }
}
