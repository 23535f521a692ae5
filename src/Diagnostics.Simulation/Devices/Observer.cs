using Diagnostics.Can;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Devices;

/// <summary>Our own adapter: hands over what its controller sees as a SocketCAN interface would. linux/can/error.h.</summary>
internal sealed class Observer : Station
{
    private readonly ObserverPlan _plan;
    private readonly Wire _wire;
    private readonly Randomness _chance;
    private readonly long _origin;
    private readonly long _label;
    private readonly double _jitter;
    private readonly List<CanFrame> _shuffle = [];
    private IFrameSink? _sink;
    private long _last = long.MinValue;
    private long _stepOffset;
    private long _lost;
    private long _lostSince;
    private bool _lostReported;
    private int _announced;

    /// <param name="origin">The simulation's time at the visible start.</param>
    public Observer(ObserverPlan plan, Wire wire, Randomness chance, long origin, Instant label)
    {
        _plan = plan;
        _wire = wire;
        _chance = chance;
        _origin = origin;
        _label = label.Nanoseconds;
        _jitter = plan.StampJitter.TotalNanoseconds;
        Controller = new("observer", this) { HearsAll = true, ListenOnly = plan.ListenOnly };
        wire.Attach(Controller);
    }

    public ProtocolController Controller { get; }

    public double LossRatio { get; set; }

    public bool ReportsLoss { get; set; }

    public TimeSpan ShuffleSpan { get; set; }

    public long FramesHanded { get; private set; }

    public long FramesLost { get; private set; }

    public long ErrorsSeen { get; private set; }

    public void Attach(IFrameSink sink)
    {
        if (ReferenceEquals(_sink, sink))
        {
            return;
        }

        _sink = sink;
        AnnounceInterface();
    }

    /// <summary>A forward step of the stamping clock, said as such.</summary>
    public void StepClock(TimeSpan by)
    {
        Instant before = new(Math.Max(_last, Stamp(_wire.Timeline.Now)));
        _stepOffset += (long)by.TotalNanoseconds;
        _sink?.OnNotSeen(new(NotSeenKind.ClockStep, _plan.Interface, before, before + by, 0, "the clock stepped"));
    }

    public void Flush()
    {
        foreach (CanFrame frame in _shuffle)
        {
            HandOver(frame);
        }

        _shuffle.Clear();
    }

    public override void OnReceived(in WireFrame frame, long time)
    {
        if (_sink is null)
        {
            return;
        }

        if (LossRatio > 0 && _chance.Chance(LossRatio))
        {
            if (_lost++ == 0)
            {
                _lostSince = Stamp(time);
                _lostReported = ReportsLoss;
            }

            FramesLost++;
            return;
        }

        Emit(frame.ToCanFrame(new(Stamp(time)), _plan.Interface));
    }

    public override void OnError(WireError error, FramePosition position, bool whileSending, long time)
    {
        if (_sink is null)
        {
            return;
        }

        ErrorsSeen++;
        if (!_plan.ReportsErrors)
        {
            return;
        }

        Span<byte> detail = stackalloc byte[8];
        detail.Clear();
        detail[2] = (byte)(error switch
        {
            WireError.Bit => ProtocolViolations.Bit,
            WireError.Stuff => ProtocolViolations.Stuff,
            WireError.Form => ProtocolViolations.Form,
            _ => ProtocolViolations.Unspecified,
        });
        if (whileSending)
        {
            detail[2] |= (byte)ProtocolViolations.OnTransmission;
        }

        detail[3] = (byte)(error == WireError.Crc ? ErrorLocation.CrcSequence : _plan.ReportsErrorPositions ? Locate(position) : ErrorLocation.Unspecified);
        ErrorClasses classes = ErrorClasses.Protocol | ErrorClasses.BusError;
        if (error == WireError.Acknowledge)
        {
            classes |= ErrorClasses.NoAcknowledge;
        }

        EmitError(classes, detail, time);
    }

    public override void OnCounters(long time)
    {
        if (_plan.ListenOnly || _sink is null)
        {
            return;
        }

        int worst = Math.Max(Controller.TransmitErrors, Controller.ReceiveErrors);
        int level = worst >= ProtocolController.PassiveLimit ? 2 : worst >= ProtocolController.WarningLimit ? 1 : 0;
        if (level == _announced)
        {
            return;
        }

        _announced = level;
        bool receives = Controller.ReceiveErrors >= Controller.TransmitErrors;
        ControllerProblems problem = (level, receives) switch
        {
            (2, true) => ControllerProblems.ReceivePassive,
            (2, false) => ControllerProblems.TransmitPassive,
            (1, true) => ControllerProblems.ReceiveWarning,
            (1, false) => ControllerProblems.TransmitWarning,
            _ => ControllerProblems.BackToActive,
        };
        EmitState(problem, time);
        AnnounceInterface();
    }

    public override void OnBusOff(long time)
    {
        Span<byte> detail = stackalloc byte[8];
        detail.Clear();
        EmitError(ErrorClasses.BusOff, detail, time);
    }

    public override void OnRecovered(long time)
    {
        Span<byte> detail = stackalloc byte[8];
        detail.Clear();
        EmitError(ErrorClasses.Restarted, detail, time);
    }

