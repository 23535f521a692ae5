using Diagnostics.Simulation.Devices;
using Diagnostics.Simulation.Wires;

namespace Diagnostics.Simulation.Staging;

/// <summary>Puts the faults of a site onto its time line.</summary>
internal sealed class FaultStaging(Stage stage)
{
    private readonly Timeline _timeline = stage.Timeline;
    private readonly Wire _wire = stage.Wire;
    private readonly List<(long Time, Action Action)> _prepared = [];
    private readonly List<GroundTruth> _truth = [];
    private int _count;

    public Randomness Chance { get; } = stage.Chance("faults");

    /// <summary>Schedules what is to happen; before the site is switched on.</summary>
    public void Begin()
    {
        foreach ((long time, Action action) in _prepared)
        {
            _timeline.PhysicallyAt(time, action);
        }
    }

    /// <exception cref="ArgumentException">A fault names a node or contact that the site hasn't got.</exception>
    public IReadOnlyList<GroundTruth> Prepare()
    {
        foreach (Fault fault in stage.Site.Faults)
        {
            _count++;
            Prepare(fault);
        }

        return _truth;
    }

    private void Prepare(Fault fault)
    {
        switch (fault)
        {
            case BusNoise noise:
                Disturb(fault, new BitNoise(noise.BitErrorRatio, null, OwnChance()));
                Tell(fault, "bus.error-rate");
                break;
            case BadDrop drop:
                Disturb(fault, new BitNoise(drop.BitErrorRatio, Node(drop.Node).Controller, OwnChance()));
                Tell(fault, "node.errors", drop.Node);
                break;
            case BurstInterference burst:
                Disturb(fault, new BurstNoise(burst.PulseHitRatio, stage.TimeOf(fault.Start), OwnChance()));
                Tell(fault, "bus.error-burst");
                break;
            case OpenDrop open:
                PrepareOpenDrop(open);
                break;
            case IntermittentDrop drop:
                PrepareIntermittent(fault, [Node(drop.Node).Controller], drop.MeanBetween, drop.MeanOpen);
                Tell(fault, "cable.intermittent", drop.Node);
                break;
            case IntermittentTrunk trunk:
                PrepareIntermittent(fault, Behind(trunk.AfterNode), trunk.MeanBetween, trunk.MeanOpen);
                Tell(fault, "cable.intermittent", trunk.AfterNode);
                break;
            case SenderAlone alone:
                PrepareSenderAlone(alone);
                break;
            case HighLoad load:
                PrepareHighLoad(load);
                break;
            case AdapterUnplugged:
                Randomness chance = OwnChance();
                Toggle(fault, on => Switch(on, () => _wire.Disconnect(stage.Observer.Controller), () => _wire.Reconnect(stage.Observer.Controller, chance)));
                Tell(fault, "bus.no-traffic");
                break;
            case ClockStep step:
                At(fault.Start, () => stage.Observer.StepClock(step.By));
                Tell(fault, null);
                break;
            case ShuffledStamps shuffled:
                Toggle(fault, on => stage.Observer.ShuffleSpan = on ? shuffled.Span : TimeSpan.Zero);
                Tell(fault, null);
                break;
            case LostFrames lost:
                Toggle(fault, on =>
                {
                    stage.Observer.LossRatio = on ? lost.Ratio : 0;
                    stage.Observer.ReportsLoss = lost.Reported;
                });
                Tell(fault, lost.Reported ? "bus.not-seen" : null);
                break;
            case OwnProgramSends own:
                PrepareOwnProgram(own);
                break;
            case SupplyJoint or SupplyLowered or BrownOutForGood or TerminatorsChanged or DriverChanged or GroundShifted or GaugesStop:
                PrepareVoltages(fault);
                break;
            default:
                PrepareDevice(fault);
                break;
        }
    }

    private void PrepareVoltages(Fault fault)
    {
        switch (fault)
        {
            case SupplyJoint joint:
                Toggle(fault, on => stage.Supply.JointOhms = on ? joint.Ohms : 0);
                Tell(fault, "supply.dip");
                break;
            case SupplyLowered lowered:
                Toggle(fault, on => stage.Supply.SourceVolts = on ? lowered.Volts : null);
                Tell(fault, "supply.low");
                break;
            case BrownOutForGood weak:
                // Nothing shows of it until the supply dips.
                Toggle(fault, on => stage.Supply.StopForGood(weak.Node, on ? weak.Volts : null));
                Tell(fault, null);
                break;
            case TerminatorsChanged changed:
                Toggle(fault, on => stage.Line.Terminators = on ? changed.Terminators : stage.Site.Line.Terminators);
                Tell(fault, "line.level");
                break;
            case DriverChanged driver:
                Toggle(fault, on => stage.Line.SetDriver(Node(driver.Node).Controller, on ? driver.Ratio : 1));
                Tell(fault, "line.level", driver.Node);
                break;
            case GroundShifted ground:
                Toggle(fault, on => stage.Line.GroundVolts = on ? ground.Volts : 0);
                Tell(fault, "line.level");
                break;
            default:
                Toggle(fault, on => stage.Gauges.IsStopped = on);
                Tell(fault, null);
                break;
        }
    }

