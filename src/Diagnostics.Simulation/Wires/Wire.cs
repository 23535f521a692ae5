namespace Diagnostics.Simulation.Wires;

/// <summary>
/// The pair of wires and all controllers on it. Runs from event to event: an undisturbed frame is jumped over in one step with its
/// true number of bits; as soon as anything else may happen (a disturbance, a collision, nobody to acknowledge, a controller out of step)
/// every controller is played bit by bit until all are quiet again. ISO 11898-1.
/// </summary>
internal sealed class Wire
{
    private readonly List<ProtocolController> _controllers = [];
    private readonly List<ProtocolController> _ready = [];
    private readonly List<ProtocolController> _hearsAll = [];
    private readonly List<ProtocolController>?[] _listeners = new List<ProtocolController>?[0x800];
    private readonly List<ProtocolController> _busOff = [];
    private readonly FrameBits _bits = new();
    private readonly Timeline _timeline;
    private readonly Action _finishJump;
    private ProtocolController? _jumpingSender;
    private WireFrame _jumpingFrame;
    private long _quietFrom;
    private long _recessiveSince;
    private long _bitTime;
    private bool _bitByBit;
    private bool _mustPlayBits;
    private bool _firstBit;
    private int _pickedCount;

    public Wire(Timeline timeline, int bitRate)
    {
        _timeline = timeline;
        BitRate = bitRate;
        BitNanoseconds = 1_000_000_000 / bitRate;
        _finishJump = FinishJump;
    }

    public int BitRate { get; }

    public long BitNanoseconds { get; }

    public List<Disturbance> Disturbances { get; } = [];

    /// <summary>Null = nobody looks at voltages.</summary>
    public LineMeter? Meter { get; set; }

    public IReadOnlyList<ProtocolController> Controllers => _controllers;

    public Timeline Timeline => _timeline;

    /// <summary>End of the last frame's intermission.</summary>
    public long QuietFrom => _quietFrom;

    public long FramesSent { get; private set; }

    public long FramesJumped { get; private set; }

    public long BitsPlayed { get; private set; }

    public long BitsInverted { get; private set; }

    /// <summary>A request that comes up to this share of a bit after a start of frame still joins it (sample point, common 75–87.5 %).</summary>
    private long JoinWindow => BitNanoseconds * 3 / 4;

    public void Attach(ProtocolController controller)
    {
        controller.Wire = this;
        _controllers.Add(controller);
        if (controller.HearsAll)
        {
            _hearsAll.Add(controller);
        }
    }

    /// <summary>The controller wants base frames with this identifier.</summary>
    public void Listen(ProtocolController controller, uint id)
    {
        List<ProtocolController> listeners = _listeners[id] ??= [];
        if (!listeners.Contains(controller))
        {
            listeners.Add(controller);
        }
    }

    public void NoteReady(ProtocolController controller)
    {
        if (!controller.InReadyList)
        {
            controller.InReadyList = true;
            _ready.Add(controller);
        }
    }

    /// <summary>From now on controllers may be out of step with one another: play bits until all are quiet.</summary>
    public void PlayBits() => _mustPlayBits = true;

    public void PowerOn(ProtocolController controller)
    {
        controller.PowerOn(_timeline.Now, _quietFrom - (11 * BitNanoseconds), BitNanoseconds);
        if (_bitByBit)
        {
            controller.SetRecessiveRun(0);
        }
    }

    public void PowerOff(ProtocolController controller)
    {
        controller.PowerOff();
        _busOff.Remove(controller);
    }

    public void Disconnect(ProtocolController controller) => controller.Disconnect(_timeline.Now);

    public void Reconnect(ProtocolController controller, Randomness chance)
    {
        controller.Reconnect(_timeline.Now, BitNanoseconds, chance);
        PlayBits();
    }

    public void NoteBusOff(ProtocolController controller, long time)
    {
        if (!_busOff.Contains(controller))
        {
            _busOff.Add(controller);
        }

        if (controller.RestartsAfterBusOff)
        {
            _timeline.At(time + (ProtocolController.RecoverySequences * 11 * BitNanoseconds), () => TryRecover(controller));
        }
    }

    public void NoteReceived(ProtocolController controller, in WireFrame frame, long endOfBit)
    {
        if (Wants(controller, frame))
        {
            controller.Station.OnReceived(frame, endOfBit + BitNanoseconds);
        }
    }

    public void NoteSent(ProtocolController controller, in WireFrame frame, long endOfBit) => FramesSent++;

