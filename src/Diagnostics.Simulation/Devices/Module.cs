using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Devices;

/// <summary>States as the heartbeat carries them. CiA 301.</summary>
internal enum NetworkState : byte
{
    BootUp = 0,
    Stopped = 4,
    Operational = 5,
    PreOperational = 127,
}

/// <summary>A CANopen input/output module: network management, heartbeat or guarding, process data, emergency, SDO server. CiA 301, CiA 401.</summary>
internal sealed class Module : Station
{
    private const long Millisecond = 1_000_000;

    /// <summary>How often the software looks at its inputs.</summary>
    private const long ScanPeriod = 1 * Millisecond;

    private readonly Wire _wire;
    private readonly Timeline _timeline;
    private readonly Randomness _chance;
    private readonly Oscillator _oscillator;
    private readonly ServiceData _services;
    private readonly bool[] _contacts = new bool[64];
    private readonly long[] _contactChanged = new long[64];
    private int _epoch;
    private int _heartbeatEpoch;
    private int _eventTimerEpoch;
    private double _heartbeatLocal;
    private ulong _inputs;
    private ulong _sentInputs;
    private long _lastInputsSent = long.MinValue / 2;
    private bool _inhibitPending;
    private bool _guardToggle;
    private int _syncCount;

    public Module(ModulePlan plan, Wire wire, Randomness chance, string label)
    {
        Plan = plan;
        Label = label;
        _wire = wire;
        _timeline = wire.Timeline;
        _chance = chance;
        _oscillator = new(plan.Oscillator);
        _services = new(this);
        HeartbeatMilliseconds = plan.HeartbeatMilliseconds;
        Firmware = plan.Firmware;
        Controller = new(label, this) { RestartsAfterBusOff = plan.RestartsAfterBusOff };
        wire.Attach(Controller);
        uint node = (uint)plan.Address;
        wire.Listen(Controller, 0x000);
        wire.Listen(Controller, 0x080);
        wire.Listen(Controller, 0x200 + node);
        wire.Listen(Controller, 0x600 + node);
        wire.Listen(Controller, 0x700 + node);
    }

    public ModulePlan Plan { get; }

    public string Label { get; }

    public ProtocolController Controller { get; }

    public NetworkState State { get; private set; }

    public bool IsPowered { get; private set; }

    /// <summary>Its software hangs; the protocol controller still acknowledges.</summary>
    public bool IsHung { get; private set; }

    public int HeartbeatMilliseconds { get; private set; }

    public int StoredHeartbeatMilliseconds { get; set; } = -1;

    public string Firmware { get; set; }

    public ulong Outputs { get; private set; }

    public ulong Inputs => _inputs;

    /// <summary>CiA 301 1001h.</summary>
    public byte ErrorRegister { get; private set; }

    /// <summary>Output number (from 1) and whether it is on now.</summary>
    public Action<int, bool>? OutputChanged { get; set; }

    /// <summary>It was switched on or off.</summary>
    public Action? PowerChanged { get; set; }

    private int Address => Plan.Address;

    private int InputBytes => Plan.Inputs.Count == 0 ? 0 : (Plan.Inputs.Max(input => input.Input) + 7) / 8;

    private int OutputBytes => Plan.Outputs.Count == 0 ? 0 : (Plan.Outputs.Max(output => output.Output) + 7) / 8;

    public int InputByteCount => InputBytes;

    public int OutputByteCount => OutputBytes;

    // ---- power and restarts --------------------------------------------------------------------------------------

    public void PowerOn()
    {
        if (IsPowered)
        {
            return;
        }

        IsPowered = true;
        _wire.PowerOn(Controller);
        Boot();
        PowerChanged?.Invoke();
    }

    public void PowerOff()
    {
        if (!IsPowered)
        {
            return;
        }

        IsPowered = false;
        IsHung = false;
        State = NetworkState.BootUp;
        _epoch++;
        DropOutputs();
        _wire.PowerOff(Controller);
        PowerChanged?.Invoke();
    }

    /// <summary>The software starts again, as after a watchdog or a commanded reset; the supply stays.</summary>
    public void Restart()
    {
        if (!IsPowered)
        {
            return;
        }

        _wire.PowerOff(Controller);
        _wire.PowerOn(Controller);
        DropOutputs();
        Boot();
    }

    public void Hang()
    {
        IsHung = true;
        _epoch++;
        Controller.ClearQueue();
    }

    private void DropOutputs()
    {
        ulong before = Outputs;
        Outputs = 0;
        TellOutputs(before);
    }

    private void Boot()
    {
        IsHung = false;
        _epoch++;
        State = NetworkState.BootUp;
        ErrorRegister = 0;
        HeartbeatMilliseconds = StoredHeartbeatMilliseconds >= 0 ? StoredHeartbeatMilliseconds : Plan.HeartbeatMilliseconds;
        _guardToggle = false;
        _syncCount = 0;
        _services.Reset();
        After(Plan.BootMilliseconds * Millisecond * _chance.Between(0.98, 1.02), EnterPreOperational);
    }

