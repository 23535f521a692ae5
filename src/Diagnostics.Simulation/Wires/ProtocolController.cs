namespace Diagnostics.Simulation.Wires;

internal enum ControllerPhase
{
    /// <summary>No supply.</summary>
    Off,

    /// <summary>Waits for eleven recessive bits before it takes part. ISO 11898-1.</summary>
    Integrating,
    Idle,
    Frame,
    ActiveFlag,
    PassiveFlag,
    OverloadFlag,

    /// <summary>Its own flag is over, others may still hold the line.</summary>
    AfterFlag,
    Delimiter,
    Intermission,
    BusOff,
}

/// <summary>
/// One CAN protocol controller, bit by bit: sending, receiving, error flags, both error counters, bus-off and recovery.
/// Rules of ISO 11898-1, numbered as in Bosch CAN Specification 2.0 (1991), "Fault confinement".
/// While all is well the <see cref="Wire"/> jumps over whole frames and this object only counts.
/// </summary>
internal sealed class ProtocolController(string name, Station station)
{
    /// <summary>Frames that one device may have waiting; more are dropped and counted, as in a full mailbox.</summary>
    public const int QueueLimit = 64;

    public const int WarningLimit = 96;
    public const int PassiveLimit = 128;
    public const int BusOffLimit = 256;

    /// <summary>128 occurrences of 11 recessive bits end the bus-off state. Rule 12.</summary>
    public const int RecoverySequences = 128;

    private readonly record struct Pending(WireFrame Frame, uint Key, long Requested, long Order);

    private readonly List<Pending> _queue = [];
    private readonly FrameReader _reader = new();
    private readonly FrameBits _bits = new();
    private long _order = 1;
    private Pending _current;
    private int _position;
    private int _count;
    private int _flagLevel;
    private int _dominantAfter;
    private bool _flagWasOverload;
    private bool _flagIsFirstBitAfter;
    private bool _sentLast;
    private bool _acknowledgeDeferred;
    private double _elapsedOwnBits;

    public string Name { get; } = name;

    public Station Station { get; } = station;

    public Wire? Wire { get; set; }

    public ControllerPhase Phase { get; private set; } = ControllerPhase.Off;

    public int TransmitErrors { get; private set; }

    public int ReceiveErrors { get; private set; }

    /// <summary>
    /// Bus monitoring: what it would send dominant is routed back inside, so it keeps step like an error-active node, but the bus sees nothing of it;
    /// its counters stand still. ISO 11898-1.
    /// </summary>
    public bool ListenOnly { get; init; }

    /// <summary>Starts the recovery from bus-off by itself.</summary>
    public bool RestartsAfterBusOff { get; init; } = true;

    /// <summary>Hears every identifier; others say which through <see cref="Wire.Listen"/>.</summary>
    public bool HearsAll { get; init; }

    /// <summary>Length of its bit over the length of the bus's bit; 1 where the bit rate is set right.</summary>
    public double BitRatio { get; set; } = 1;

    /// <summary>Its drop cable is connected.</summary>
    public bool IsConnected { get; private set; } = true;

    /// <summary>When it may send again at the earliest (suspend transmission of error-passive senders; ready after power-on).</summary>
    public long EligibleFrom { get; private set; }

    public bool InReadyList { get; set; }

    public bool IsSending { get; private set; }

    /// <summary>Level it puts on the line in the present bit.</summary>
    public int Driven { get; private set; } = 1;

    public long DroppedFrames { get; private set; }

    public long SentFrames { get; private set; }

    public long FailedAttempts { get; private set; }

    public long BusOffTime { get; private set; }

    /// <summary>Sequences of eleven recessive bits seen in bus-off, and the recessive bits of the one that is running.</summary>
    public int SequencesSeen { get; private set; }

    public bool IsErrorPassive => TransmitErrors >= PassiveLimit || ReceiveErrors >= PassiveLimit;

    public bool HasPending => _queue.Count > 0;

    public int PendingCount => _queue.Count;

    public bool IsOnBus => IsConnected && Phase != ControllerPhase.Off;

    /// <summary>Takes part and is in step with the bus.</summary>
    public bool IsSettled => Phase == ControllerPhase.Idle;

    public uint PendingKey => _queue[0].Key;

