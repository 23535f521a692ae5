using Diagnostics.Can;
using Diagnostics.Core.AsBuilt;
using Diagnostics.Core.Counting;
using Diagnostics.Core.Detectors;
using Diagnostics.Core.Findings;
using Diagnostics.Core.Measuring;
using Diagnostics.Core.Protocols;
using Diagnostics.Core.Protocols.CanOpen;
using Diagnostics.Core.Reporting;
using Diagnostics.Core.Wording;
using static Diagnostics.Core.Wording.Wordings;
using NmtState = Diagnostics.Core.Protocols.CanOpen.NodeState;
using NodeState = Diagnostics.Core.Counting.NodeState;

namespace Diagnostics.Core;

/// <summary>
/// One interface: its counters and its detectors. Frame → decode → event → counters and detectors; nothing here judges, it only hands on.
/// Detectors read the counters through this class and write findings into <see cref="Book"/>.
/// </summary>
internal sealed class Bus : ICanOpenEvents
{
    private readonly AnalyzerOptions _options;
    private readonly CanOpenDecoder _decoder;
    private readonly EventTape _tape;
    private readonly NodeState?[] _nodes = new NodeState?[128];
    private readonly long[] _undecodable = new long[Enum.GetValues<DecodeOutcome>().Length];
    private readonly BitRateEstimate _estimate = new();
    private readonly AnsweredInputs _answeredInputs = new();
    private readonly List<BeatRecord> _beats = [];

    private readonly TrafficDetector _traffic;
    private readonly LoadDetector _loadHigh;
    private readonly FloodDetector _flood;
    private readonly ErrorRateDetector _errorRate;
    private readonly ErrorBurstDetector _errorBurst;
    private readonly ControllerStateDetector _controller;
    private readonly NodeBusOffDetector _nodeBusOff;
    private readonly NoAcknowledgeDetector _noAcknowledge;
    private readonly BitRateMismatchDetector _mismatch;
    private readonly NotSeenDetector _notSeen;
    private readonly RestartDetector _restart;
    private readonly SilenceDetector _silence;
    private readonly UnstableDetector _unstable;
    private readonly DuplicateAddressDetector _duplicate;
    private readonly NodeErrorsDetector _nodeErrors;
    private readonly EmergencyDetector _emergency;
    private readonly IdentityDetector _identity;
    private readonly ChatterDetector _chatter;
    private readonly FlappingDetector _flapping;
    private readonly StuckDetector _stuck;

    /// <summary>A frame that waited for another begins right behind it; so much for the stamps of a simple adapter.</summary>
    private const double QueuedNanoseconds = 1_000_000;

    /// <summary>Silence is looked for once a second, so no limit can be kept that is shorter: a sender of every 2 ms isn't missed within 7 ms.</summary>
    private const double LeastSilenceSeconds = 1;

    /// <summary>bit/s that the device configuration files agree on.</summary>
    private readonly int? _sheetBitRate;

    private IdentifierState? _current;
    private bool _currentIsRepeat;
    private bool _currentIsGuardAnswer;
    private bool _currentIsBootUp;
    private double _dataRateRatio = 1;
    private bool _currentTellsChange;
    private Instant _lastSync = Instant.MinValue;

    public Bus(byte index, AnalyzerOptions options, FindingBook book, NotSeenLedger ledger, EventTape tape, Instant start)
    {
        Index = index;
        _options = options;
        Book = book;
        Ledger = ledger;
        _tape = tape;
        Start = start;
        Now = start;
        Facts = new("can" + index.ToString(System.Globalization.CultureInfo.InvariantCulture));
        Names = NamesBy(options.Site);
        Protocol = new(options.Protocol is "auto" ? options.Site?.Protocol ?? "auto" : options.Protocol);
        _decoder = new(this, options.Site, options.DataSheets);
        Hindrance = new(this);
        _traffic = new(this);
        _loadHigh = new(this);
        _flood = new(this);
        _errorRate = new(this);
        _errorBurst = new(this);
        _controller = new(this);
        _nodeBusOff = new(this);
        _noAcknowledge = new(this);
        _mismatch = new(this);
        _notSeen = new(this, isTrace: options.SourceKind == "trace");
        _unstable = new(this);
        _silence = new(this, _unstable);
        _restart = new(this, _unstable, _silence);
        _duplicate = new(this, _errorBurst);
        _nodeErrors = new(this);
        _emergency = new(this);
        _identity = new(this);
        _chatter = new(this);
        _flapping = new(this);
        _stuck = new(this);
        int[] rates = [.. options.DataSheets.Select(sheet => sheet.BitRate).OfType<int>().Distinct()];
        _sheetBitRate = rates.Length == 1 ? rates[0] : null;
        SetBitRate();
    }