    private void EnterPreOperational()
    {
        State = NetworkState.PreOperational;
        Send(WireFrame.Of(0x700u + (uint)Address, 1, 0));
        StartHeartbeat();
        if (Plan.StartsItself)
        {
            After(5 * Millisecond, EnterOperational);
        }
    }

    private void EnterOperational()
    {
        if (State == NetworkState.Operational)
        {
            return;
        }

        State = NetworkState.Operational;
        if (InputBytes > 0)
        {
            After(_chance.Between(0.5, 3) * Millisecond, SendInputs);
        }

        if (Plan.ReadsOutputsBack && OutputBytes > 0)
        {
            After(_chance.Between(3, 6) * Millisecond, SendOutputs);
        }
    }

    // ---- heartbeat, guarding -------------------------------------------------------------------------------------

    public void SetHeartbeat(int milliseconds)
    {
        HeartbeatMilliseconds = milliseconds;
        StartHeartbeat();
    }

    private void StartHeartbeat()
    {
        _heartbeatEpoch++;
        if (HeartbeatMilliseconds > 0)
        {
            _heartbeatLocal = _oscillator.Local(_timeline.Now);
            ScheduleHeartbeat();
        }
    }

    private void ScheduleHeartbeat()
    {
        int epoch = _epoch;
        int heartbeatEpoch = _heartbeatEpoch;
        _heartbeatLocal += HeartbeatMilliseconds * Millisecond;
        double jitter = Math.Abs(_chance.Gaussian()) * Plan.SoftwareJitter.TotalMilliseconds * Millisecond;
        _timeline.At((long)(_oscillator.True(_heartbeatLocal) + jitter), () =>
        {
            if (epoch != _epoch || heartbeatEpoch != _heartbeatEpoch)
            {
                return;
            }

            Send(WireFrame.Of(0x700u + (uint)Address, 1, (byte)State));
            if (Plan.Schedule == HeartbeatSchedule.Walk)
            {
                _heartbeatLocal = _oscillator.Local(_timeline.Now);
            }

            ScheduleHeartbeat();
        });
    }

    // ---- inputs and outputs --------------------------------------------------------------------------------------

    /// <summary>The level at the terminal changes. Input numbers count from 1.</summary>
    public void SetContact(int input, bool closed)
    {
        int index = input - 1;
        if (_contacts[index] == closed)
        {
            return;
        }

        _contacts[index] = closed;
        _contactChanged[index] = _timeline.Now;
        ulong mask = 1UL << index;
        if (!IsPowered || IsHung)
        {
            _inputs = closed ? _inputs | mask : _inputs & ~mask;
            return;
        }

        long filter = (long)(Plan.InputFilterMilliseconds * Millisecond);
        long changed = _timeline.Now;
        long seen = ((changed + filter) / ScanPeriod * ScanPeriod) + ScanPeriod;
        _timeline.At(seen, () =>
        {
            // With a filter only a level that stood still counts; without one the scan takes what it finds.
            if (filter > 0 && _contactChanged[index] != changed)
            {
                return;
            }

            ulong now = _contacts[index] ? _inputs | mask : _inputs & ~mask;
            if (now != _inputs)
            {
                _inputs = now;
                InputsChanged();
            }
        });
    }

    private void InputsChanged()
    {
        if (State != NetworkState.Operational || IsHung || _inputs == _sentInputs)
        {
            return;
        }

        long inhibit = Plan.InhibitMilliseconds * Millisecond;
        long earliest = _lastInputsSent + inhibit;
        if (_timeline.Now >= earliest)
        {
            After(_chance.Between(0.05, 0.4) * Millisecond, SendInputsIfChanged);
        }
        else if (!_inhibitPending)
        {
            _inhibitPending = true;
            After(earliest - _timeline.Now, () =>
            {
                _inhibitPending = false;
                SendInputsIfChanged();
            });
        }
    }

    private void SendInputsIfChanged()
    {
        if (_inputs != _sentInputs)
        {
            SendInputs();
        }
    }

    private void SendInputs()
    {
        if (State != NetworkState.Operational || InputBytes == 0)
        {
            return;
        }

        _sentInputs = _inputs;
        _lastInputsSent = _timeline.Now;
        Send(WireFrame.Of(0x180u + (uint)Address, InputBytes, _inputs));
        if (Plan.EventTimerMilliseconds > 0)
        {
            int eventEpoch = ++_eventTimerEpoch;
            After(Plan.EventTimerMilliseconds * Millisecond, () =>
            {
                if (eventEpoch == _eventTimerEpoch)
                {
                    SendInputs();
                }
            });
        }
    }

    private void SendOutputs()
    {
        if (State == NetworkState.Operational)
        {
            Send(WireFrame.Of(0x280u + (uint)Address, OutputBytes, Outputs));
        }
    }

