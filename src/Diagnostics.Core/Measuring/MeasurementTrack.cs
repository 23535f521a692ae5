using Diagnostics.Can;

namespace Diagnostics.Core.Measuring;

/// <summary>One quantity: its last value, second and minute, and everything since it was first measured. A second or a minute is over once a value behind it has come.</summary>
internal sealed class MeasurementTrack(Quantity quantity)
{
    private const long Second = 1_000_000_000;
    private const long Minute = 60 * Second;

    private const int KeptMinutes = 16;

    private readonly List<MeasuredSpan> _minutes = [];
    private MeasuredSpan _second;
    private MeasuredSpan _minute;

    public Quantity Quantity => quantity;

    public Measurement Last { get; private set; }

    public MeasuredSpan All { get; private set; }

    /// <summary>The last second that is over; null = none yet.</summary>
    public MeasuredSpan? LastSecond { get; private set; }

    public MeasuredSpan? LastMinute => _minutes.Count > 0 ? _minutes[^1] : null;

    /// <summary>The latest minutes that are over, in order: where time goes faster than life, several end between two looks.</summary>
    public IReadOnlyList<MeasuredSpan> LatestMinutes => _minutes;

    /// <summary>Between the starts of two windows, by the last minute or second that is over, seconds; null = none is over.</summary>
    public double? PeriodSeconds => LastMinute is { } minute ? 60.0 / minute.Count : LastSecond is { } second ? 1.0 / second.Count : null;

    /// <summary>
    /// The shortest time of another value that surely fills one window whole: a window and the time from one to the next, seconds. What is shorter may show as less
    /// than it was, or fall between two windows.
    /// </summary>
    public double? SurelySeenSeconds => PeriodSeconds is double period ? Math.Max(period, All.WindowSeconds) + All.WindowSeconds : null;

    /// <returns>Whether a second ended before this value (<see cref="LastSecond"/>).</returns>
    public bool Add(in Measurement measurement)
    {
        Instant second = Floor(measurement.End, Second);
        Instant minute = Floor(measurement.End, Minute);
        bool secondEnded = _second.Count > 0 && second != _second.Start;
        if (secondEnded)
        {
            LastSecond = _second;
        }

        if (_minute.Count > 0 && minute != _minute.Start)
        {
            if (_minutes.Count == KeptMinutes)
            {
                _minutes.RemoveAt(0);
            }

            _minutes.Add(_minute);
        }

        _second = (second == _second.Start && _second.Count > 0 ? _second : MeasuredSpan.Empty(second)).With(measurement);
        _minute = (minute == _minute.Start && _minute.Count > 0 ? _minute : MeasuredSpan.Empty(minute)).With(measurement);
        All = (All.Count > 0 ? All : MeasuredSpan.Empty(measurement.Start)).With(measurement);
        Last = measurement;
        return secondEnded;
    }

    /// <summary>A window that ends with a second belongs to that one.</summary>
    private static Instant Floor(Instant end, long step)
    {
        long within = (end.Nanoseconds - 1) % step;
        return new(end.Nanoseconds - 1 - (within < 0 ? within + step : within));
    }
}
