using Diagnostics.Can;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: errors cluster far beyond chance. Limit: the index of dispersion D = variance / mean of errors per 100 ms lies six standard deviations
/// above 1 (for Poisson, D·(n−1) follows chi² with n−1 degrees, so D has standard deviation √(2/(n−1))), and at least three windows, in different tens of
/// seconds, hold five errors or more. Why three: one disturbance of any kind is one cluster; a source that comes back is a finding
/// (burst shape of a switching transient: 15 ms every 300 ms, IEC 61000-4-4).
/// Lost frames: errors that were heard were heard, so nothing is held back. Over after 10 minutes without a burst.
/// </summary>
internal sealed class ErrorBurstDetector(Bus bus)
{
    /// <summary>The episode is over once this long has passed without evidence.</summary>
    public static readonly TimeSpan HoldOff = TimeSpan.FromMinutes(10);

    private const long WindowNanoseconds = 100_000_000;
    private const int ErrorsInBurst = 5;
    private const int BurstsNeeded = 3;

    /// <summary>A source that comes back does so within a day; three thunderstorms in a year are none (common practice, no source).</summary>
    private static readonly TimeSpan Related = TimeSpan.FromHours(24);

    private long _window = long.MinValue;
    private int _inWindow;
    private double _sum;
    private double _sumOfSquares;
    private int _bursts;
    private long _burstDecade = long.MinValue;
    private Instant _firstBurst;
    private Instant _lastBurst = Instant.MinValue;
    private bool _pending;

    public void OnWireError(Instant time)
    {
        long window = time.Nanoseconds / WindowNanoseconds;
        if (window != _window)
        {
            Close();
            _window = window;
        }

        if (++_inWindow == ErrorsInBurst && window / 100 != _burstDecade)
        {
            _burstDecade = window / 100;
            if (_lastBurst != Instant.MinValue && time - _lastBurst > Related)
            {
                _bursts = 0;
            }

            _bursts++;
            _lastBurst = time;
            if (_bursts == 1)
            {
                _firstBurst = time;
            }

            _pending = true;
        }
    }

    public void OnSecond(Instant now)
    {
        if (!_pending)
        {
            return;
        }

        _pending = false;
        double windows = Math.Max(2, now.SecondsSince(bus.Start) * 10);
        double sum = _sum + _inWindow;
        double squares = _sumOfSquares + ((double)_inWindow * _inWindow);
        double mean = sum / windows;
        double dispersion = mean <= 0 ? 0 : ((squares / windows) - (mean * mean)) / mean;
        if (_bursts < BurstsNeeded || dispersion < 1 + (6 * Math.Sqrt(2 / (windows - 1))))
        {
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus);
        Finding finding = bus.Book.Raise(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus, _firstBurst, now, 0.99);
        finding.HoldOff = HoldOff;
        finding.Tell(
            Say($"Errors come in bursts: {_bursts:N0} bursts so far, with quiet between them."),
            Say($"Errors came in bursts: {_bursts:N0} bursts, with quiet between them."));
        finding.Measurements = [new("indexOfDispersion", Math.Round(dispersion, 2), "1"), new("bursts", _bursts, "1")];
        finding.AddEvidence(_lastBurst, Say($"{ErrorsInBurst} errors or more within 100 ms."));
        if (isNew)
        {
            finding.Causes = Causes.Of(
                (Cause.CableIntermittent, 4, Say($"A contact that opens for tens of milliseconds damages several frames in a row.")),
                (Cause.SwitchingInterference, 3, Say($"Relays and drives make bursts when they switch.")),
                (Cause.AddressSetTwice, 1, Say($"Two senders of one identifier collide in runs.")),
                (Cause.SupplyWeak, 1, Say($"Dips of the supply disturb all at once.")));
        }
    }

    private void Close()
    {
        _sum += _inWindow;
        _sumOfSquares += (double)_inWindow * _inWindow;
        _inWindow = 0;
    }
}