    public WireFrame PendingFrame => _queue[0].Frame;

    public long OldestRequest
    {
        get
        {
            long oldest = long.MaxValue;
            for (int i = 0; i < _queue.Count; i++)
            {
                oldest = Math.Min(oldest, _queue[i].Requested);
            }

            return oldest;
        }
    }

    /// <summary>
    /// As <see cref="Send"/>, but a frame with the same identifier that still waits is replaced: devices keep one buffer for each of their messages,
    /// so a node that was cut off doesn't come back with a queue of old heartbeats.
    /// </summary>
    public void SendLatest(in WireFrame frame, long now)
    {
        uint key = frame.ArbitrationKey;
        for (int i = 0; i < _queue.Count; i++)
        {
            // The one that is being sent, or was tried, stays as it is.
            if (_queue[i].Key == key && _queue[i].Order != _current.Order)
            {
                _queue[i] = _queue[i] with { Frame = frame };
                return;
            }
        }

        Send(frame, now);
    }

    public void Send(in WireFrame frame, long now)
    {
        if (Phase == ControllerPhase.Off || ListenOnly || _queue.Count >= QueueLimit)
        {
            DroppedFrames++;
            return;
        }

        Pending pending = new(frame, frame.ArbitrationKey, now, _order++);
        int index = _queue.Count;
        while (index > 0 && _queue[index - 1].Key > pending.Key)
        {
            index--;
        }

        _queue.Insert(index, pending);
        Wire?.NoteReady(this);
    }

    public void ClearQueue() => _queue.Clear();

    public void ForgetOlderThan(long time) => _queue.RemoveAll(pending => pending.Requested < time);

    public void PowerOn(long now, long busQuietFrom, long bit)
    {
        TransmitErrors = 0;
        ReceiveErrors = 0;
        IsSending = false;
        Phase = ControllerPhase.Integrating;
        _count = 0;
        EligibleFrom = Math.Max(now, busQuietFrom) + (11 * bit);
        _queue.Clear();
    }

    public void PowerOff()
    {
        Phase = ControllerPhase.Off;
        IsSending = false;
        Driven = 1;
        _queue.Clear();
    }

    // ---- jumped frames -------------------------------------------------------------------------------------------

    public void SettleAt(long time)
    {
        if (Phase == ControllerPhase.Integrating && EligibleFrom <= time)
        {
            Phase = ControllerPhase.Idle;
        }
    }

    public void PostponeSettling(long time) => EligibleFrom = Math.Max(EligibleFrom, time);

    public void MarkInFlight() => _current = _queue[0];

    public void FrameSentWhole(long time, long quietFrom, long bit)
    {
        RemoveCurrent();
        CountSuccessfulSend(time);
        if (IsErrorPassive)
        {
            EligibleFrom = quietFrom + (8 * bit);
        }

        Station.OnSent(_current.Frame, time);
    }

    public void FrameReceivedWhole(long time) => CountSuccessfulReception(time);

    private void CountSuccessfulSend(long time)
    {
        SentFrames++;
        if (TransmitErrors > 0)
        {
            TransmitErrors--;
            Station.OnCounters(time);
        }
    }

    private void CountSuccessfulReception(long time)
    {
        if (ReceiveErrors > 0 && !ListenOnly)
        {
            // Rule 8: above 127 it falls to a value from 119 to 127.
            ReceiveErrors = ReceiveErrors > 127 ? 127 : ReceiveErrors - 1;
            Station.OnCounters(time);
        }
    }

    public void NoteQuietInBusOff(long bits) => SequencesSeen += (int)Math.Min(bits / 11, RecoverySequences);

    public void Recover(long time)
    {
        TransmitErrors = 0;
        ReceiveErrors = 0;
        Phase = ControllerPhase.Idle;
        EligibleFrom = time;
        Station.OnCounters(time);
        Station.OnRecovered(time);
    }

    // ---- cable ---------------------------------------------------------------------------------------------------

    private long _isolatedAt;

    public void Disconnect(long now)
    {
        if (!IsConnected)
        {
            return;
        }

        IsConnected = false;
        _isolatedAt = now;
        Driven = 1;
    }