    public byte Index { get; }

    public FindingBook Book { get; }

    public NotSeenLedger Ledger { get; }

    public SiteNames Names { get; private set; }

    public ProtocolGuess Protocol { get; }

    public InterfaceFacts Facts { get; private set; }

    public string Name => Facts.Name;

    /// <summary>Listening began; an interface may be known before anything has a time.</summary>
    public Instant Start { get; private set; }

    /// <summary>Other names from now on; what was told before keeps those it was told with.</summary>
    public void UseNames(AsBuiltRecord? record) => Names = NamesBy(record);

    public void StartAt(Instant time)
    {
        Start = time;
        Now = time;
    }

    /// <summary>Time as far as this bus's line has come.</summary>
    public Instant Now { get; private set; }

    public IdentifierTable Identifiers { get; } = new();

    public LoadMeter Load { get; } = new();

    public ErrorCounters Errors { get; } = new();

    public long Frames { get; private set; }

    public long RemoteFrames { get; private set; }

    public long BusOff { get; set; }

    /// <summary>Last good frame.</summary>
    public Instant LastFrame { get; private set; } = Instant.MinValue;

    /// <summary>The bus has been alive without a pause of its own since then: who is silent since before is not to blame for that pause.</summary>
    public Instant AliveSince { get; set; }

    /// <summary>When not everybody got through.</summary>
    public Hindrance Hindrance { get; }

    /// <summary>Dips of its supply, where the board measures that.</summary>
    public SupplyDips Dips { get; } = new();

    /// <summary>SYNC has come without a pause since then, and with it the PDOs that follow it.</summary>
    public Instant SyncSince { get; private set; } = Instant.MinValue;

    /// <summary>Frames that go missing without a word.</summary>
    public LossEstimate Loss { get; } = new();

    public int? BitRate { get; private set; }

    public string BitRateSource { get; private set; } = "unknown";

    public double NanosecondsPerBit { get; private set; }

    public ControllerState? ControllerState { get; set; }

    public int? TransmitErrorCounter { get; set; }

    public int? ReceiveErrorCounter { get; set; }

    public IEnumerable<NodeState> Nodes
    {
        get
        {
            foreach (NodeState? node in _nodes)
            {
                if (node is not null)
                {
                    yield return node;
                }
            }
        }
    }

    public int NodeCount { get; private set; }

    public NodeState? Node(int address) => _nodes[address];

    /// <summary>Silence of the node longer than this is noticed; null where nothing of it is regular, or too much goes missing.</summary>
    public double? SilenceSeconds(NodeState node) =>
        node.SilenceSeconds(Loss.MissesAllowed) is double limit ? Math.Max(LeastSilenceSeconds, limit) : null;

    /// <summary>
    /// After so many commands in a row that it didn't answer the node's silence is noticed; null where its silence is noticed by time, where it isn't known for
    /// answering, or where too much goes missing.
    /// </summary>
    public int? UnansweredCommandsAllowed(NodeState node) => !node.IsRegular && node.Answers.IsHabit ? Loss.MissesAllowed : null;

    /// <summary>
    /// Frames closer than this may have changed places, seconds: four standard deviations of what the middle node's heartbeat (or guarding) scatters by its
    /// stamps. Infinite where even heartbeats show no rhythm.
    /// </summary>
    public double StampScatterSeconds()
    {
        double[] jitters = [.. Nodes.Select(node => node.ScatterSeconds).OfType<double>().Order()];
        return jitters.Length == 0 ? 0 : 4 * jitters[jitters.Length / 2];
    }

