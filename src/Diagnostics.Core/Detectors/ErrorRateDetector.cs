using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: more errors than a bus in a workshop should have. Limit: the exact interval of the bit error ratio lies wholly above 3.1e-9, measured on an
/// industrial production line; fault above 2.6e-7, measured beside an arc welder (Ferreira et al. 2004, in Wilamowski and Irwin, table 31.2).
/// Episodes count, not messages. Judged over the whole record and over the last 10 minutes, at five episodes at least.
/// The report gives the 95 % interval; to raise, the 99.9 % interval must lie above too, because it is looked at again every second and a 95 % interval
/// that is looked at often enough will once be wrong.
/// Lost frames: lost errors only lower the count and the traffic alike, so nothing is held back.
/// </summary>
internal sealed class ErrorRateDetector(Bus bus)
{
    public const double ProductionLine = 3.1e-9;
    public const double BesideWelder = 2.6e-7;

    private const int LeastEpisodes = 5;

    /// <summary>Part of the errors from which on words say "nearly all".</summary>
    private const double NearlyAll = 0.9;

    /// <summary>A ratio over next to no traffic says nothing about the wire; where only errors are heard, another detector speaks.</summary>
    private const int LeastFrames = 100;
    private const int WindowSeconds = 600;

    private readonly (Instant Time, long Episodes, double Bits)[] _window = new (Instant, long, double)[61];
    private int _marks;
    private long _judgedEpisodes;

    public void OnSecond(Instant now)
    {
        double bits = bus.Errors.ExposedBits;
        long episodes = bus.Errors.Episodes;
        if (_marks == 0 || now - _window[(_marks - 1) % 61].Time >= TimeSpan.FromSeconds(WindowSeconds / 60))
        {
            _window[_marks++ % 61] = (now, episodes, bits);
        }

        Finding? open = bus.Book.Find(Catalogue.ErrorRate, bus.Name, Subject.WholeBus);
        if (episodes == _judgedEpisodes)
        {
            if (open is { End: null } && now - bus.Errors.LastError > TimeSpan.FromSeconds(WindowSeconds) && Lies(episodes, bits, 0.95) is null)
            {
                open.End = bus.Errors.LastError;
            }

            return;
        }

        _judgedEpisodes = episodes;
        if (episodes < LeastEpisodes || bus.Frames < LeastFrames || bus.Book.IsOpen(Catalogue.BitRateMismatch, bus.Name, Subject.WholeBus))
        {
            return;
        }

        (Instant Time, long Episodes, double Bits) oldest = _window[_marks > 61 ? _marks % 61 : 0];
        long recentEpisodes = episodes - oldest.Episodes;
        double recentBits = bits - oldest.Bits;
        Severity? all = Lies(episodes, bits, 0.999);
        Severity? recent = recentEpisodes >= LeastEpisodes ? Lies(recentEpisodes, recentBits, 0.999) : null;
        Severity? worst = all is null ? recent : recent is null ? all : (Severity)Math.Min((int)all, (int)recent);
        if (worst is null)
        {
            return;
        }

        bool useRecent = recent is not null && (all is null || recent < all);
        (long count, double over, Instant since) = useRecent ? (recentEpisodes, recentBits, oldest.Time) : (episodes, bits, bus.Errors.FirstError);
        (double low, double high) = ExactIntervals.Poisson(count, 0.95);
        bool isNew = open is not { End: null };
        Finding finding = bus.Book.Raise(Catalogue.ErrorRate, bus.Name, Subject.WholeBus, since, now, 0.999);
        finding.Severity = isNew ? worst.Value : (Severity)Math.Min((int)worst.Value, (int)finding.Severity);
        NodeState? oneNode = MostlyOn(episodes);
        Sentence? whose = oneNode is null ? null
            : oneNode.Errors >= NearlyAll * episodes ? Say($"Nearly all of them hit the frames of {bus.Names.Node(oneNode.Address)}: see there.")
            : Say($"Most of them hit the frames of {bus.Names.Node(oneNode.Address)}: see there.");
        Finding? errorsOfOne = oneNode is null ? null : bus.Book.Find(Catalogue.NodeErrors, bus.Name, Subject.OfNode(oneNode.Address));
        finding.ExplainedBy = errorsOfOne?.ExplainedBy ?? errorsOfOne?.Key;
        bool isFault = finding.Severity == Severity.Fault;
        finding.Tell(
            With(isFault
                ? Say($"Frames are being damaged on the wire: {count:N0} disturbances, more than is measured beside an arc welder.")
                : Say($"Frames are being damaged on the wire: {count:N0} disturbances, more than is measured on an industrial production line.")),
            With(isFault
                ? Say($"Frames were damaged on the wire: {count:N0} disturbances, more than is measured beside an arc welder.")
                : Say($"Frames were damaged on the wire: {count:N0} disturbances, more than is measured on an industrial production line.")));
        finding.Measurements =
        [
            new("bitErrorRatio", count / over, "1", low / over, high / over, 0.95),
            new("errorEpisodes", count, "1"),
        ];
        if (isNew)
        {
            finding.AddEvidence(bus.Errors.FirstError, Say($"First error."));
            finding.AddEvidence(now, Say($"{count:N0} disturbances in {over:N0} bits."));
        }

        finding.Causes = errorsOfOne?.ExplainedBy is not null ? errorsOfOne.Causes
            : oneNode is not null ? Causes.Of(
                (Cause.CableIntermittent, 6, Say($"A bad plug or joint on the drop of that one node damages what it sends and nobody else's.")),
                (Cause.DeviceFault, 2, Say($"Its transceiver or oscillator may be off.")),
                (Cause.AddressSetTwice, 1, Say($"Two senders of one identifier damage each other's frames.")))
                .AdviseDropOf(bus.Names.Node(oneNode.Address))
            : Causes.Of(
                (Cause.CableIntermittent, 4, Say($"Loose joints damage frames of whoever sends through them.")),
                (Cause.TerminationMissing, 2, Say($"Wrong termination lets edges ring.")),
                (Cause.GroundOffset, 1, Say($"Different grounds eat the margin.")),
                (Cause.Interference, 2, Say($"A strong source near the cable damages everybody's frames alike.")),
                (Cause.BitRateWrong, 1, Say($"A sample point or oscillator that is off does the same.")))
                .AdviseTrunk();

        Sentence With(Sentence what) => whose is null ? what : Join(what, whose);
    }

    /// <summary>
    /// The node that most errors fall on, if they are found on it beyond chance and no other node has a fifth of its: some of one sender's errors are laid to
    /// whoever wins the next arbitration.
    /// </summary>
    private NodeState? MostlyOn(long episodes)
    {
        NodeState? most = bus.Nodes.MaxBy(node => node.Errors);
        return most is not null
            && most.Errors >= 0.6 * episodes
            && bus.Book.IsOpen(Catalogue.NodeErrors, bus.Name, Subject.OfNode(most.Address))
            && bus.Nodes.All(node => node == most || node.Errors * 5 <= most.Errors)
                ? most
                : null;
    }

    private static Severity? Lies(long episodes, double bits, double level)
    {
        if (episodes == 0 || bits <= 0)
        {
            return null;
        }

        double low = ExactIntervals.Poisson(episodes, level).Low / bits;
        return low > BesideWelder ? Severity.Fault : low > ProductionLine ? Severity.Warning : null;
    }
}