    /// <summary>
    /// Back on the cable. Meanwhile it had only itself to hear: if something waited it has been repeating it for want of an
    /// acknowledge, so it comes back in the middle of an attempt.
    /// </summary>
    public void Reconnect(long now, long bit, Randomness chance)
    {
        if (IsConnected)
        {
            return;
        }

        IsConnected = true;
        if (Phase is ControllerPhase.Off or ControllerPhase.BusOff)
        {
            return;
        }

        IsSending = false;
        Phase = ControllerPhase.Idle;
        if (_queue.Count == 0)
        {
            return;
        }

        long since = Math.Max(_isolatedAt, OldestRequest);
        _current = _queue[0];
        _bits.Encode(_current.Frame);
        long attemptBits = _bits.Length + 17;
        long attempts = (now - since) / (attemptBits * bit);
        while (attempts-- > 0 && TransmitErrors < PassiveLimit)
        {
            TransmitErrors += 8;
            FailedAttempts++;
        }

        Station.OnCounters(now);
        int position = chance.Below((int)attemptBits);
        if (position >= _bits.AcknowledgeSlot || now <= since)
        {
            return;
        }

        _reader.Reset();
        for (int i = 0; i < position; i++)
        {
            _reader.Push(_bits[i]);
        }

        _position = position;
        IsSending = true;
        Phase = ControllerPhase.Frame;
    }

    // ---- bit by bit ----------------------------------------------------------------------------------------------

    public bool StartsBy(long latest) =>
        Phase == ControllerPhase.Idle && _queue.Count > 0 && EligibleFrom <= latest && OldestRequest <= latest;

    public void BeginSending()
    {
        _current = _queue[0];
        _bits.Encode(_current.Frame);
        _reader.Reset();
        _position = 0;
        IsSending = true;
        Phase = ControllerPhase.Frame;
        _elapsedOwnBits = 0;
    }

    /// <summary>What it puts on the line in this bit.</summary>
    public int Drive() => Driven = Phase switch
    {
        ControllerPhase.Frame when IsSending => _bits[_position],
        ControllerPhase.Frame when _reader.AtAcknowledgeSlot && _reader.CrcMatches && !ListenOnly => 0,
        ControllerPhase.ActiveFlag or ControllerPhase.OverloadFlag when !ListenOnly => 0,
        _ => 1,
    };

    /// <summary>One bit of the bus at a controller whose own bits are of another length.</summary>
    public void SampleAtOwnRate(int level, long endOfBit)
    {
        if (Phase == ControllerPhase.Idle && level == 0)
        {
            _elapsedOwnBits = BitRatio / 2;
        }

        _elapsedOwnBits += 1;
        while (_elapsedOwnBits >= BitRatio && Phase != ControllerPhase.Off)
        {
            _elapsedOwnBits -= BitRatio;
            Sample(level & Driven, endOfBit);
            Drive();
        }
    }

    public void Sample(int level, long endOfBit)
    {
        switch (Phase)
        {
            case ControllerPhase.Idle:
                if (level == 0)
                {
                    BeginReceiving(endOfBit);
                }

                break;
            case ControllerPhase.Frame:
                if (IsSending)
                {
                    SampleSending(level, endOfBit);
                }
                else
                {
                    SampleReceiving(level, endOfBit);
                }

                break;
            case ControllerPhase.ActiveFlag:
            case ControllerPhase.OverloadFlag:
                SampleDominantFlag(level, endOfBit);
                break;
            case ControllerPhase.PassiveFlag:
                SamplePassiveFlag(level, endOfBit);
                break;
            case ControllerPhase.AfterFlag:
                SampleAfterFlag(level, endOfBit);
                break;
            case ControllerPhase.Delimiter:
                SampleDelimiter(level, endOfBit);
                break;
            case ControllerPhase.Intermission:
                SampleIntermission(level, endOfBit);
                break;
            case ControllerPhase.Integrating:
                _count = level == 1 ? _count + 1 : 0;
                if (_count >= 11)
                {
                    Phase = ControllerPhase.Idle;
                    EligibleFrom = endOfBit;
                }

                break;
            case ControllerPhase.BusOff:
                SampleBusOff(level, endOfBit);
                break;
            case ControllerPhase.Off:
            default:
                break;
        }
    }

