using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Devices;

/// <summary>
/// The site's master: starts nodes that boot up, reads who they are, sets heartbeats, turns presses into commands, guards nodes.
/// It sends with the identifiers of its partners and has no error control of its own, so a listener can't list it as a node.
/// </summary>
internal sealed class SiteController : Station
{
    private const long Millisecond = 1_000_000;
    private const long LongPress = 500 * Millisecond;
    private const long ServiceTimeout = 300 * Millisecond;

    private readonly ControllerPlan _plan;
    private readonly Wire _wire;
    private readonly Timeline _timeline;
    private readonly Randomness _chance;
    private readonly Oscillator _oscillator;
    private readonly IReadOnlyList<ModulePlan> _modules;
    private readonly ILookup<(int Node, int Input), SwitchRule> _rules;
    private readonly Dictionary<int, ulong> _inputs = [];
    private readonly Dictionary<int, ulong> _outputs = [];
    private readonly Dictionary<(int Node, int Input), long> _pressed = [];
    private readonly Queue<Service> _services = new();
    private readonly HashSet<(int Node, int Input)> _ignored = [];
    private Service? _service;
    private int _serviceEpoch;
    private int _segmentsLeft;
    private bool _toggle;
    private int _epoch;

    /// <summary>One SDO transfer to come. <paramref name="Command"/> and <paramref name="Value"/> as sent; segments only for a download.</summary>
    private sealed record Service(int Node, byte Command, ushort Index, byte Sub, uint Value, int Segments = 0, Action? Done = null);

    public SiteController(ControllerPlan plan, IReadOnlyList<ModulePlan> modules, IEnumerable<SwitchRule> rules, Wire wire, Randomness chance)
    {
        _plan = plan;
        _modules = modules;
        _rules = rules.ToLookup(rule => (rule.FromNode, rule.FromInput));
        _wire = wire;
        _timeline = wire.Timeline;
        _chance = chance;
        _oscillator = new(plan.Oscillator);
        Controller = new("controller", this) { HearsAll = true };
        wire.Attach(Controller);
    }

    public ProtocolController Controller { get; }

    public bool IsPowered { get; private set; }

    public bool SendsSync { get; set; } = true;

    /// <summary>From now on the controller does nothing about this input, or does so again.</summary>
    public void Ignore(int node, int input, bool ignores)
    {
        if (ignores)
        {
            _ignored.Add((node, input));
        }
        else
        {
            _ignored.Remove((node, input));
        }
    }

    public ulong OutputsOf(int node) => _outputs.GetValueOrDefault(node);

    public void PowerOn()
    {
        if (IsPowered)
        {
            return;
        }

        IsPowered = true;
        _epoch++;
        _wire.PowerOn(Controller);
        After(_plan.BootMilliseconds * Millisecond, Start);
    }

    public void PowerOff()
    {
        IsPowered = false;
        _epoch++;
        _service = null;
        _services.Clear();
        _inputs.Clear();
        _outputs.Clear();
        _pressed.Clear();
        _wire.PowerOff(Controller);
    }

    private void Start()
    {
        Send(WireFrame.Of(0, [1, 0]));
        foreach (ModulePlan module in _modules)
        {
            Welcome(module.Address);
        }

        if (_plan.SyncMilliseconds > 0)
        {
            Repeat(_oscillator.Local(_timeline.Now), _plan.SyncMilliseconds, () =>
            {
                if (SendsSync)
                {
                    Send(WireFrame.Of(0x080, []));
                }
            });
        }

        if (_plan.GuardMilliseconds > 0)
        {
            int index = 0;
            foreach (ModulePlan module in _modules)
            {
                uint id = 0x700u + (uint)module.Address;
                double phase = _oscillator.Local(_timeline.Now) + (_plan.GuardMilliseconds * Millisecond * (index++ / (double)_modules.Count));
                Repeat(phase, _plan.GuardMilliseconds, () => Send(WireFrame.RemoteRequest(id, 1)));
            }
        }

        if (_plan.RefreshMilliseconds > 0)
        {
            Repeat(_oscillator.Local(_timeline.Now), _plan.RefreshMilliseconds, RefreshOutputs);
        }
    }