    /// <summary>Everything up to and including the given time.</summary>
    public void Run(long until)
    {
        while (true)
        {
            if (_mustPlayBits && !_bitByBit && _jumpingSender is null)
            {
                StartBits(Math.Max(_timeline.Now, _quietFrom));
            }

            if (_bitByBit)
            {
                RunBits(until);
                if (_bitByBit)
                {
                    break;
                }

                continue;
            }

            long start = _jumpingSender is null ? NextStart() : long.MaxValue;
            long due = _timeline.Next;
            long limit = start == long.MaxValue ? long.MaxValue : start + JoinWindow;
            if (due <= limit && due <= until)
            {
                _timeline.RunNext();
                continue;
            }

            if (start > until)
            {
                break;
            }

            StartFrame(start);
        }

        _timeline.AdvanceTo(until);
    }

    private long NextStart()
    {
        long best = long.MaxValue;
        for (int i = _ready.Count - 1; i >= 0; i--)
        {
            ProtocolController controller = _ready[i];
            if (!controller.HasPending)
            {
                controller.InReadyList = false;
                _ready.RemoveAt(i);
                continue;
            }

            if (!controller.IsConnected || controller.Phase is not (ControllerPhase.Idle or ControllerPhase.Integrating))
            {
                continue;
            }

            best = Math.Min(best, Math.Max(controller.OldestRequest, Math.Max(controller.EligibleFrom, _quietFrom)));
        }

        return best;
    }

    private void StartFrame(long start)
    {
        bool mayJump = !_mustPlayBits;
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            controller.SettleAt(start);
            mayJump &= controller.BitRatio == 1 || !controller.IsOnBus;
        }

        ProtocolController? winner = PickWinner(start);
        if (winner is null)
        {
            // Whoever was to start has just lost its supply or its cable.
            return;
        }

