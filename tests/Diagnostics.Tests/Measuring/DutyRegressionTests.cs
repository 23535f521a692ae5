using Diagnostics.Can;
using Diagnostics.Core.Measuring;
using Diagnostics.Simulation;

namespace Diagnostics.Tests.Measuring;

/// <summary>
/// The figures of the project's methods, section 8.2: 125 kbit/s, 20 s, 2 mV of noise, windows whose place is known to ±0.3 ms, load of 5 to 40 %, true dominant level 2.000 V.
/// Ratio 2.00 ± 0.005 with windows of 8.2 ms; regression 1.98 ± 0.007 with 8.2 ms and 1.82 with 1.16 ms. They come out where the 0.3 ms are a standard deviation and a run's load
/// stays what it is; how its traffic was drawn isn't told, so frames of eight random bytes with exponential gaps are drawn here.
/// </summary>
public class DutyRegressionTests
{
    private const double Microsecond = 1e3;
    private const double BitNanoseconds = 8 * Microsecond;

    [Fact]
    public void RatioOverWindowsOf8MillisecondsIsTrue() => Assert.InRange(Run(8.2, 1).Ratio, 1.99, 2.01);

    [Fact]
    public void RegressionOverWindowsOf8MillisecondsIsOnePercentLow() => Assert.InRange(Mean(8.2).Dominant, 1.973, 1.987);

    [Fact]
    public void RegressionOverShortWindowsIsTooLowToBeUsed() => Assert.InRange(Mean(1.16).Dominant, 1.79, 1.85);

    [Fact]
    public void WindowsWithoutAFrameAcrossTheirEdgesGiveTheTrueLevel() => Assert.InRange(Mean(8.2, onlySharp: true).Dominant, 1.995, 2.005);

    [Fact]
    public void WindowsThatAreAllAlikeGiveNoLine()
    {
        DutyRegression regression = new();
        for (int i = 0; i < 100; i++)
        {
            regression.Add(0.2, 0.4);
        }

        Assert.Null(regression.Fit());
    }

    [Fact]
    public void DriversThatDifferDoNotBendTheRecessiveLevel()
    {
        // Three kinds of windows: nobody, one of 2.0 V, and two at once of which one gives 1.2 V.
        DutyRegression regression = new();
        for (int i = 0; i < 300; i++)
        {
            (double duty, double volts) = (i % 3) switch { 0 => (0, 0), 1 => (0.034, 0.068), _ => (0.068, 0.068 + 0.041) };
            regression.Add(duty, volts);
        }

        Assert.True(regression.Fit()!.Value.Recessive > 0.004);
        Assert.Equal(0, regression.FitFromRest()!.Value.Recessive, 12);
    }

    [Fact]
    public void ErrorOfTheSwingIsWhatManyRunsScatterBy()
    {
        DutyRegression.Line[] lines = [.. Enumerable.Range(1, 40).Select(seed => Run(8.2, (ulong)seed, onlySharp: true).Fit()!.Value)];
        double mean = lines.Average(line => line.Swing);
        double scatter = Math.Sqrt(lines.Average(line => Math.Pow(line.Swing - mean, 2)));
        Assert.InRange(scatter / lines.Average(line => line.SwingError), 0.7, 1.4);
    }

    private static DutyRegression.Line Mean(double windowMilliseconds, bool onlySharp = false)
    {
        DutyRegression.Line[] lines = [.. Enumerable.Range(1, 8).Select(seed => Run(windowMilliseconds, (ulong)seed, onlySharp).Fit()!.Value)];
        return new(lines.Average(line => line.Recessive), lines.Average(line => line.Swing), 0, 0);
    }

    private static DutyRegression Run(double windowMilliseconds, ulong seed, bool onlySharp = false)
    {
        const double DominantVolts = 2.0;
        const double Noise = 0.002;
        const double Misplaced = 300 * Microsecond;
        Randomness chance = new(seed, "duty");
        DominantTime dominant = new();
        DutyRegression regression = new();
        double window = windowMilliseconds * 1e6;
        double time = 0;
        double windowEnd = window;
        double load = chance.Between(0.05, 0.4);
        while (time < 20e9)
        {
            CanFrame frame = CanFrame.Classic(default, CanId.Base((uint)chance.Below(0x700)), BitConverter.GetBytes(chance.Next()));
            double bits = FrameLength.Of(frame).Nominal - 3;
            double start = time + chance.Exponential((bits / load) - bits) * BitNanoseconds;
            time = start + (bits * BitNanoseconds);
            dominant.Add(new((long)time), bits, DominantBits.Of(frame), BitNanoseconds, 1);
            while (windowEnd + 2e6 < time)
            {
                double shift = Misplaced * chance.Gaussian();
                double volts = DominantVolts * dominant.Of(new((long)(windowEnd - window)), new((long)windowEnd))!.Value.Duty;
                DominantTime.Window known = dominant.Of(new((long)(windowEnd - window + shift)), new((long)(windowEnd + shift)))!.Value;
                if (!onlySharp || known.IsSharp)
                {
                    regression.Add(known.Duty, volts + (Noise * chance.Gaussian()));
                }

                windowEnd += window;
            }
        }

        return regression;
    }
}