    private void Welcome(int node)
    {
        if (_plan.ReadsIdentities)
        {
            Ask(node, 0x1000, 0);
            Ask(node, 0x1018, 1);
            Ask(node, 0x1018, 2);
            Ask(node, 0x1018, 3);
            Ask(node, 0x1018, 4);
            Ask(node, 0x1008, 0);
            Ask(node, 0x100A, 0);
        }

        if (_plan.WritesHeartbeatMilliseconds is { } heartbeat)
        {
            WriteHeartbeat(node, heartbeat);
        }

        _services.Enqueue(new(node, 0, 0, 0, 0, 0, () => StartNode(node)));
        NextService();
    }

    private void StartNode(int node)
    {
        Send(WireFrame.Of(0, [1, (byte)node]));
        if (_outputs.ContainsKey(node))
        {
            After(20 * Millisecond, () => SendOutputs(node));
        }
    }

    public void Command(byte command, int node) => Send(WireFrame.Of(0, [command, (byte)node]));

    public void WriteHeartbeat(int node, int milliseconds)
    {
        _services.Enqueue(new(node, 0x2B, 0x1017, 0, (uint)milliseconds));
        NextService();
    }

    /// <summary>Program download: 1F51h stop, 1F50h in segments, 1F51h start. CiA 302-3.</summary>
    public void DownloadFirmware(int node, int bytes)
    {
        _services.Enqueue(new(node, 0x2F, 0x1F51, 1, 0));
        _services.Enqueue(new(node, 0x21, 0x1F50, 1, (uint)bytes, (bytes + 6) / 7));
        _services.Enqueue(new(node, 0x2F, 0x1F51, 1, 1));
        NextService();
    }

    private void Ask(int node, ushort index, byte sub) => _services.Enqueue(new(node, 0x40, index, sub, 0));

    private void NextService()
    {
        if (!IsPowered)
        {
            return;
        }

        while (_service is null && _services.TryDequeue(out Service? next))
        {
            if (next.Done is not null)
            {
                next.Done();
                continue;
            }

            _service = next;
            _segmentsLeft = next.Segments;
            _toggle = false;
            SendService(next.Command | ((ulong)next.Index << 8) | ((ulong)next.Sub << 24) | ((ulong)next.Value << 32));
        }
    }

    private void SendService(ulong data)
    {
        Send(WireFrame.Of(0x600u + (uint)_service!.Node, 8, data));
        int epoch = ++_serviceEpoch;
        After(ServiceTimeout, () =>
        {
            if (epoch == _serviceEpoch && _service is not null)
            {
                EndService();
            }
        });
    }

    private void EndService()
    {
        _service = null;
        _serviceEpoch++;
        After(_chance.Between(0.5, 2) * Millisecond, NextService);
    }

    private void OnAnswer(in WireFrame frame)
    {
        if (_service is null || frame.ByteCount < 8)
        {
            return;
        }

        int kind = frame[0] >> 5;
        bool goesOn = kind switch
        {
            // Upload begins: goes on in segments unless all came at once.
            2 => (frame[0] & 2) == 0,
            0 => (frame[0] & 1) == 0,
            3 or 1 => _segmentsLeft > 0,
            _ => false,
        };
        if (!goesOn)
        {
            EndService();
            return;
        }

        _serviceEpoch++;
        int epoch = _serviceEpoch;
        After(_chance.Between(0.3, 1.2) * Millisecond, () =>
        {
            if (_service is null || epoch != _serviceEpoch)
            {
                return;
            }

            if (kind is 2 or 0)
            {
                SendService((ulong)(0x60 | (_toggle ? 0x10 : 0)));
            }
            else
            {
                _segmentsLeft--;
                ulong data = _chance.Next() << 8;
                SendService(data | (byte)((_toggle ? 0x10 : 0) | (_segmentsLeft == 0 ? 1 : 0)));
            }

            _toggle = !_toggle;
        });
    }