        if (!mayJump || _pickedCount > 1 || !SomebodyAcknowledges(winner) || !JumpStarts(winner, start))
        {
            StartBits(start);
        }
    }

    private ProtocolController? PickWinner(long start)
    {
        ProtocolController? winner = null;
        _pickedCount = 0;
        long latest = start + JoinWindow;
        for (int i = 0; i < _ready.Count; i++)
        {
            ProtocolController controller = _ready[i];
            if (!controller.IsConnected || !controller.StartsBy(latest))
            {
                continue;
            }

            if (winner is null || controller.PendingKey < winner.PendingKey)
            {
                winner = controller;
                _pickedCount = 1;
            }
            else if (controller.PendingKey == winner.PendingKey)
            {
                _pickedCount++;
            }
        }

        return winner;
    }

    private bool SomebodyAcknowledges(ProtocolController sender)
    {
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (controller != sender && controller.IsConnected && controller.IsSettled && !controller.ListenOnly)
            {
                return true;
            }
        }

        return false;
    }

    private bool JumpStarts(ProtocolController sender, long start)
    {
        WireFrame frame = sender.PendingFrame;
        _bits.Encode(frame);
        long end = start + (_bits.Length * BitNanoseconds);
        long quietFrom = end + (3 * BitNanoseconds);
        if (_timeline.NextPhysical < quietFrom)
        {
            return false;
        }

        for (int i = 0; i < Disturbances.Count; i++)
        {
            if (Disturbances[i].IsActive && Disturbances[i].MayHit(sender, start, end, _bits.Length))
            {
                return false;
            }
        }

        for (int i = 0; i < _busOff.Count; i++)
        {
            _busOff[i].NoteQuietInBusOff(Math.Max(0, start - Math.Max(_recessiveSince, _busOff[i].BusOffTime)) / BitNanoseconds);
        }

        Meter?.AddFrame(sender, _bits, start, BitNanoseconds);
        sender.MarkInFlight();
        _jumpingSender = sender;
        _jumpingFrame = frame;
        _quietFrom = quietFrom;
        _recessiveSince = end - (8 * BitNanoseconds);
        for (int i = 0; i < _controllers.Count; i++)
        {
            if (_controllers[i].Phase == ControllerPhase.Integrating)
            {
                _controllers[i].PostponeSettling(quietFrom);
            }
        }

        _timeline.At(end, _finishJump);
        return true;
    }

    private void FinishJump()
    {
        ProtocolController sender = _jumpingSender!;
        WireFrame frame = _jumpingFrame;
        _jumpingSender = null;
        long end = _timeline.Now;
        FramesJumped++;
        FramesSent++;
        if (sender.Phase != ControllerPhase.Off)
        {
            sender.FrameSentWhole(end, _quietFrom, BitNanoseconds);
        }

        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (controller.ReceiveErrors > 0 && controller != sender && controller.IsConnected && controller.IsSettled)
            {
                controller.FrameReceivedWhole(end);
            }
        }

        if (!frame.IsExtended && _listeners[frame.Id] is { } listeners)
        {
            Deliver(listeners, sender, frame, end);
        }

        Deliver(_hearsAll, sender, frame, end);
    }

    private static void Deliver(List<ProtocolController> listeners, ProtocolController sender, in WireFrame frame, long end)
    {
        for (int i = 0; i < listeners.Count; i++)
        {
            ProtocolController listener = listeners[i];
            if (listener != sender && listener.IsConnected && listener.IsSettled)
            {
                listener.Station.OnReceived(frame, end);
            }
        }
    }

    private bool Wants(ProtocolController controller, in WireFrame frame) =>
        controller.HearsAll || (!frame.IsExtended && _listeners[frame.Id] is { } listeners && listeners.Contains(controller));

    private void TryRecover(ProtocolController controller)
    {
        if (controller.Phase != ControllerPhase.BusOff)
        {
            _busOff.Remove(controller);
            return;
        }

        long now = _timeline.Now;
        long seen = controller.SequencesSeen;
        if (!_bitByBit && _jumpingSender is null)
        {
            seen += Math.Max(0, now - Math.Max(_recessiveSince, controller.BusOffTime)) / (11 * BitNanoseconds);
        }

        if (seen >= ProtocolController.RecoverySequences)
        {
            _busOff.Remove(controller);
            controller.Recover(Math.Max(now, _quietFrom));
            return;
        }

        long missing = ProtocolController.RecoverySequences - seen;
        _timeline.At(now + (missing * 11 * BitNanoseconds), () => TryRecover(controller));
    }

    private void StartBits(long time)
    {
        _bitByBit = true;
        _firstBit = true;
        _mustPlayBits = false;
        _bitTime = time;
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (controller.Phase == ControllerPhase.Integrating)
            {
                controller.SetRecessiveRun(11 - (int)Math.Clamp((controller.EligibleFrom - time) / BitNanoseconds, 0, 11));
            }
            else if (controller.Phase == ControllerPhase.BusOff)
            {
                controller.NoteQuietInBusOff(Math.Max(0, time - Math.Max(_recessiveSince, controller.BusOffTime)) / BitNanoseconds);
            }
        }

        _recessiveSince = time;
    }

    private void RunBits(long until)
    {
        while (_bitTime <= until)
        {
            while (_timeline.Next <= _bitTime)
            {
                _timeline.RunNext();
            }

            _timeline.AdvanceTo(_bitTime);
            // The first bit is always played: somebody is to start in it.
            if (!_firstBit && AllQuiet())
            {
                _bitByBit = false;
                _mustPlayBits = false;
                _quietFrom = _bitTime;
                _recessiveSince = _bitTime;
                SettleAfterBits();
                return;
            }

            PlayBit();
            _firstBit = false;
        }
    }

    private bool AllQuiet()
    {
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (!controller.IsConnected)
            {
                continue;
            }

            if (controller.Phase is not (ControllerPhase.Idle or ControllerPhase.Integrating or ControllerPhase.Off or ControllerPhase.BusOff))
            {
                return false;
            }
        }

        return true;
    }

    private void SettleAfterBits()
    {
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (controller.Phase == ControllerPhase.Integrating)
            {
                controller.PostponeSettling(_bitTime + ((11 - controller.RecessiveRun) * BitNanoseconds));
            }
        }
    }

    private void PlayBit()
    {
        long latest = _bitTime + JoinWindow;
        long end = _bitTime + BitNanoseconds;
        int level = 1;
        ProtocolController? driver = null;
        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (!controller.IsOnBus)
            {
                continue;
            }

            if (controller.StartsBy(latest))
            {
                controller.BeginSending();
            }

            int drives = controller.Drive();
            level &= drives;
            driver = drives == 0 ? driver ?? controller : driver;
        }

        if (driver is not null)
        {
            Meter?.AddBit(driver, _bitTime, end);
        }

        Disturbance? hit = null;
        for (int i = 0; i < Disturbances.Count; i++)
        {
            Disturbance disturbance = Disturbances[i];
            if (disturbance.IsActive && disturbance.Hits(this, _bitTime))
            {
                hit = disturbance;
                BitsInverted++;
            }
        }

        for (int i = 0; i < _controllers.Count; i++)
        {
            ProtocolController controller = _controllers[i];
            if (!controller.IsOnBus)
            {
                continue;
            }

            int seen = hit is not null && hit.Reaches(controller) ? level ^ 1 : level;
            if (controller.BitRatio == 1)
            {
                controller.Sample(seen, end);
            }
            else
            {
                controller.SampleAtOwnRate(seen, end);
            }
        }

        BitsPlayed++;
        _bitTime = end;
    }
}