    private void PrepareDevice(Fault fault)
    {
        switch (fault)
        {
            case WrongBitRate wrong:
                PrepareWrongBitRate(wrong);
                break;
            case NodeHang hang:
                Toggle(fault, on => Switch(on, Node(hang.Node).Hang, Node(hang.Node).Restart));
                Tell(fault, "node.silent", hang.Node);
                break;
            case NodeWithoutPower dark:
                Toggle(fault, on => Switch(on, Node(dark.Node).PowerOff, Node(dark.Node).PowerOn));
                Tell(fault, "node.silent", dark.Node);
                break;
            case WatchdogRestarts watchdog:
                Repeat(fault, OwnChance(), watchdog.MeanBetween, Node(watchdog.Node).Restart);
                Tell(fault, "node.restarted", watchdog.Node);
                break;
            case NodeComesAndGoes unstable:
                PrepareComesAndGoes(unstable);
                break;
            case SupplyDip dip:
                PrepareSupplyDip(dip);
                break;
            case SiteWithoutPower:
                PrepareSiteWithoutPower(fault);
                break;
            case DuplicateAddress duplicate:
                PrepareDuplicate(duplicate);
                break;
            case Babbler babbler:
                PrepareBabbler(babbler);
                break;
            case EmergencyReport report:
                Toggle(fault, on => Node(report.Node).SendEmergency(on ? report.Code : (ushort)0, on ? report.Register : (byte)0, 0));
                Tell(fault, "node.reports-fault", report.Node);
                break;
            case OutputRefuses refuses:
                Toggle(fault, on => Node(refuses.Node).RefusedOutputs = on ? 1UL << (refuses.Output - 1) : 0);
                Tell(fault, "output.refused", refuses.Node, output: refuses.Output);
                break;
            case OutputMovesByItself moves:
                Repeat(fault, OwnChance(), moves.MeanBetween, () =>
                {
                    Module module = Node(moves.Node);
                    module.ForceOutput(moves.Output, (module.Outputs >> (moves.Output - 1) & 1) == 0);
                });
                Tell(fault, "output.unexplained", moves.Node, output: moves.Output);
                break;
            case OutputContested contested:
                PrepareContested(contested);
                break;
            default:
                PrepareContactOrBenign(fault);
                break;
        }
    }

    private void PrepareContactOrBenign(Fault fault)
    {
        switch (fault)
        {
            case WornContact worn:
                Toggle(fault, on => ContactOf(worn.Node, worn.Input).Wear = on ? worn.Severity : 0);
                Tell(fault, "input.chatter", worn.Node, worn.Input);
                break;
            case FlappingInput flapping:
                Repeat(fault, OwnChance(), flapping.MeanBetween, () => ContactOf(flapping.Node, flapping.Input).Toggle());
                Tell(fault, "input.flapping", flapping.Node, flapping.Input);
                break;
            case StuckInput stuck:
                Toggle(fault, on => Switch(on, () => ContactOf(stuck.Node, stuck.Input).Stick(), () => ContactOf(stuck.Node, stuck.Input).Release()));
                Tell(fault, "input.stuck", stuck.Node, stuck.Input);
                break;
            case InputUnanswered unanswered:
                Toggle(fault, on => stage.Controller?.Ignore(unanswered.Node, unanswered.Input, on));
                Tell(fault, "input.unanswered", unanswered.Node, unanswered.Input);
                break;
            case ModuleReplaced replaced:
                PrepareReplacement(replaced);
                break;
            case CommandedReset reset:
                At(fault.Start, () => stage.Controller?.Command(129, reset.Node));
                Tell(fault, null, reset.Node == 0 ? null : reset.Node);
                break;
            case CommandedState commanded:
                At(fault.Start, () => stage.Controller?.Command(commanded.Command, commanded.Node));
                Tell(fault, null, commanded.Node == 0 ? null : commanded.Node);
                break;
            case SyncStops:
                Toggle(fault, on =>
                {
                    if (stage.Controller is { } master)
                    {
                        master.SendsSync = !on;
                    }
                });
                Tell(fault, null);
                break;
            case HeartbeatWritten written:
                At(fault.Start, () => stage.Controller?.WriteHeartbeat(written.Node, written.Milliseconds));
                Tell(fault, null, written.Node);
                break;
            case FirmwareDownload download:
                At(fault.Start, () => stage.Controller?.DownloadFirmware(download.Node, download.Bytes));
                Tell(fault, null, download.Node);
                break;
            case ChildrenPlay play:
                At(fault.Start, () => stage.People.Play(play.Nodes, EndOf(fault)));
                Tell(fault, null);
                break;
            default:
                throw new ArgumentException($"The simulation can't stage {fault.GetType().Name}.");
        }
    }

