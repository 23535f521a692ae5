using Diagnostics.Can;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Diagnosis;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NmtState = Diagnostics.Core.Protocols.CanOpen.NodeState;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core.Detectors;

/// <summary>
/// Symptom: two devices use one address. CANopen has no check of its own against it, so several weak and strong signs are put together:
/// two phases on one cyclic identifier (<see cref="PhaseTracks"/>), states that contradict each other, serial numbers that contradict each other,
/// two answers to one SDO request or to one of guarding, and the signature of a collision. Each sign is a probability that two devices are there; together they leave the
/// product of their doubts, and 0.9 is enough to say so (the probabilities are assumptions).
/// Refused as proof: two payloads on one identifier (a driver may do that), a repeat of the same frame (nobody acknowledges), a boot-up alone.
/// Lost frames: each sign states what it needs; none is made by absence.
/// </summary>
internal sealed class DuplicateAddressDetector
{
    private const double Enough = 0.9;

    /// <summary>Seconds; of a small device's program, common practice, no source.</summary>
    private const double Tick = 1e-3;

    /// <summary>A base frame with one byte of data and no stuff bit: 44 + 8, without the end-of-frame bits (ISO 11898-1).</summary>
    private const double ShortestFrameBits = 44;

    public static readonly TimeSpan Over = TimeSpan.FromMinutes(10);

    private readonly Bus _bus;
    private readonly Dictionary<Subject, Signs> _signs = [];
    private readonly StateContradiction _states;
    private readonly IdentityContradiction _identities;
    private readonly AnswerDoubling _answers;
    private readonly GuardAnswerDoubling _guardAnswers;
    private readonly CollisionSignature _collisions;

    public DuplicateAddressDetector(Bus bus, ErrorBurstDetector bursts)
    {
        _bus = bus;
        _states = new(bus, this);
        _identities = new(bus, this);
        _answers = new(bus, this);
        _guardAnswers = new(bus, this);
        _collisions = new(bus, this, bursts);
    }

    /// <summary>Kinds of sign; the same kind counts once, by its strongest.</summary>
    public enum Sign
    {
        Phases,
        States,
        Identities,
        Answers,
        GuardAnswers,
        Collisions,
    }

    private const int Kinds = (int)Sign.Collisions + 1;

    private sealed class Signs
    {
        public readonly double[] Strength = new double[Kinds];
        public readonly bool[] Told = new bool[Kinds];
        public readonly Sentence[] Words = new Sentence[Kinds];
        public Instant First = Instant.MinValue;
        public Instant Last;
    }

    public void OnFrame(in CanFrame frame, IdentifierState identifier)
    {
        _guardAnswers.OnFrame(frame, identifier);
        _collisions.OnFrame(frame, identifier);
    }

    public void OnNetworkCommand(Instant time, byte node) => _states.OnNetworkCommand(time, node);

    public void OnBootUp(Instant time, NodeState node)
    {
        _states.OnBootUp(time, node);
        _identities.OnBootUp(node);
    }

    public void OnState(Instant time, NodeState node, NmtState state) => _states.OnState(time, node, state);

    public void OnSerial(Instant time, NodeState node, uint serial) => _identities.OnSerial(time, node, serial);

