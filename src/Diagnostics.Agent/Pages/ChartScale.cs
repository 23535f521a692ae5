namespace Diagnostics.Agent.Pages;

/// <summary>Where the axes of charts end: a little above the most, at a number that a person reads at once.</summary>
internal static class ChartScale
{
    /// <summary>Of a load, ratio.</summary>
    public static double OfLoad(double most) => Array.Find((double[])[0.02, 0.05, 0.1, 0.2, 0.5, 1], top => most <= top) is > 0 and double found ? found : Math.Ceiling(Math.Min(most, 1000));

    /// <summary>Of values that don't begin at zero: both ends at round numbers, at least so far apart that noise doesn't fill the axis.</summary>
    public static (double Bottom, double Top) OfValues(double lowest, double highest, double least)
    {
        double middle = (lowest + highest) / 2;
        double half = Math.Max(highest - lowest, least) / 2;
        double step = Math.Pow(10, Math.Floor(Math.Log10(2 * half)));
        step = 2 * half / step < 2 ? step / 5 : 2 * half / step < 5 ? step / 2 : step;
        return (Math.Floor(Math.Round((middle - half) / step, 6)) * step, Math.Ceiling(Math.Round((middle + half) / step, 6)) * step);
    }

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