    // ---- single faults -------------------------------------------------------------------------------------------

    private void PrepareOpenDrop(OpenDrop open)
    {
        ProtocolController controller = Node(open.Node).Controller;
        Randomness chance = OwnChance();
        Toggle(open, on => Switch(on, () => _wire.Disconnect(controller), () => _wire.Reconnect(controller, chance)));
        Tell(open, "node.silent", open.Node);
    }

    private List<ProtocolController> Behind(int node)
    {
        IReadOnlyList<ModulePlan> modules = stage.Site.Modules;
        Node(node);
        return [.. modules.SkipWhile(plan => plan.Address != node).Skip(1).Select(plan => Node(plan.Address).Controller)];
    }

    /// <summary>
    /// A loose contact doesn't open once and cleanly: within an episode it chatters, open and closed for some milliseconds in turn.
    /// </summary>
    private void PrepareIntermittent(Fault fault, List<ProtocolController> controllers, TimeSpan meanBetween, TimeSpan meanOpen)
    {
        const double MeanChatter = 3e6;
        const long LeastChatter = 200_000;
        Randomness chance = OwnChance();
        long end = EndOf(fault);
        long episodeEnd = 0;
        void Open()
        {
            if (_timeline.Now >= end)
            {
                return;
            }

            foreach (ProtocolController controller in controllers)
            {
                _wire.Disconnect(controller);
            }

            // The last opening of an episode is as long as what is left of it, so a long episode also has a long silence.
            double left = Math.Max(episodeEnd - _timeline.Now, LeastChatter);
            double open = chance.Chance(0.08) ? left : Math.Min(left, chance.Exponential(MeanChatter) + LeastChatter);
            _timeline.PhysicallyAt(_timeline.Now + (long)open, Close);
        }

        void Close()
        {
            foreach (ProtocolController controller in controllers)
            {
                if (controllers.Count > 1)
                {
                    // They heard one another meanwhile, so what they sent was acknowledged among them.
                    controller.ForgetOlderThan(_timeline.Now - FrameTime);
                }

                _wire.Reconnect(controller, chance);
            }

            if (_timeline.Now < episodeEnd)
            {
                _timeline.PhysicallyAt(_timeline.Now + (long)chance.Exponential(MeanChatter) + LeastChatter, Open);
            }
            else
            {
                _timeline.PhysicallyAt(_timeline.Now + (long)chance.Exponential(meanBetween.TotalNanoseconds), Begin);
            }
        }

        void Begin()
        {
            episodeEnd = _timeline.Now + (long)chance.Exponential(meanOpen.TotalNanoseconds);
            Open();
        }

        At(fault.Start, Begin);
    }

    /// <summary>A typical frame of the site, 60 bits.</summary>
    private long FrameTime => 60 * _wire.BitNanoseconds;

    private void PrepareSenderAlone(SenderAlone alone)
    {
        Node(alone.Node);
        Randomness chance = OwnChance();
        Toggle(alone, on =>
        {
            foreach (Module module in stage.Modules.Values)
            {
                if (module.Plan.Address != alone.Node)
                {
                    Switch(on, () => _wire.Disconnect(module.Controller), () => Rejoin(module.Controller));
                }
            }

            if (stage.Controller is { } master)
            {
                Switch(on, () => _wire.Disconnect(master.Controller), () => Rejoin(master.Controller));
            }

            void Rejoin(ProtocolController controller)
            {
                controller.ClearQueue();
                _wire.Reconnect(controller, chance);
            }
        });
        Tell(alone, "bus.no-acknowledge", alone.Node);
    }