    /// <summary>From this moment on everything that was sent was heard, as far as we know.</summary>
    public Instant WholeSince => Ledger.WholeSince(Index);

    public IEnumerable<(string Reason, long Count)> Undecodable
    {
        get
        {
            foreach (DecodeOutcome outcome in Enum.GetValues<DecodeOutcome>())
            {
                if (outcome is not (DecodeOutcome.Understood or DecodeOutcome.NotCanOpen) && _undecodable[(int)outcome] > 0)
                {
                    yield return (outcome.ToString(), _undecodable[(int)outcome]);
                }
            }
        }
    }

    private SiteNames NamesBy(AsBuiltRecord? record) => new(
        record,
        _options.DataSheets.Where(sheet => sheet is { Node: not null, NodeName: not null }).ToDictionary(sheet => (int)sheet.Node!, sheet => sheet.NodeName!));

    /// <summary>The device's own name, else what the data sheet calls it that surely describes it.</summary>
    public string? ProductName(NodeState node) => node.Knowledge.DeviceName ?? _decoder.SheetOf(node.Address)?.ProductName;

    /// <summary>What a reader should know about how this bus was read, as whole sentences.</summary>
    public IReadOnlyList<Sentence> Remarks()
    {
        if (!Protocol.IsCanOpen)
        {
            return [];
        }

        IReadOnlyList<Sentence> remarks = _decoder.SheetRemarks(Names);
        return _sheetBitRate is int said && BitRate is int rate && said != rate
            ? [Say($"The device configuration files were made for {said} bit/s, but the bus runs at {rate}."), .. remarks]
            : remarks;
    }

    public void OnFacts(InterfaceFacts facts)
    {
        Facts = facts;
        SetBitRate();
        ControllerState = facts.State ?? ControllerState;
        TransmitErrorCounter = facts.TransmitErrorCounter ?? TransmitErrorCounter;
        ReceiveErrorCounter = facts.ReceiveErrorCounter ?? ReceiveErrorCounter;
        _controller.OnFacts(Now);
    }

    public void OnFrame(in CanFrame frame)
    {
        Now = frame.Time;
        if (frame.IsError)
        {
            OnErrorMessage(frame);
            return;
        }

        Frames++;
        IdentifierState? identifier = Identifiers.GetOrAdd(frame.Id);
        double bits = LengthOf(frame, identifier, out bool isRepeat);
        Load.Add(frame.Time, bits, NanosecondsPerBit);

        // The repeat of the frame that was hit may have been among frames that we lost: then the next one says nothing.
        ErrorHit hit = Errors.OnGoodFrame(frame.Time, bits, NanosecondsPerBit);
        hit = WholeSince <= Errors.LastError ? hit : ErrorHit.None;
        if (LastFrame != Instant.MinValue && BitRateSource is "unknown" or "detected" && !_estimate.Done && bits == (long)bits)
        {
            _estimate.Add(bits, frame.Time.Nanoseconds - LastFrame.Nanoseconds);
        }

        _traffic.OnFrame(frame.Time);
        bool isQueued = LastFrame != Instant.MinValue && frame.Time.Nanoseconds - LastFrame.Nanoseconds <= (bits * NanosecondsPerBit) + QueuedNanoseconds;
        LastFrame = frame.Time;
        if (identifier is null)
        {
            return;
        }

        identifier.WasAskedFor |= frame.IsRemote;
        _noAcknowledge.OnFrame(frame, identifier);
        _duplicate.OnFrame(frame, identifier);
        identifier.Bits += bits;
        identifier.BitsThisSecond += bits;
        identifier.FramesThisSecond++;
        if (identifier.Frames++ == 0)
        {
            identifier.FirstHeard = frame.Time;
            identifier.Node = SenderOf(frame.Id);
            _answeredInputs.OnIdentifier(frame.Time, frame.Id);
        }

        _current = identifier;
        _currentIsRepeat = isRepeat;
        _currentIsGuardAnswer = false;
        _currentIsBootUp = false;
        _currentTellsChange = false;
        if (frame.IsRemote)
        {
            RemoteFrames++;
            if (Protocol.MayBeCanOpen)
            {
                Decode(frame);
            }

            return;
        }

        if (frame.Time.NanosecondsSince(_lastSync) < IdentifierState.BehindSyncNanoseconds)
        {
            identifier.FramesBehindSync++;
        }

        Instant previous = identifier.LastHeard;
        identifier.LastHeard = frame.Time;
        if (identifier.Node != 0)
        {
            Touch(identifier, bits, frame.Time);
        }

        if (hit != ErrorHit.None)
        {
            _nodeErrors.OnFrameBehindError(identifier.Node == 0 ? null : _nodes[identifier.Node], hit, frame.Time);
        }

        Decode(frame);
        if (!_currentIsBootUp)
        {
            CountBeats(identifier, previous, frame.Time);
        }

        if (!_currentIsGuardAnswer && !_currentIsBootUp)
        {
            // A gap with losses in it says nothing about the sender's rhythm; nor does the time that a device takes from its start to its first heartbeat.
            NodeState? sender = identifier.IsErrorControl ? _nodes[identifier.Node] : null;
            if (previous <= WholeSince)
            {
                identifier.ForgetArrival();
            }
            else if (sender is null || sender.LastBootUp != previous)
            {
                long gap = frame.Time.Nanoseconds - previous.Nanoseconds;
                sender?.OnHeartbeatGap(gap / 1e9);
                identifier.Cycle.Add(gap);
            }

            // Some tell their state at once when they are commanded, besides their beat; a command that comes by a clock makes a second phase of that.
            if (sender is null || !sender.WasCommanded(frame.Time))
            {
                identifier.Arrive(frame.Time, Errors.LastError > previous, isQueued, isRepeat);
            }
        }
    }