    /// <summary>For controllers that call themselves error-passive in listen-only, once at the start.</summary>
    public void AnnounceState()
    {
        if (_plan.CallsItselfPassive)
        {
            EmitState(ControllerProblems.ReceivePassive, _wire.Timeline.Now);
        }
    }

    private void EmitState(ControllerProblems problem, long time)
    {
        Span<byte> detail = stackalloc byte[8];
        detail.Clear();
        detail[1] = (byte)problem;
        EmitError(ErrorClasses.Controller, detail, time);
    }

    private void EmitError(ErrorClasses classes, Span<byte> detail, long time)
    {
        if (_plan.ReportsCounters && (classes & (ErrorClasses.BusError | ErrorClasses.Controller)) != 0)
        {
            classes |= ErrorClasses.Counters;
            detail[6] = (byte)Math.Min(Controller.TransmitErrors, 255);
            detail[7] = (byte)Math.Min(Controller.ReceiveErrors, 255);
        }

        CanFrame frame = CanFrame.ErrorReport(new(Stamp(time)), (uint)classes, detail);
        frame.Interface = _plan.Interface;
        Emit(frame);
    }

    private void AnnounceInterface() => _sink?.OnInterface(_plan.Interface, new(_plan.InterfaceName)
    {
        BitRate = _wire.BitRate,
        ListenOnly = _plan.ListenOnly,
        ErrorReporting = _plan.ReportsErrors,
        State = _plan.CallsItselfPassive || _announced == 2 ? ControllerState.ErrorPassive
            : _announced == 1 ? ControllerState.ErrorWarning : ControllerState.ErrorActive,
        TransmitErrorCounter = _plan.ReportsCounters ? Controller.TransmitErrors : null,
        ReceiveErrorCounter = _plan.ReportsCounters ? Controller.ReceiveErrors : null,
    });

    /// <summary>What our board's clock says at a time of the simulation.</summary>
    public Instant Label(long time) => new(_label + (long)((time - _origin) * (1 + (_plan.PartsPerMillion * 1e-6))) + _stepOffset);

    private long Stamp(long time)
    {
        double since = time - _origin;
        double jitter = _jitter > 0 ? _chance.Gaussian() * _jitter : 0;
        return _label + (long)(since + (since * _plan.PartsPerMillion * 1e-6) + jitter) + _stepOffset;
    }

    private void Emit(CanFrame frame)
    {
        if (_sink is null)
        {
            return;
        }

        if (_lost > 0)
        {
            if (_lostReported)
            {
                _sink.OnNotSeen(new(NotSeenKind.KernelDropped, _plan.Interface, new(Math.Max(_last, _lostSince)), frame.Time, _lost, "the kernel dropped frames"));
            }

            _lost = 0;
        }

        if (ShuffleSpan <= TimeSpan.Zero)
        {
            Flush();
            HandOver(frame);
            return;
        }

        long span = (long)ShuffleSpan.TotalNanoseconds;
        frame.Time = new(frame.Time.Nanoseconds + (long)(_chance.Unit() * span));
        int index = _shuffle.Count;
        while (index > 0 && _shuffle[index - 1].Time > frame.Time)
        {
            index--;
        }

        _shuffle.Insert(index, frame);
        long ready = Stamp(_wire.Timeline.Now);
        while (_shuffle.Count > 0 && _shuffle[0].Time.Nanoseconds < ready)
        {
            HandOver(_shuffle[0]);
            _shuffle.RemoveAt(0);
        }
    }

    private void HandOver(CanFrame frame)
    {
        // The contract of every source: times don't run backwards.
        _last = Math.Max(_last, frame.Time.Nanoseconds);
        frame.Time = new(_last);
        FramesHanded++;
        _sink!.OnFrame(frame);
    }

    private ErrorLocation Locate(FramePosition position) => position switch
    {
        FramePosition.StartOfFrame => ErrorLocation.StartOfFrame,
        FramePosition.IdentifierBase => Controller.IdentifierBitsRead <= 8 ? ErrorLocation.IdentifierBits28To21 : ErrorLocation.IdentifierBits20To18,
        FramePosition.RemoteOrSubstitute => ErrorLocation.RemoteRequest,
        FramePosition.IdentifierExtension => ErrorLocation.IdentifierExtension,
        FramePosition.IdentifierExtended => Controller.IdentifierBitsRead <= 16 ? ErrorLocation.IdentifierBits17To13
            : Controller.IdentifierBitsRead <= 24 ? ErrorLocation.IdentifierBits12To5 : ErrorLocation.IdentifierBits4To0,
        FramePosition.RemoteExtended => ErrorLocation.RemoteRequest,
        FramePosition.Reserved1 => ErrorLocation.ReservedBit1,
        FramePosition.Reserved0 => ErrorLocation.ReservedBit0,
        FramePosition.DataLength => ErrorLocation.DataLengthCode,
        FramePosition.Data => ErrorLocation.Data,
        FramePosition.Crc => ErrorLocation.CrcSequence,
        FramePosition.CrcDelimiter => ErrorLocation.CrcDelimiter,
        FramePosition.AcknowledgeSlot => ErrorLocation.AcknowledgeSlot,
        FramePosition.AcknowledgeDelimiter => ErrorLocation.AcknowledgeDelimiter,
        FramePosition.EndOfFrame => ErrorLocation.EndOfFrame,
        FramePosition.Intermission => ErrorLocation.Intermission,
        _ => ErrorLocation.Unspecified,
    };
}