    private void PrepareHighLoad(HighLoad load)
    {
        // Identifiers 681h–6EFh belong to no function of CiA 301's predefined set. A frame of eight bytes takes about 120 bits.
        const int TypicalBits = 120;
        Randomness chance = OwnChance();
        ProtocolController controller = new("further device " + _count, new Silent());
        _wire.Attach(controller);
        double gap = TypicalBits * (double)_wire.BitNanoseconds / Math.Clamp(load.LoadRatio, 0.001, 2);
        long end = EndOf(load);
        void Next()
        {
            if (_timeline.Now >= end)
            {
                _wire.PowerOff(controller);
                return;
            }

            controller.Send(WireFrame.Of(0x681u + (uint)chance.Below(100), 8, chance.Next()), _timeline.Now);
            _timeline.At(_timeline.Now + (long)(gap * chance.Between(0.8, 1.2)), Next);
        }

        At(load.Start, () =>
        {
            _wire.PowerOn(controller);
            Next();
        });
        Tell(load, load.LoadRatio >= 0.7 ? "bus.load-high" : null);
    }

    private sealed class Silent : Station;

    private void PrepareWrongBitRate(WrongBitRate wrong)
    {
        Module module = Node(wrong.Node);
        Toggle(wrong, on =>
        {
            module.PowerOff();
            module.Controller.BitRatio = on ? (double)_wire.BitRate / wrong.BitRate : 1;
            module.PowerOn();
        });
        Tell(wrong, "bus.bit-rate-mismatch", wrong.Node);
    }

    private void PrepareComesAndGoes(NodeComesAndGoes unstable)
    {
        Module module = Node(unstable.Node);
        Randomness chance = OwnChance();
        long end = EndOf(unstable);
        void Off()
        {
            if (_timeline.Now >= end)
            {
                return;
            }

            module.PowerOff();
            _timeline.PhysicallyAt(_timeline.Now + (long)chance.Exponential(unstable.MeanOff.TotalNanoseconds), () =>
            {
                module.PowerOn();
                _timeline.PhysicallyAt(_timeline.Now + (long)chance.Exponential(unstable.MeanOn.TotalNanoseconds), Off);
            });
        }

        At(unstable.Start, Off);
        Tell(unstable, "node.unstable", unstable.Node);
    }

    private void PrepareSupplyDip(SupplyDip dip)
    {
        Module[] modules = [.. dip.Nodes.Select(Node)];
        At(dip.Start, () => Array.ForEach(modules, module => module.PowerOff()));
        At(dip.Start + dip.Length, () => Array.ForEach(modules, stage.PowerOnSoon));
        Tell(dip, modules.Length * 2 > stage.Modules.Count ? "bus.restarted" : "node.restarted", modules.Length == 1 ? dip.Nodes[0] : null);
    }

    private void PrepareSiteWithoutPower(Fault fault)
    {
        Toggle(fault, on =>
        {
            foreach (ModulePlan plan in stage.Site.Modules.Where(plan => plan.IsPoweredAtStart && plan.PoweredBy is null))
            {
                Switch(on, stage.Modules[plan.Address].PowerOff, () => stage.PowerOnSoon(stage.Modules[plan.Address]));
            }

            if (stage.Controller is { } master)
            {
                Switch(on, master.PowerOff, master.PowerOn);
            }
        });
        Tell(fault, fault.End is null ? "bus.no-traffic" : "bus.restarted");
    }

    private void PrepareDuplicate(DuplicateAddress duplicate)
    {
        ModulePlan plan = Node(duplicate.Node).Plan;
        Module second = new(
            plan with
            {
                Oscillator = duplicate.Oscillator,
                Serial = duplicate.Serial,
                Firmware = duplicate.Firmware ?? plan.Firmware,
                HeartbeatMilliseconds = duplicate.HeartbeatMilliseconds ?? plan.HeartbeatMilliseconds,
                StartsItself = duplicate.StartsItself,
                IsPoweredAtStart = false,
            },
            _wire,
            OwnChance(),
            $"second node {duplicate.Node}");
        Toggle(duplicate, on => Switch(on, second.PowerOn, second.PowerOff));
        At(duplicate.Start, () => stage.People.Furnish(second));
        Tell(duplicate, "node.duplicate-address", duplicate.Node);
    }

    private void PrepareBabbler(Babbler babbler)
    {
        Module module = Node(babbler.Node);
        long end = EndOf(babbler);
        ulong count = 0;
        void Next()
        {
            if (_timeline.Now >= end)
            {
                return;
            }

            module.SendEach(WireFrame.Of(babbler.Id, 8, count++));
            _timeline.At(_timeline.Now + (long)babbler.Gap.TotalNanoseconds, Next);
        }

        At(babbler.Start, Next);
        Tell(babbler, "bus.flood", babbler.Node);
    }