    /// <summary>Only gaps count in which nothing is known that kept the sender from sending or us from hearing.</summary>
    private void CountBeats(IdentifierState identifier, Instant previous, Instant time)
    {
        Instant steady = Instant.Max(Instant.Max(WholeSince, AliveSince), Instant.Max(Hindrance.Until, Errors.LastError));
        NodeState? node = identifier.Node == 0 ? null : _nodes[identifier.Node];
        if (node is not null && Protocol.IsCanOpen)
        {
            steady = Instant.Max(steady, identifier.IsErrorControl ? node.LastBootUp : Instant.Max(node.SteadySince, SyncSince));
        }

        if (previous > steady)
        {
            identifier.CountHabit(time.Nanoseconds - previous.Nanoseconds, _currentTellsChange);
        }

        // A restart may have brought back another heartbeat time. And an answer is due only where somebody asks.
        bool isUnsure = identifier.IsErrorControl && !_currentIsGuardAnswer && node is { IsRhythmUnconfirmed: true };
        if (previous > steady && !isUnsure && !identifier.IsAnswer)
        {
            double period = _currentIsGuardAnswer ? node!.GuardRequests.KnownPeriodSeconds : identifier.Cycle.KnownPeriodSeconds;
            if (identifier.Beats.Due == 0)
            {
                // What the rhythm was learned from had its misses, too.
                identifier.Cycle.CountBeats(identifier.Beats);
            }

            identifier.Beats.Add(time.Nanoseconds - previous.Nanoseconds, period);
        }
    }

    private void Decode(in CanFrame frame)
    {
        DecodeOutcome outcome = _decoder.Decode(frame);
        if (outcome != DecodeOutcome.Understood)
        {
            _undecodable[(int)outcome]++;
            Protocol.Count(outcome);
        }
    }

    private void OnErrorMessage(in CanFrame frame)
    {
        Errors.Messages++;
        ErrorMessage message = ErrorMessage.From(frame);
        if (message.IsWireError)
        {
            double lost = ErrorBits.Lost(message);
            Load.AddError(lost + ErrorBits.ErrorFrame);
            if (Errors.OnWireError(frame.Time, message, lost))
            {
                _tape.Add(frame.Time, Index, BusEventKind.Error, 0, 0);
            }

            _errorBurst.OnWireError(frame.Time);
            _mismatch.OnWireError(frame.Time);
            _nodeBusOff.OnWireError(frame.Time);
            if (message.IsAcknowledgeError)
            {
                _noAcknowledge.OnAcknowledgeError(frame.Time);
            }
        }

        _controller.OnErrorMessage(frame.Time, message);
    }