    /// <summary>Recessive bits of the sequence that is running, for controllers that wait for eleven of them.</summary>
    public int RecessiveRun => _count;

    public void SetRecessiveRun(int bits) => _count = Math.Clamp(bits, 0, 10);

    private void BeginReceiving(long endOfBit)
    {
        IsSending = false;
        _reader.Reset();
        Phase = ControllerPhase.Frame;
        SampleReceiving(0, endOfBit);
    }

    private void SampleSending(int level, long endOfBit)
    {
        int position = _position;
        int driven = _bits[position];
        if (position == _bits.AcknowledgeSlot)
        {
            _reader.Push(level);
            if (level == 1)
            {
                Fail(WireError.Acknowledge, endOfBit);
                return;
            }
        }
        else if (level != driven)
        {
            bool arbitrating = position < _bits.ArbitrationEnd;
            if (arbitrating && driven == 1 && !_bits.IsStuff(position))
            {
                IsSending = false;
                SampleReceiving(level, endOfBit);
                return;
            }

            _reader.Push(driven);
            Fail(arbitrating && driven == 1 ? WireError.Stuff : WireError.Bit, endOfBit);
            return;
        }
        else
        {
            _reader.Push(level);
        }

        _position++;
        if (_position < _bits.Length)
        {
            return;
        }

        IsSending = false;
        RemoveCurrent();
        CountSuccessfulSend(endOfBit);
        EnterIntermission(sentLast: true);
        Station.OnSent(_current.Frame, endOfBit);
        Wire?.NoteSent(this, _current.Frame, endOfBit);
    }

    private void RemoveCurrent()
    {
        for (int i = 0; i < _queue.Count; i++)
        {
            if (_queue[i].Order == _current.Order)
            {
                _queue.RemoveAt(i);
                return;
            }
        }
    }

    private void SampleReceiving(int level, long endOfBit)
    {
        switch (_reader.Push(level))
        {
            case ReadResult.StuffError:
                Fail(WireError.Stuff, endOfBit);
                break;
            case ReadResult.FormError:
                Fail(WireError.Form, endOfBit);
                break;
            case ReadResult.CrcError:
                Fail(WireError.Crc, endOfBit);
                break;
            case ReadResult.Valid:
                CountSuccessfulReception(endOfBit);
                Wire?.NoteReceived(this, _reader.Frame, endOfBit);
                break;
            case ReadResult.Complete:
                EnterIntermission(sentLast: false);
                break;
            case ReadResult.Overload:
                EnterOverload();
                break;
            case ReadResult.Going:
            default:
                break;
        }
    }

    private void Fail(WireError error, long time)
    {
        bool sending = IsSending;
        bool passive = IsErrorPassive;
        bool exempt = sending && error == WireError.Stuff;
        _acknowledgeDeferred = sending && error == WireError.Acknowledge && passive;
        if (sending)
        {
            FailedAttempts++;
        }

        FramePosition position = Phase switch
        {
            ControllerPhase.Frame => _reader.Position,
            ControllerPhase.Delimiter or ControllerPhase.AfterFlag => FramePosition.ErrorDelimiter,
            _ => FramePosition.ErrorFlag,
        };
        IsSending = false;
        _sentLast = sending;
        _flagWasOverload = false;
        _count = 0;
        _flagLevel = -1;
        _dominantAfter = 0;
        Phase = passive ? ControllerPhase.PassiveFlag : ControllerPhase.ActiveFlag;
        if (!ListenOnly)
        {
            if (!sending)
            {
                AddReceiveErrors(1, time);
            }
            else if (!exempt && !_acknowledgeDeferred)
            {
                AddTransmitErrors(8, time);
            }
        }

        Station.OnError(error, position, sending, time);
    }

    public FramePosition ReaderPosition => _reader.Position;

    public int IdentifierBitsRead => _reader.IdentifierBits;

    public bool ReadsExtended => _reader.IsExtended;

    private void AddTransmitErrors(int count, long time)
    {
        TransmitErrors += count;
        Station.OnCounters(time);
        if (TransmitErrors < BusOffLimit)
        {
            return;
        }

        Phase = ControllerPhase.BusOff;
        Driven = 1;
        _count = 0;
        SequencesSeen = 0;
        BusOffTime = time;
        _queue.Clear();
        Wire?.NoteBusOff(this, time);
        Station.OnBusOff(time);
    }