    /// <summary>Sends the read-back once more, e.g. when an output is forced at the module.</summary>
    public void ForceOutput(int output, bool on)
    {
        ulong before = Outputs;
        ulong mask = 1UL << (output - 1);
        Outputs = on ? Outputs | mask : Outputs & ~mask;
        TellOutputs(before);
    }

    /// <summary>Outputs that no longer follow their command, by bit.</summary>
    public ulong RefusedOutputs { get; set; }

    private void Command(ulong outputs)
    {
        ulong before = Outputs;
        ulong known = OutputBytes >= 8 ? ulong.MaxValue : (1UL << (8 * OutputBytes)) - 1;
        Outputs = (outputs & known & ~RefusedOutputs) | (before & RefusedOutputs);
        TellOutputs(before);
    }

    private void TellOutputs(ulong before)
    {
        ulong changed = before ^ Outputs;
        if (changed == 0)
        {
            return;
        }

        foreach (OutputPlan output in Plan.Outputs)
        {
            if ((changed >> (output.Output - 1) & 1) != 0)
            {
                OutputChanged?.Invoke(output.Output, (Outputs >> (output.Output - 1) & 1) != 0);
            }
        }

        if (Plan.ReadsOutputsBack && State == NetworkState.Operational)
        {
            After(_chance.Between(1, 4) * Millisecond, SendOutputs);
        }
    }

    public void SendEmergency(ushort code, byte register, ulong detail)
    {
        ErrorRegister = register;
        SendEach(WireFrame.Of(0x080u + (uint)Address, 8, code | ((ulong)register << 16) | (detail << 24)));
    }

    // ---- frames --------------------------------------------------------------------------------------------------

    public override void OnReceived(in WireFrame frame, long time)
    {
        if (!IsPowered || IsHung || State == NetworkState.BootUp || frame.IsExtended)
        {
            return;
        }

        WireFrame copy = frame;
        uint function = frame.Id & 0x780;
        switch (function)
        {
            case 0x000 when frame.Id == 0 && frame.ByteCount >= 2 && (frame[1] == 0 || frame[1] == Address):
                After(_chance.Between(0.1, 1) * Millisecond, () => OnNetworkCommand(copy[0]));
                break;
            case 0x080 when frame.Id == 0x080 && Plan.SynchronousEvery > 0 && State == NetworkState.Operational:
                if (++_syncCount >= Plan.SynchronousEvery)
                {
                    _syncCount = 0;
                    After(_chance.Between(0.05, 0.3) * Millisecond, SendInputs);
                }

                break;
            case 0x200 when !frame.IsRemote && State == NetworkState.Operational && OutputBytes > 0 && frame.ByteCount >= OutputBytes:
                After(_chance.Between(0.1, 0.6) * Millisecond, () => Command(copy.Data));
                break;
            case 0x600 when !frame.IsRemote && State != NetworkState.Stopped:
                After(_chance.Between(0.8, 3) * Millisecond, () => _services.OnRequest(copy));
                break;
            case 0x700 when frame.IsRemote:
                byte answer = (byte)((byte)State | (_guardToggle ? 0x80 : 0));
                _guardToggle = !_guardToggle;
                After(_chance.Between(0.1, 0.5) * Millisecond, () => Send(WireFrame.Of(0x700u + (uint)Address, 1, answer)));
                break;
            default:
                break;
        }
    }

    /// <summary>8140h = recovered from bus-off; taken back soon after.</summary>
    public override void OnRecovered(long time)
    {
        After(Millisecond, () => SendEmergency(0x8140, 0x11, 0));
        After(2000 * Millisecond, () => SendEmergency(0, 0, 0));
    }

    private void OnNetworkCommand(byte command)
    {
        switch (command)
        {
            case 1:
                EnterOperational();
                break;
            case 2:
                State = NetworkState.Stopped;
                break;
            case 128:
                State = NetworkState.PreOperational;
                break;
            case 129:
            case 130:
                Restart();
                break;
            default:
                break;
        }
    }

    public void Send(in WireFrame frame)
    {
        if (IsPowered && !IsHung)
        {
            Controller.SendLatest(frame, _timeline.Now);
        }
    }

    /// <summary>Queues a frame even if one with its identifier waits.</summary>
    public void SendEach(in WireFrame frame)
    {
        if (IsPowered && !IsHung)
        {
            Controller.Send(frame, _timeline.Now);
        }
    }

    /// <summary>After a delay by the device's own clock, unless it restarts or loses its supply before.</summary>
    public void After(double nanoseconds, Action action)
    {
        int epoch = _epoch;
        double due = _oscillator.True(_oscillator.Local(_timeline.Now) + nanoseconds);
        _timeline.At((long)due, () =>
        {
            if (epoch == _epoch)
            {
                action();
            }
        });
    }
}
