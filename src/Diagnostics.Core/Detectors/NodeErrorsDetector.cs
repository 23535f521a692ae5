using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: one node's frames come spoilt far beyond its share of the traffic. Frames that came whole and were refused by a receiver are left out: they
/// tell of a bad receiver, which may be anybody but their sender. Rule (exposure-normalised attribution): if noise hit everybody alike, the
/// spoilt frames of node k would be Binomial(all episodes with a spoilt frame, its bits / all bits); one-sided exact p, corrected for the number of nodes by Holm's
/// first step, must be below 1e-4, with at least four errors. Why 1e-4 where a single look would take 1e-2: it is looked at after every error.
/// Why four: with 30 equal nodes four of ten are enough at 1e-2, and one or two can be chance at any level.
/// Where two devices share the node's address, the damaged frames that end as their collisions do are laid to that finding (<see cref="SharedAddress"/>).
/// Lost frames: an error with a loss right behind it is given to nobody; otherwise losses hit the exposure and the errors alike.
/// </summary>
internal sealed class NodeErrorsDetector(Bus bus)
{
    /// <summary>The episode is over once this long has passed without evidence.</summary>
    public static readonly TimeSpan HoldOff = TimeSpan.FromMinutes(30);

    private const double Significance = 1e-4;
    private const int LeastErrors = 4;

    private readonly Dictionary<byte, Instant> _firstError = [];
    private readonly HashSet<NodeState> _dirty = [];
    private long _attributed;

    private (NodeState? Node, long Episode) _lastHit;
    private (NodeState? Node, long Episode) _lastSpoilt;

    /// <summary>
    /// A frame came right behind an error; null = of nobody in particular. Where the same episode had been laid to an earlier frame already, that is taken
    /// back: the last error of an episode is the one before the repeat that got through.
    /// </summary>
    public void OnFrameBehindError(NodeState? node, ErrorHit hit, Instant time)
    {
        if (_lastHit.Episode == bus.Errors.Episodes && _lastHit.Node is NodeState before)
        {
            before.Errors--;
        }

        _lastHit = (node, bus.Errors.Episodes);
        if (node is not null)
        {
            node.Errors++;
        }

        if (hit == ErrorHit.Spoilt)
        {
            OnSpoilt(node, time);
        }
    }

    private void OnSpoilt(NodeState? node, Instant time)
    {
        if (_lastSpoilt.Episode == bus.Errors.SpoiltEpisodes && _lastSpoilt.Node is NodeState before)
        {
            before.SpoiltFrames--;
            _attributed--;
        }

        _lastSpoilt = (node, bus.Errors.SpoiltEpisodes);
        if (node is not null)
        {
            node.SpoiltFrames++;
            _attributed++;
            _firstError.TryAdd(node.Address, time);
            _dirty.Add(node);
        }
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
        bus.Book.IsOpen(Catalogue.ErrorBurst, bus.Name, Subject.WholeBus) && node.SpoiltFrames < 0.9 * all;

    private void Judge(NodeState node, Instant now)
    {
        if (node.SpoiltFrames < LeastErrors || bus.Load.TotalBits <= 0 || !bus.Protocol.IsCanOpen)
        {
            return;
        }

        // Errors that hit frames of nobody in particular (network commands, requests) count among the rest of the traffic.
        double share = Math.Min(1, node.Bits / bus.Load.TotalBits);
        long all = Math.Max(_attributed, bus.Errors.SpoiltEpisodes);
        double p = ExactIntervals.BinomialTail(node.SpoiltFrames, all, share) * bus.NodeCount;
        Subject subject = Subject.OfNode(node.Address);
        if (p >= Significance || share > 0.8 || MayBeBursts(node, all))
        {
            return;
        }

        Finding finding = bus.Book.Raise(Catalogue.NodeErrors, bus.Name, subject, _firstError[node.Address], now, Math.Min(0.999, 1 - p));
        finding.HoldOff = HoldOff;
        finding.Tell(
            Say($"Frames of {bus.Names.Node(node.Address)} come damaged: {node.SpoiltFrames:N0} of all {all:N0} damaged ones are its own, while it makes {Text.Percent(share)} of the traffic."),
            Say($"Frames of {bus.Names.Node(node.Address)} came damaged: {node.SpoiltFrames:N0} of all {all:N0} damaged ones are its own, while it made {Text.Percent(share)} of the traffic."));
        (double low, double high) = ExactIntervals.Poisson(node.SpoiltFrames, 0.95);
        finding.Measurements =
        [
            new("spoiltFrames", node.SpoiltFrames, "1"),
            new("errorsPerFrame", node.SpoiltFrames / (double)node.Frames, "1", low / node.Frames, high / node.Frames, 0.95),
            new("trafficShare", Math.Round(share, 4), "1"),
        ];
        finding.AddEvidence(now, p < 1e-9
            ? Say($"{node.SpoiltFrames:N0} of {all:N0} damaged frames; practically impossible by chance.")
            : Say($"{node.SpoiltFrames:N0} of {all:N0} damaged frames; by chance once in {Text.Rounded(1 / p):N0} times."));
        Subject? shared = node.Collisions > 0 && bus.Book.IsOpen(Catalogue.DuplicateAddress, bus.Name, subject) ? subject : null;
        finding.Explain(
            bus,
            shared,
            Math.Min(1, (double)node.Collisions / node.SpoiltFrames),
            place => Say($"Two devices use {place}, and {node.Collisions:N0} of {node.SpoiltFrames:N0} disturbances ended as their collisions do: at once with two frames of theirs."),
            (Cause.CableIntermittent, 5, Say($"A bad plug or joint on its own drop damages what it sends and nobody else's.")),
            (Cause.DeviceFault, 2, Say($"Its transceiver or oscillator may be off.")),
            (Cause.AddressSetTwice, 1, Say($"Two senders of one identifier damage each other's frames.")),
            (Cause.GroundOffset, 1, Say($"Its ground may differ from the others'.")));
    }
}
