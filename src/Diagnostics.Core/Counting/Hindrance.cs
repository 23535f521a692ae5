using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>
/// When not everybody could get through, so that silence says nothing about who was silent: the bus was more than 90 % full, where low priorities wait; or errors dominated
/// and more than half of those that send regularly have been late since. While errors dominate and most get through, who doesn't is found as ever: it may be the one that disturbs.
/// Errors dominate a second that has three of them and three for every ten good frames (common practice, no source).
/// </summary>
internal sealed class Hindrance(Bus bus)
{
    private const double FullBus = 0.9;
    private const int LeastErrors = 3;
    private const double LeastErrorsPerFrame = 0.3;

    /// <summary>Modules that cut themselves off come back after up to seconds, and errors pause meanwhile (common practice, no source).</summary>
    private static readonly TimeSpan Pause = TimeSpan.FromSeconds(3);

    private Instant _lastDominated = Instant.MinValue;
    private long _framesBefore;

    /// <summary>Nodes or identifiers that were late since errors began to dominate: who gets through at a moment and who doesn't is chance.</summary>
    private readonly HashSet<object> _late = new(ReferenceEqualityComparer.Instance);

    /// <summary>Then somebody was last hindered.</summary>
    public Instant Until { get; private set; } = Instant.MinValue;

    /// <summary>Errors dominated the last whole second.</summary>
    public bool ErrorsDominate { get; private set; }

    /// <summary>Good frames in the last whole second.</summary>
    public long FramesInLastSecond { get; private set; }

    public void OnSecond(Instant now)
    {
        FramesInLastSecond = bus.Frames - _framesBefore;
        _framesBefore = bus.Frames;
        int errors = bus.Errors.InLastSecond;
        ErrorsDominate = errors >= LeastErrors && errors > LeastErrorsPerFrame * FramesInLastSecond;
        if (ErrorsDominate)
        {
            if (now - _lastDominated > Pause)
            {
                _late.Clear();
            }

            _lastDominated = now;
        }

        bool isDisturbed = now - _lastDominated <= Pause && MostWereLate(now);
        if (isDisturbed || (bus.BitRate is int rate && bus.Load.BitsInLastSecond > FullBus * rate))
        {
            Until = now;
        }
    }

    private bool MostWereLate(Instant now)
    {
        int watched = 0;
        if (bus.Protocol.IsCanOpen)
        {
            foreach (NodeState node in bus.Nodes)
            {
                Count(node, node.Silent ? null : bus.SilenceSeconds(node), node.LastHeard);
            }
        }
        else if (bus.Loss.MissesAllowed is int misses)
        {
            foreach (IdentifierState identifier in bus.Identifiers.All)
            {
                Count(identifier, identifier.Cycle.Rhythm == Rhythm.Cyclic ? identifier.Cycle.SilenceSeconds(misses) : null, identifier.LastHeard);
            }
        }

        return _late.Count * 2 > watched;

        void Count(object who, double? limitSeconds, Instant lastHeard)
        {
            if (limitSeconds is not double limit)
            {
                return;
            }

            watched++;
            if (now.SecondsSince(lastHeard) > limit / 2)
            {
                _late.Add(who);
            }
        }
    }
}