    private void AddReceiveErrors(int count, long time)
    {
        // Controllers stop somewhere above the passive limit; more means nothing.
        ReceiveErrors = Math.Min(ReceiveErrors + count, 255);
        Station.OnCounters(time);
    }

    private void AddErrors(int count, long time)
    {
        if (ListenOnly)
        {
            return;
        }

        if (_sentLast)
        {
            AddTransmitErrors(count, time);
        }
        else
        {
            AddReceiveErrors(count, time);
        }
    }

    private void EnterOverload()
    {
        IsSending = false;
        _flagWasOverload = true;
        _count = 0;
        _dominantAfter = 0;
        Phase = ControllerPhase.OverloadFlag;
    }

    private void SampleDominantFlag(int level, long time)
    {
        if (level == 1 && !ListenOnly)
        {
            // Rules 4 and 5: a bit error within the own flag; the flag begins anew.
            _count = 0;
            _flagWasOverload = false;
            AddErrors(8, time);
            if (Phase != ControllerPhase.BusOff)
            {
                Phase = IsErrorPassive ? ControllerPhase.PassiveFlag : ControllerPhase.ActiveFlag;
                _flagLevel = -1;
            }

            return;
        }

        if (++_count == 6)
        {
            EnterAfterFlag();
        }
    }

    private void SamplePassiveFlag(int level, long time)
    {
        if (level == 0 && _acknowledgeDeferred)
        {
            // Rule 3, exception 1 holds only while no dominant bit is seen during the passive flag.
            _acknowledgeDeferred = false;
            AddTransmitErrors(8, time);
            if (Phase == ControllerPhase.BusOff)
            {
                return;
            }
        }

        _count = level == _flagLevel ? _count + 1 : 1;
        _flagLevel = level;
        if (_count == 6)
        {
            _acknowledgeDeferred = false;
            EnterAfterFlag();
        }
    }

    private void EnterAfterFlag()
    {
        Phase = ControllerPhase.AfterFlag;
        _dominantAfter = 0;
        _flagIsFirstBitAfter = true;
    }

    private void SampleAfterFlag(int level, long time)
    {
        bool first = _flagIsFirstBitAfter;
        _flagIsFirstBitAfter = false;
        if (level == 1)
        {
            Phase = ControllerPhase.Delimiter;
            _count = 1;
            return;
        }

        _dominantAfter++;
        if (first && !_sentLast && !_flagWasOverload)
        {
            // Rule 2.
            AddErrors(8, time);
        }

        if (_dominantAfter % 8 == 0)
        {
            // Rule 6: seven more are tolerated, each eight count.
            AddErrors(8, time);
        }
    }

    private void SampleDelimiter(int level, long time)
    {
        if (level == 0)
        {
            if (_count == 7)
            {
                EnterOverload();
            }
            else
            {
                bool sentLast = _sentLast;
                IsSending = sentLast;
                Fail(WireError.Form, time);
            }

            return;
        }

        if (++_count == 8)
        {
            EnterIntermission(_sentLast);
        }
    }

    private void EnterIntermission(bool sentLast)
    {
        _sentLast = sentLast;
        _count = 0;
        Phase = ControllerPhase.Intermission;
    }

    private void SampleIntermission(int level, long endOfBit)
    {
        if (level == 0)
        {
            if (_count == 2)
            {
                BeginReceiving(endOfBit);
            }
            else
            {
                EnterOverload();
            }

            return;
        }

        if (++_count < 3)
        {
            return;
        }

        Phase = ControllerPhase.Idle;
        EligibleFrom = endOfBit;
        if (_sentLast && IsErrorPassive && Wire is not null)
        {
            EligibleFrom = endOfBit + (8 * Wire.BitNanoseconds);
        }

        _sentLast = false;
    }

    private void SampleBusOff(int level, long endOfBit)
    {
        if (level == 0)
        {
            _count = 0;
            return;
        }

        if (++_count == 11)
        {
            _count = 0;
            SequencesSeen++;
            if (SequencesSeen >= RecoverySequences && RestartsAfterBusOff)
            {
                Recover(endOfBit);
            }
        }
    }
}
