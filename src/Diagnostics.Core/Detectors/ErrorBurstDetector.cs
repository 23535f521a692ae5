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
/// Where two devices share an address, the bursts that end as their collisions do are laid to that finding, and the other causes share what is left.
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
    private bool _lastIsCollision;

    /// <summary>Bursts that ended as a collision does, by whose frames came then.</summary>
    private readonly Dictionary<Subject, int> _collisions = [];
    private (Subject? Shared, int Collisions, int Bursts) _explained;

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
                _collisions.Clear();
            }

            _bursts++;
            _lastBurst = time;
            _lastIsCollision = false;
            if (_bursts == 1)
            {
                _firstBurst = time;
            }

            _pending = true;
        }
    }

    /// <summary>A run of errors ended in two different frames of one identifier. Who is behind it is the judgement of another detector.</summary>
    public void OnCollision(Subject subject, Instant began)
    {
        if (_lastBurst < began || _lastIsCollision || (_collisions.Count >= Limits.Findings && !_collisions.ContainsKey(subject)))
        {
            return;
        }

        _lastIsCollision = true;
        _collisions[subject] = _collisions.GetValueOrDefault(subject) + 1;
    }

    public void OnSecond(Instant now)
    {
        if (!_pending)
        {
            // The shared address may be found behind the bursts. That it is over says nothing new of those that were.
            if (SharedAddress().Shared is not null && bus.Book.Find(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus) is { End: null } open)
            {
                Explain(open);
            }

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

        Finding finding = bus.Book.Raise(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus, _firstBurst, now, 0.99);
        finding.HoldOff = HoldOff;
        finding.Tell(
            Say($"Errors come in bursts: {_bursts:N0} bursts so far, with quiet between them."),
            Say($"Errors came in bursts: {_bursts:N0} bursts, with quiet between them."));
        finding.Measurements = [new("indexOfDispersion", Math.Round(dispersion, 2), "1"), new("bursts", _bursts, "1")];
        finding.AddEvidence(_lastBurst, Say($"{ErrorsInBurst} errors or more within 100 ms."));
        Explain(finding);
    }

    /// <summary>The address that two devices are found on, of those whose collisions the bursts may be, that most bursts fit.</summary>
    private (Subject? Shared, int Collisions, int Bursts) SharedAddress()
    {
        (Subject? Shared, int Collisions, int Bursts) most = (null, 0, _bursts);
        foreach ((Subject subject, int count) in _collisions)
        {
            if (count > most.Collisions && bus.Book.IsOpen(Catalogue.DuplicateAddress, bus.Name, subject))
            {
                most = (subject, count, _bursts);
            }
        }

        return most;
    }

    private void Explain(Finding finding)
    {
        (Subject? Shared, int Collisions, int Bursts) news = SharedAddress();
        if (finding.Causes.Count > 0 && (news == _explained || (news.Shared is null && _explained.Shared is null)))
        {
            return;
        }

        _explained = news;
        finding.Explain(
            bus,
            news.Shared,
            (double)news.Collisions / news.Bursts,
            place => Say($"Two devices use {place}, and {news.Collisions:N0} of {news.Bursts:N0} bursts ended as their collisions do: at once with two frames of theirs."),
            (Cause.CableIntermittent, 4, Say($"A contact that opens for tens of milliseconds damages several frames in a row.")),
            (Cause.SwitchingInterference, 3, Say($"Relays and drives make bursts when they switch.")),
            (Cause.AddressSetTwice, 1, Say($"Two senders of one identifier collide in runs.")),
            (Cause.SupplyWeak, 1, Say($"Dips of the supply disturb all at once.")));
    }

    private void Close()
    {
        _sum += _inWindow;
        _sumOfSquares += (double)_inWindow * _inWindow;
        _inWindow = 0;
    }
}