    public override void OnReceived(in WireFrame frame, long time)
    {
        if (!IsPowered || frame.IsRemote || frame.IsExtended)
        {
            return;
        }

        int node = (int)(frame.Id & 0x7F);
        switch (frame.Id & 0x780)
        {
            case 0x180 when node != 0:
                OnInputs(node, frame.Data);
                break;
            case 0x580 when _service?.Node == node:
                OnAnswer(frame);
                break;
            case 0x700 when frame.ByteCount == 1 && frame[0] == 0 && node != 0:
                After(_chance.Between(5, 20) * Millisecond, () => Welcome(node));
                break;
            default:
                break;
        }
    }

    private void OnInputs(int node, ulong inputs)
    {
        ulong before = _inputs.GetValueOrDefault(node, inputs);
        _inputs[node] = inputs;
        ulong changed = before ^ inputs;
        for (int input = 1; changed != 0; input++, changed >>= 1)
        {
            if ((changed & 1) == 0 || !_rules.Contains((node, input)) || _ignored.Contains((node, input)))
            {
                continue;
            }

            bool closed = (inputs >> (input - 1) & 1) != 0;
            OnInput(node, input, closed);
        }
    }

    private void OnInput(int node, int input, bool closed)
    {
        IEnumerable<SwitchRule> rules = _rules[(node, input)];
        bool hasLong = rules.Any(rule => rule.LongPress);
        if (closed)
        {
            long now = _timeline.Now;
            _pressed[(node, input)] = now;
            if (!hasLong)
            {
                Apply(rules, false);
                return;
            }

            After(LongPress, () =>
            {
                if (_pressed.TryGetValue((node, input), out long since) && since == now)
                {
                    _pressed.Remove((node, input));
                    Apply(rules, true);
                }
            });
        }
        else if (_pressed.Remove((node, input)) && hasLong)
        {
            Apply(rules, false);
        }
    }

    private void Apply(IEnumerable<SwitchRule> rules, bool longPress)
    {
        foreach (SwitchRule rule in rules.Where(rule => rule.LongPress == longPress))
        {
            SwitchOutput(rule.ToNode, rule.ToOutput);
        }
    }

    /// <summary>Toggles an output by command.</summary>
    public void SwitchOutput(int node, int output)
    {
        _outputs[node] = _outputs.GetValueOrDefault(node) ^ (1UL << (output - 1));
        After(_plan.ReactionMilliseconds * Millisecond * _chance.Between(0.7, 1.5), () => SendOutputs(node));
    }

    public void SendOutputs(int node)
    {
        int bytes = OutputBytes(node);
        if (bytes > 0)
        {
            Send(WireFrame.Of(0x200u + (uint)node, bytes, _outputs.GetValueOrDefault(node)));
        }
    }

    private void RefreshOutputs()
    {
        foreach (ModulePlan module in _modules)
        {
            SendOutputs(module.Address);
        }
    }

    private int OutputBytes(int node)
    {
        foreach (ModulePlan module in _modules)
        {
            if (module.Address == node && module.Outputs.Count > 0)
            {
                return (module.Outputs.Max(output => output.Output) + 7) / 8;
            }
        }

        return 0;
    }

    private void Send(in WireFrame frame)
    {
        if (IsPowered)
        {
            Controller.Send(frame, _timeline.Now);
        }
    }

    private void Repeat(double phase, int milliseconds, Action action)
    {
        int epoch = _epoch;
        double next = phase + (milliseconds * (double)Millisecond);
        _timeline.At((long)_oscillator.True(next), () =>
        {
            if (epoch == _epoch)
            {
                action();
                Repeat(next, milliseconds, action);
            }
        });
    }

    private void After(double nanoseconds, Action action)
    {
        int epoch = _epoch;
        _timeline.At((long)_oscillator.True(_oscillator.Local(_timeline.Now) + nanoseconds), () =>
        {
            if (epoch == _epoch)
            {
                action();
            }
        });
    }
}
