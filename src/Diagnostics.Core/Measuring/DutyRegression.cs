namespace Diagnostics.Core.Measuring;

/// <summary>
/// From means over windows to the two levels of a line. A window that was dominant for the part d has the mean V = Vrec + d·(Vdom − Vrec), so the line through many
/// windows meets d = 0 at the recessive and d = 1 at the dominant level (methods 8.2). Ordinary least squares: errors in d, as of windows whose edges are known
/// to 0.3 ms, flatten it: 1 % low with windows of 8.2 ms, 9 % with 1.16 ms. <see cref="Ratio"/> doesn't suffer from that, but takes the recessive level for zero.
/// Where drivers differ, as they may, the best line through all windows can miss the recessive level by much, because a few kinds of windows decide it; so where there are windows
/// in which nobody sent, they alone give that level (<see cref="FitFromRest"/>).
/// </summary>
internal sealed class DutyRegression
{
    private double _sumD;
    private double _sumDD;
    private double _sumV;
    private double _sumVV;
    private double _sumDV;
    private double _sumRest;
    private long _rests;

    /// <summary>Levels are kept as differences from the first value, so that squares of volts don't swallow millivolts.</summary>
    private double _origin;

    public long Count { get; private set; }

    public void Add(double duty, double volts)
    {
        if (Count++ == 0)
        {
            _origin = volts;
        }

        double v = volts - _origin;
        _sumD += duty;
        _sumDD += duty * duty;
        _sumV += v;
        _sumVV += v * v;
        _sumDV += duty * v;
        if (duty == 0)
        {
            _rests++;
            _sumRest += v;
        }
    }

    public void Clear()
    {
        Count = _rests = 0;
        _sumRest = _sumD = _sumDD = _sumV = _sumVV = _sumDV = 0;
    }

    public double MeanDuty => _sumD / Count;

    /// <summary>Mean over mean duty: the dominant level of a difference whose recessive level is zero.</summary>
    public double Ratio => (_origin + (_sumV / Count)) / MeanDuty;

    /// <summary>Null where the windows were all alike.</summary>
    public Line? Fit()
    {
        double spread = _sumDD - (_sumD * _sumD / Count);
        if (Count < 3 || spread <= 1e-9 * Count)
        {
            return null;
        }

        double slope = (_sumDV - (_sumD * _sumV / Count)) / spread;
        double recessive = (_sumV - (slope * _sumD)) / Count;
        double rest = Math.Max(0, _sumVV - (_sumV * _sumV / Count) - (slope * slope * spread));
        double noise = Math.Sqrt(rest / (Count - 2));
        return new(recessive + _origin, slope, noise, noise / Math.Sqrt(spread));
    }

    /// <summary>As <see cref="Fit"/>, but through the mean of the windows in which nobody sent; as that where there are fewer than twenty of them.</summary>
    public Line? FitFromRest()
    {
        const int Enough = 20;
        if (_rests < Enough)
        {
            return Fit();
        }

        if (_sumDD <= 1e-9 * Count)
        {
            return null;
        }

        double recessive = _sumRest / _rests;
        double swing = (_sumDV - (recessive * _sumD)) / _sumDD;
        double rest = Math.Max(0, _sumVV - (2 * recessive * _sumV) + (Count * recessive * recessive) - (swing * swing * _sumDD));
        double noise = Math.Sqrt(rest / (Count - 1));
        return new(recessive + _origin, swing, noise, noise * Math.Sqrt((1 / _sumDD) + (_sumD * _sumD / (_sumDD * _sumDD * _rests))));
    }

    /// <param name="Recessive">V.</param>
    /// <param name="Swing">Dominant less recessive, V.</param>
    /// <param name="Noise">Standard deviation of a window from the line, V.</param>
    /// <param name="SwingError">Standard error of the swing, V: chance only.</param>
    public readonly record struct Line(double Recessive, double Swing, double Noise, double SwingError)
    {
        public double Dominant => Recessive + Swing;
    }
}
