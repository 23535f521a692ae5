using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>
/// The two levels of one line (or of the difference of both), block after block. A block is over once its swing is known to 0.7 % by chance, but lasts a minute at
/// least; one that isn't known after an hour is given up. Windows of 8 ms and more count where no frame lies across their edges; shorter ones are joined to
/// 100 ms where they follow each other without a gap, and say nothing of the dominant level where they don't.
/// </summary>
internal sealed class LineLevels
{
    private const double SwingErrorRatio = 0.007;
    private const int LeastWindows = 50;
    private static readonly TimeSpan LeastBlock = TimeSpan.FromMinutes(1);
    private static readonly TimeSpan LongestBlock = TimeSpan.FromHours(1);
    private static readonly TimeSpan WholeWindow = TimeSpan.FromMilliseconds(8);
    private static readonly TimeSpan JoinedWindow = TimeSpan.FromMilliseconds(100);

    /// <summary>Known windows that begin farther apart than this leave time that nobody watched; between others the part pauses, or reads another line.</summary>
    private static readonly TimeSpan Unwatched = TimeSpan.FromSeconds(1);

    /// <summary>Between windows that count as one, of the length of one.</summary>
    private const double GapRatio = 0.5;

    private readonly DutyRegression _regression = new();
    private Instant? _began;
    private Instant _lastKnown = Instant.MinValue;
    private double _watchedSeconds;
    private Instant _joinedStart;
    private Instant _joinedEnd;
    private double _joinedSeconds;
    private double _joinedVolts;

    /// <summary>The last block that was known; null = none yet.</summary>
    public Block? Last { get; private set; }

    /// <param name="Start">Of its first window.</param>
    /// <param name="End">Of its last.</param>
    /// <param name="Line">Through all that count.</param>
    /// <param name="Windows">That count.</param>
    /// <param name="WatchedSeconds">Its length without gaps, and without time whose frames aren't known.</param>
    public readonly record struct Block(Instant Start, Instant End, DutyRegression.Line Line, long Windows, double WatchedSeconds);

    /// <summary>The line through the last block; null = none yet.</summary>
    public DutyRegression.Line? Fit => Last?.Line;

    public bool IsMeasured { get; private set; }

    /// <param name="value">One window.</param>
    /// <param name="window">What was dominant in it; null = not known.</param>
    /// <param name="dominant">Tells it of windows that are joined.</param>
    /// <returns>Whether a block was completed.</returns>
    public bool Add(in Measurement value, DominantTime.Window? window, DominantTime dominant)
    {
        IsMeasured = true;
        if (window is not { } known)
        {
            _joinedSeconds = 0;
            return false;
        }

        if (_lastKnown != Instant.MinValue && value.Start - _lastKnown <= Unwatched)
        {
            _watchedSeconds += value.Start.SecondsSince(_lastKnown);
        }

        _lastKnown = value.Start;
        if (value.End - value.Start < WholeWindow)
        {
            Join(value, dominant);
        }
        else if (known.IsSharp)
        {
            _regression.Add(known.Duty, value.Value);
        }

        return EndBlock(value.Start, value.End);
    }

    /// <summary>Where one window ends and the next begins is known no better than any edge, so the dominant time is that of the whole.</summary>
    private void Join(in Measurement value, DominantTime dominant)
    {
        double seconds = value.End.SecondsSince(value.Start);
        if (_joinedSeconds == 0 || value.Start.SecondsSince(_joinedEnd) > GapRatio * seconds)
        {
            _joinedStart = value.Start;
            _joinedSeconds = _joinedVolts = 0;
        }

        _joinedEnd = value.End;
        _joinedSeconds += seconds;
        _joinedVolts += value.Value * seconds;
        if (_joinedEnd - _joinedStart >= JoinedWindow)
        {
            if (dominant.Of(_joinedStart, _joinedEnd) is { } whole)
            {
                _regression.Add(whole.Duty, _joinedVolts / _joinedSeconds);
            }

            _joinedSeconds = 0;
        }
    }

    private bool EndBlock(Instant start, Instant end)
    {
        _began ??= start;
        if (end - _began.Value < LeastBlock || _regression.Count < LeastWindows)
        {
            return false;
        }

        bool isKnown = _regression.FitFromRest() is { } line && line.SwingError <= SwingErrorRatio * Math.Abs(line.Swing);
        if (isKnown)
        {
            Last = new(_began.Value, end, _regression.FitFromRest()!.Value, _regression.Count, _watchedSeconds);
        }

        if (isKnown || end - _began.Value > LongestBlock)
        {
            _regression.Clear();
            _began = null;
            _watchedSeconds = 0;
        }

        return isKnown;
    }
}
