using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: errors fall on one node's frames far beyond its share of the traffic. Rule (exposure-normalised attribution): if noise hit everybody alike, the
/// errors on node k would be Binomial(all attributed errors, its bits / all bits); one-sided exact p, corrected for the number of nodes by Holm's
/// first step, must be below 1e-4, with at least four errors. Why 1e-4 where a single look would take 1e-2: it is looked at after every error.
/// Why four: with 30 equal nodes four of ten are enough at 1e-2, and one or two can be chance at any level.
/// Lost frames: an error with a loss right behind it is given to nobody; otherwise losses hit the exposure and the errors alike.
/// </summary>
internal sealed class NodeErrorsDetector(Bus bus)
{
    private const double Significance = 1e-4;
    private const int LeastErrors = 4;

    private readonly Dictionary<byte, Instant> _firstError = [];
    private readonly HashSet<NodeState> _dirty = [];
    private long _attributed;

    private NodeState? _lastHit;
    private long _lastEpisode;

    /// <summary>
    /// A frame came right behind an error. Where the same episode had been laid to an earlier frame already, that is taken back: the last error of an episode is
    /// the one before the repeat that got through.
    /// </summary>
    public void OnEpisodeResolved()
    {
        if (_lastHit is not null && _lastEpisode == bus.Errors.Episodes)
        {
            _lastHit.Errors--;
            _attributed--;
        }

        _lastHit = null;
        _lastEpisode = bus.Errors.Episodes;
    }

    public void OnErrorOn(NodeState node, Instant time)
    {
        node.Errors++;
        _attributed++;
        _lastHit = node;
        _firstError.TryAdd(node.Address, time);
        _dirty.Add(node);
    }

    public void OnSecond(Instant now)
    {
        if (_dirty.Count == 0)
        {
            return;
        }

        foreach (NodeState node in _dirty.OrderBy(node => node.Address))
        {
            Judge(node, now);
        }

        _dirty.Clear();
    }

    /// <summary>
    /// Bursts that repeat in a fixed rhythm can lock to the rhythm of one node's frames and hit it more than its share. While bursts are found that hit
    /// others too, this cannot be told.
    /// </summary>
    private bool MayBeBursts(NodeState node, long all) =>
        bus.Book.IsOpen(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus) && node.Errors < 0.9 * all;

    private void Judge(NodeState node, Instant now)
    {
        if (node.Errors < LeastErrors || bus.Load.TotalBits <= 0 || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        // Errors that hit frames of nobody in particular (network commands, requests) count among the rest of the traffic.
        double share = Math.Min(1, node.Bits / bus.Load.TotalBits);
        long all = Math.Max(_attributed, bus.Errors.Episodes);
        double p = ExactIntervals.BinomialTail(node.Errors, all, share) * bus.NodeCount;
        Subject subject = Subject.OfNode(node.Address);
        if (p >= Significance || share > 0.8 || MayBeBursts(node, all))
        {
            return;
        }

        bool isNew = !bus.Book.IsOpen(Catalogue.NodeErrors, bus.Name, subject);
        Finding finding = bus.Book.Raise(Catalogue.NodeErrors, bus.Name, subject, _firstError[node.Address], now, Math.Min(0.999, 1 - p));
        finding.HoldOff = TimeSpan.FromMinutes(30);
        finding.Tell(
            Text.Of($"Errors fall on the frames of {bus.Names.Node(node.Address)}: {node.Errors:N0} of {all:N0}, although it makes {Text.Percent(share)} of the traffic."),
            Text.Of($"Errors fell on the frames of {bus.Names.Node(node.Address)}: {node.Errors:N0} of {all:N0}, although it made {Text.Percent(share)} of the traffic."));
        (double low, double high) = ExactIntervals.Poisson(node.Errors, 0.95);
        finding.Measurements =
        [
            new("errorsOnItsFrames", node.Errors, "1"),
            new("errorsPerFrame", node.Errors / (double)node.Frames, "1", low / node.Frames, high / node.Frames, 0.95),
            new("trafficShare", Math.Round(share, 4), "1"),
        ];
        finding.AddEvidence(now, Text.Of($"{node.Errors:N0} of {all:N0} errors; {(p < 1e-9 ? "practically impossible by chance" : Text.Of($"by chance once in {Text.Rounded(1 / p)} times"))}."));
        if (isNew)
        {
            finding.Causes = Causes.Of(
                (Cause.CableIntermittent, 5, "A bad plug or joint on its own drop damages what it sends and nobody else's."),
                (Cause.DeviceFault, 2, "Its transceiver or oscillator may be off."),
                (Cause.AddressSetTwice, 1, "Two senders of one identifier damage each other's frames."),
                (Cause.GroundOffset, 1, "Its ground may differ from the others'."));
        }
    }
}