    public void OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data) => _answers.OnRequest(time, node, data);

    public void OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data)
    {
        _answers.OnAnswer(time, node, data);
        _identities.OnAnswer(time, node, data);
    }

    /// <summary>A sign of two devices, from one of its sources.</summary>
    public void Add(Subject subject, Sign sign, double strength, Instant first, Instant time, Sentence words)
    {
        if (!_signs.TryGetValue(subject, out Signs? signs))
        {
            if (_signs.Count >= Limits.Findings)
            {
                return;
            }

            _signs.Add(subject, signs = new());
        }

        if (signs.First != Instant.MinValue && time - signs.Last > Over)
        {
            Array.Clear(signs.Strength);
            Array.Clear(signs.Told);
            signs.First = Instant.MinValue;
        }

        int index = (int)sign;
        if (strength >= signs.Strength[index])
        {
            signs.Strength[index] = strength;
            signs.Words[index] = words;
        }

        signs.First = signs.First == Instant.MinValue ? first : Instant.Min(signs.First, first);
        signs.Last = time;
        Judge(subject, signs, time);
    }

    public void OnSecond(Instant now)
    {
        _answers.OnSecond(now);
        foreach (IdentifierState identifier in _bus.Identifiers.All)
        {
            if (identifier.Tracks.TwoTogether)
            {
                OnTwoPhases(identifier, now);
            }
            else if (identifier.IsErrorControl && identifier.Tracks.TwoClose)
            {
                OnPairs(identifier, now);
            }
        }
    }

    /// <summary>
    /// Two phases of error control so close that they are told by number only. A recorder or an adapter that hands on frames twice does so with everybody's, and
    /// without the time that a frame takes on the wire in between.
    /// </summary>
    private void OnPairs(IdentifierState identifier, Instant now)
    {
        PhaseTracks tracks = identifier.Tracks;
        bool isOnWire = tracks.CloseSeconds * 1e9 >= ShortestFrameBits * _bus.NanosecondsPerBit;
        if (!_bus.Protocol.IsCanOpen || !isOnWire || _bus.Identifiers.All.Any(other => other != identifier && other.IsErrorControl && other.Tracks.HasPairs))
        {
            return;
        }

        Add(
            Subject.OfNode(identifier.Node),
            Sign.Phases,
            0.95,
            now - TimeSpan.FromSeconds(PhaseTracks.CloseHits * tracks.PeriodSeconds),
            now,
            Say($"{identifier.Id.ToString()}, which came once every {Text.Seconds(tracks.PeriodSeconds)}, comes twice now, {Text.Seconds(tracks.CloseSeconds)} apart."));
    }

    /// <summary>
    /// Error control has one producer with one timer, so two phases there are two devices. Elsewhere one device may send twice per cycle, and only two
    /// oscillators prove two boards: relative skew beyond six standard errors and 0.5 ppm over 20 cycles, and below the 2 % that no oscillator reaches.
    /// One device that waits before its second frame wanders within its tick, and a stretch of that looks like drift; so they must have drifted by a whole one.
    /// Where somebody else sets the pace of one phase, by SYNC or by commands (a quarter of the frames come right behind them) or by remote frames, the second
    /// oscillator is that one's and proves nothing.
    /// </summary>
    private void OnTwoPhases(IdentifierState identifier, Instant now)
    {
        PhaseTracks tracks = identifier.Tracks;
        bool isErrorControl = _bus.Protocol.IsCanOpen && identifier.IsErrorControl;
        double skew = Math.Abs(tracks.SkewRatio);
        bool twoOscillators = tracks.SkewSamples >= 20 && Math.Abs(tracks.DriftSeconds) >= Tick && skew > Math.Max(6 * tracks.SkewError, 0.5e-6) && skew < 0.02;
        bool ownPace = !identifier.WasAskedFor && identifier.FramesBehindSync * 4 < identifier.Frames && identifier.FramesBehindCommand * 4 < identifier.Frames;
        if (!isErrorControl && !(twoOscillators && ownPace))
        {
            return;
        }

        string id = identifier.Id.ToString();
        Sentence apart = Text.Seconds(Math.Abs(tracks.OffsetSeconds));
        Sentence period = Text.Seconds(tracks.PeriodSeconds);
        Subject subject = _bus.Protocol.IsCanOpen && identifier.Node != 0 ? Subject.OfNode(identifier.Node) : Subject.OfId(identifier.Id);
        Add(
            subject,
            Sign.Phases,
            isErrorControl ? (twoOscillators ? 0.995 : 0.95) : 0.92,
            now - TimeSpan.FromSeconds(PhaseTracks.TogetherHits * tracks.PeriodSeconds),
            now,
            twoOscillators
                ? Say($"{id} arrives in two phases at once, {apart} apart, each every {period}; they drift apart by {skew * 1e6:0.#} ppm, so two oscillators make them.")
                : Say($"{id} arrives in two phases at once, {apart} apart, each every {period}."));
    }

    /// <summary>What the two share.</summary>
    public static Sentence Place(Bus bus, Subject subject) =>
        subject.Node is not int node ? Say($"the identifier {subject.Id.ToString()}")
        : bus.Names.NodeName(node) is string name ? Say($"address {node} ({name})") : Say($"address {node}");

    private void Judge(Subject subject, Signs signs, Instant now)
    {
        double doubt = 1;
        foreach (double strength in signs.Strength)
        {
            doubt *= 1 - strength;
        }

        double confidence = 1 - doubt;
        if (confidence < Enough || (subject.Node is not null && !_bus.Protocol.IsCanOpen))
        {
            return;
        }

        bool isNew = !_bus.Book.IsOpen(Catalogue.DuplicateAddress, _bus.Name, subject);
        Finding finding = _bus.Book.Raise(Catalogue.DuplicateAddress, _bus.Name, subject, signs.First, now, Math.Min(confidence, 0.999));
        finding.HoldOff = Over;
        for (int i = 0; i < signs.Strength.Length; i++)
        {
            if (signs.Strength[i] > 0 && (isNew || !signs.Told[i]))
            {
                finding.AddEvidence(now, signs.Words[i]);
                signs.Told[i] = true;
            }
        }

        if (!isNew)
        {
            return;
        }

        if (subject.Node is not null)
        {
            Sentence place = Place(_bus, subject);
            finding.Tell(Say($"Two modules use {place}."), Say($"Two modules used {place}."));
        }
        else
        {
            finding.Tell(Say($"Two devices send the identifier {subject.Id.ToString()}."), Say($"Two devices sent the identifier {subject.Id.ToString()}."));
        }

        finding.Causes = Causes.Of(
            (Cause.AddressSetTwice, 9, Say($"Typical after a module was swapped or added with its address left as it came.")),
            (Cause.DeviceFault, 0.5, Say($"One device whose program sends twice could look alike.")),
            (Cause.Unknown, 0.5, Say($"Something that this record doesn't show.")));
    }
}