    /// <summary>Once for every whole second of the bus's line; in long silence less often (<see cref="Limits.FineTicks"/>).</summary>
    public void OnSecond(Instant now)
    {
        Now = now;
        Load.AdvanceTo(now);
        Errors.OnSecond();
        foreach (IdentifierState identifier in Identifiers.All)
        {
            identifier.OnSecond();
        }

        if (BitRateSource is "unknown" or "detected" && _estimate.BitRate != BitRate)
        {
            SetBitRate();
        }

        JudgeLoss();
        Hindrance.OnSecond(now);
        _traffic.OnSecond(now);
        _loadHigh.OnSecond(now);
        _noAcknowledge.OnSecond(now);
        _flood.OnSecond(now);
        _mismatch.OnSecond(now);
        _errorBurst.OnSecond(now);
        _notSeen.OnSecond(now);
        _restart.OnSecond(now);
        _silence.OnSecond(now);
        _nodeBusOff.OnSecond(now);
        _unstable.OnSecond(now);
        _duplicate.OnSecond(now);
        _nodeErrors.OnSecond(now);

        // It points to the findings of both above.
        _errorRate.OnSecond(now);

        // And it to those of all three.
        _emergency.OnSecond();
        _identity.OnSecond(now);
        _chatter.OnSecond(now);
        _flapping.OnSecond(now);
        _stuck.OnSecond(now);
    }

    private void JudgeLoss()
    {
        _beats.Clear();
        if (Protocol.IsCanOpen)
        {
            foreach (NodeState? node in _nodes)
            {
                if (node?.Beats is { } beats)
                {
                    _beats.Add(beats);
                }
            }
        }
        else
        {
            foreach (IdentifierState identifier in Identifiers.All)
            {
                _beats.Add(identifier.Beats);
            }
        }

        Loss.Judge(_beats);
    }

    private void Touch(IdentifierState identifier, double bits, Instant time)
    {
        NodeState? node = _nodes[identifier.Node];
        if (node is null)
        {
            node = new(identifier.Node) { FirstHeard = time };
            _nodes[identifier.Node] = node;
            NodeCount++;
        }

        if (identifier.IsErrorControl)
        {
            // With guarding its first frame is the controller's request, which isn't the node's.
            node.Heartbeat = identifier;
        }
        else if (identifier.Frames == 1 && !identifier.IsSdo && !identifier.IsEmergency)
        {
            node.Sends.Add(identifier);
        }

        if (node.Silent)
        {
            node.Silent = false;
            _silence.OnReturned(node, time);
            _nodeBusOff.OnReturned(node, time);
        }

        node.Answers.OnHeard(time);
        node.Frames++;
        node.Bits += bits;
        node.PreviousHeard = node.LastHeard;
        node.LastHeard = time;
    }

    /// <summary>As far as known where the node's PDOs are, else by function code, CiA 301: EMCY, TPDO 1–4, SDO answer, error control. 0 = not a node's own frame.</summary>
    private byte SenderOf(CanId id)
    {
        if (id.IsExtended)
        {
            return 0;
        }

        byte sender = _decoder.SenderOf(id.Value);
        if (sender != 0)
        {
            return sender;
        }

        return (id.Value >> 7) switch
        {
            1 or 3 or 5 or 7 or 9 or 11 or 14 => (byte)(id.Value & 0x7F),
            _ => 0,
        };
    }

    /// <param name="frame">Data, remote or FD frame.</param>
    /// <param name="identifier">Null where it isn't kept apart.</param>
    /// <param name="isRepeat">It is the same as the frame before under this identifier.</param>
    private double LengthOf(in CanFrame frame, IdentifierState? identifier, out bool isRepeat)
    {
        isRepeat = false;
        if (identifier is null)
        {
            return Bits(frame);
        }

        if (frame.Flags == FrameFlags.None && frame.Length == identifier.LastLength && frame.FirstEight == identifier.LastPayload)
        {
            isRepeat = true;
            return identifier.LastBits;
        }

        double bits = Bits(frame);
        if (frame.Flags == FrameFlags.None)
        {
            identifier.LastLength = frame.Length;
            identifier.LastPayload = frame.FirstEight;
            identifier.LastBits = bits;
        }

        return bits;

        double Bits(in CanFrame frame)
        {
            FrameBits length = FrameLength.Of(frame);
            return length.Nominal + (length.Data * _dataRateRatio);
        }
    }