    private void PrepareOwnProgram(OwnProgramSends own)
    {
        long end = EndOf(own);
        ulong count = 0;
        void Next()
        {
            if (_timeline.Now >= end)
            {
                return;
            }

            stage.Observer.Controller.Send(WireFrame.Of(own.Id, 8, count++), _timeline.Now);
            _timeline.At(_timeline.Now + (long)own.Gap.TotalNanoseconds, Next);
        }

        At(own.Start, Next);
        Tell(own, null);
    }

    private void PrepareContested(OutputContested contested)
    {
        Module module = Node(contested.Node);
        ProtocolController controller = new("second program " + _count, new Silent());
        _wire.Attach(controller);
        long end = EndOf(contested);
        long gap = (long)contested.Gap.TotalNanoseconds;
        void Next()
        {
            if (_timeline.Now >= end)
            {
                _wire.PowerOff(controller);
                return;
            }

            ulong outputs = (stage.Controller?.OutputsOf(contested.Node) ?? module.Outputs) ^ (1UL << (contested.Output - 1));
            controller.Send(WireFrame.Of(0x200u + (uint)contested.Node, module.OutputByteCount, outputs), _timeline.Now);
            _timeline.At(_timeline.Now + (gap / 2), () => stage.Controller?.SendOutputs(contested.Node));
            _timeline.At(_timeline.Now + gap, Next);
        }

        At(contested.Start, () =>
        {
            _wire.PowerOn(controller);
            Next();
        });
        Tell(contested, "output.contested", contested.Node, output: contested.Output);
    }

    private void PrepareReplacement(ModuleReplaced replaced)
    {
        Module old = Node(replaced.Node);
        Module next = new(
            old.Plan with { Serial = replaced.Serial, Firmware = replaced.Firmware ?? old.Plan.Firmware, Oscillator = new(old.Plan.Oscillator.PartsPerMillion - 17) },
            _wire,
            OwnChance(),
            $"new node {replaced.Node}");
        At(replaced.Start, old.PowerOff);
        At(replaced.End ?? replaced.Start + TimeSpan.FromSeconds(90), () =>
        {
            stage.People.Furnish(next);
            next.PowerOn();
        });
        Tell(replaced, null, replaced.Node);
    }

    // ---- tools ---------------------------------------------------------------------------------------------------

    private Module Node(int address) =>
        stage.Modules.TryGetValue(address, out Module? module) ? module : throw new ArgumentException($"The site has no node {address}.");

    private Contact ContactOf(int node, int input) => stage.People.Find(node, input)!;

    private Randomness OwnChance() => stage.Chance("fault " + _count);

    private long EndOf(Fault fault) => fault.End is { } end ? stage.TimeOf(end) : long.MaxValue;

    private void At(TimeSpan time, Action action) => _prepared.Add((stage.TimeOf(time), action));

    private void Toggle(Fault fault, Action<bool> set)
    {
        At(fault.Start, () => set(true));
        if (fault.End is { } end)
        {
            At(end, () => set(false));
        }
    }

    private static void Switch(bool on, Action begin, Action end)
    {
        if (on)
        {
            begin();
        }
        else
        {
            end();
        }
    }

    private void Disturb(Fault fault, Disturbance disturbance)
    {
        _wire.Disturbances.Add(disturbance);
        Toggle(fault, on => disturbance.IsActive = on);
    }

    /// <summary>At random, exponentially spaced, as long as the fault lasts.</summary>
    private void Repeat(Fault fault, Randomness chance, TimeSpan meanBetween, Action action)
    {
        long end = EndOf(fault);
        void Next()
        {
            if (_timeline.Now >= end)
            {
                return;
            }

            action();
            _timeline.PhysicallyAt(_timeline.Now + (long)chance.Exponential(meanBetween.TotalNanoseconds), Next);
        }

        At(fault.Start, Next);
    }

    private void Tell(Fault fault, string? finding, int? node = null, int? input = null, int? output = null)
    {
        Module? subject = node is { } known ? Node(known) : null;
        if (output is { } relay && subject!.Plan.Outputs.All(plan => plan.Output != relay))
        {
            throw new ArgumentException($"Node {node} has no output {relay}.");
        }

        if (input is { } number && node is { } address && Node(address).Plan.Inputs.All(plan => plan.Input != number))
        {
            throw new ArgumentException($"Node {address} has no input {number}.");
        }

        _truth.Add(new(
            fault,
            finding,
            stage.Site.Start + fault.Start,
            fault.End is { } end ? stage.Site.Start + end : null,
            node,
            input,
            output));
    }
}