    private void SetBitRate()
    {
        (BitRate, BitRateSource) =
            _options.BitRate is int option ? (option, "option")
            : Facts.BitRate is int fact ? (fact, "interface")
            : _options.Site?.BitRate is int site ? (site, "site")
            : _sheetBitRate is int said ? (said, "data-sheet")
            : _estimate.BitRate is int detected ? (detected, "detected")
            : ((int?)null, "unknown");
        NanosecondsPerBit = BitRate is int rate ? 1e9 / rate : 0;
        _dataRateRatio = BitRate is int nominal && Facts.DataBitRate is int data and > 0 ? (double)nominal / data : 1;
    }

    void ICanOpenEvents.OnNetworkCommand(Instant time, NmtCommand command, byte node)
    {
        Protocol.Favour(1);
        Tell(time, BusEventKind.Command, node, (int)command);
        _restart.OnNetworkCommand(time, command, node);
        _duplicate.OnNetworkCommand(time, node);
        foreach (NodeState known in Nodes.Where(known => node == 0 || known.Address == node))
        {
            known.OnNetworkCommand(time, command);
        }
    }

    void ICanOpenEvents.OnBootUp(Instant time, byte node)
    {
        _currentIsBootUp = true;
        Protocol.Favour(2);
        NodeState state = _nodes[node]!;
        Tell(time, BusEventKind.Started, node, 0);
        state.RestartsUnexplained += _restart.OnBootUp(time, state, isFirst: state.Frames == 1) ? 1 : 0;
        _duplicate.OnBootUp(time, state);
        _emergency.OnBootUp(time, state);
        _identity.OnBootUp(time, state);
        state.Restarts += state.Frames > 1 ? 1 : 0;
        state.OnBootUp(time);
    }

    void ICanOpenEvents.OnErrorControl(Instant time, byte node, NmtState state, bool isGuardAnswer)
    {
        Protocol.Favour(1);
        NodeState known = _nodes[node]!;
        _currentIsGuardAnswer = isGuardAnswer || known.IsGuarded(time);
        _duplicate.OnState(time, known, state);
        if (state == NmtState.Operational)
        {
            known.LetSend();
        }

        if (known.Reported != state)
        {
            Tell(time, BusEventKind.State, node, (int)state);
        }

        known.Reported = state;
    }

    void ICanOpenEvents.OnGuardRequest(Instant time, byte node)
    {
        if (_nodes[node] is NodeState known)
        {
            if (known.LastGuardRequest > WholeSince)
            {
                known.GuardRequests.Add(time.Nanoseconds - known.LastGuardRequest.Nanoseconds);
            }

            known.LastGuardRequest = time;
        }
    }

    void ICanOpenEvents.OnSync(Instant time)
    {
        // PDOs that follow SYNC pause with it.
        if (_current is { Cycle.KnownPeriodSeconds: > 0 and double period } && time.SecondsSince(_lastSync) > 1.5 * period)
        {
            SyncSince = time;
        }

        _lastSync = time;
    }

    void ICanOpenEvents.OnTime(Instant time)
    {
    }

    void ICanOpenEvents.OnEmergency(Instant time, byte node, ushort errorCode, byte errorRegister, ReadOnlySpan<byte> manufacturer)
    {
        Protocol.CountEmergency(errorCode, errorRegister, manufacturer.Length + 3);
        Tell(time, BusEventKind.Emergency, node, errorCode);
        _emergency.OnEmergency(time, node, errorCode, errorRegister);
    }

    void ICanOpenEvents.OnSdoRequest(Instant time, byte node, ReadOnlySpan<byte> data) => _duplicate.OnSdoRequest(time, node, data);

    void ICanOpenEvents.OnSdoAnswer(Instant time, byte node, ReadOnlySpan<byte> data) => _duplicate.OnSdoAnswer(time, node, data);

    void ICanOpenEvents.OnObjectValue(Instant time, byte node, ushort index, byte subIndex, ReadOnlySpan<byte> value, bool isWrite)
    {
        Protocol.Favour(2);
        if (_nodes[node] is not NodeState known)
        {
            return;
        }

        if (index == 0x1018 && subIndex == 4 && value.Length >= 4)
        {
            uint serial = System.Buffers.Binary.BinaryPrimitives.ReadUInt32LittleEndian(value);
            _duplicate.OnSerial(time, known, serial);
            _identity.OnSerial(time, known, serial);
        }

        ushort? before = known.Knowledge.HeartbeatMilliseconds;
        known.Knowledge.Apply(index, subIndex, value);
        if (index == 0x1017 && isWrite && known.Knowledge.HeartbeatMilliseconds != before)
        {
            // Its rhythm was changed on purpose: what was learned no longer holds.
            known.Heartbeat?.Cycle.Reset();
            known.Heartbeat?.Tracks.Reset();
        }

        if (isWrite && CanOpenWords.SetsPaceOfPdos(index, subIndex))
        {
            known.ForgetPaceOfPdos();
        }

        // 1F51h program control, 1F50h program data (CiA 302, from memory): a download ends in a restart; so may 1011h, which restores what came with the device.
        if (isWrite && index is 0x1F50 or 0x1F51 or 0x1011)
        {
            known.ExcuseForDownload(time);
            _restart.OnDownload(time, node);
        }
    }

    void ICanOpenEvents.OnSdoAbort(Instant time, byte node, ushort index, byte subIndex, uint abortCode, bool byServer) => Protocol.Favour(1);

    void ICanOpenEvents.OnPdo(Instant time, byte node, int number, bool isTransmit)
    {
        if (_nodes[node] is not NodeState known)
        {
            return;
        }

        if (!isTransmit)
        {
            // A command that is only said again changes nothing, so nobody confirms it.
            known.LastCommand = _currentIsRepeat ? known.LastCommand : time;
            return;
        }

        known.OnPdo(time, number);
        if (_current is not null && known.LastCommand != Instant.MinValue && time - known.LastCommand < NodeState.AnswerTime)
        {
            _current.FramesBehindCommand++;
        }
    }

    void ICanOpenEvents.OnInput(Instant time, byte node, int input, bool active, bool isFirst)
    {
        _currentTellsChange |= !isFirst;
        TellChange(time, active ? BusEventKind.InputOn : BusEventKind.InputOff, node, input, isFirst);
        _answeredInputs.OnInput(time, node);
        _chatter.OnInput(time, node, input, isFirst);
        _flapping.OnInput(time, node, input, active, isFirst);
        _stuck.OnInput(time, node, input, active && _current is not { IsSdo: true }, isFirst);
    }

    void ICanOpenEvents.OnOutputCommand(Instant time, byte node, int output, bool active, bool isFirst)
    {
        if (Protocol.IsOpen && _answeredInputs.OnCommand(time, node))
        {
            Protocol.Favour(ProtocolGuess.Needed);
        }

        _nodes[node]?.Answers.OnCommand(time, output, isFirst);
        TellChange(time, active ? BusEventKind.OutputOn : BusEventKind.OutputOff, node, output, isFirst);
        _silence.OnOutput(time, node, output, active);
    }

    void ICanOpenEvents.OnOutputReport(Instant time, byte node, int output, bool active, bool isFirst)
    {
        TellChange(time, active ? BusEventKind.OutputReportedOn : BusEventKind.OutputReportedOff, node, output, isFirst);
        _silence.OnOutput(time, node, output, active);
    }

    void ICanOpenEvents.OnLss(Instant time, bool isRequest, ReadOnlySpan<byte> data) => _silence.OnLss(time, isRequest, data);

    /// <summary>What a state was when it was first heard is no event.</summary>
    private void TellChange(Instant time, BusEventKind kind, byte node, int number, bool isFirst)
    {
        if (!isFirst)
        {
            Tell(time, kind, node, number);
        }
    }

    private void Tell(Instant time, BusEventKind kind, byte node, int number)
    {
        if (Protocol.IsCanOpen)
        {
            _tape.Add(time, Index, kind, node, number);
        }
    }
}
