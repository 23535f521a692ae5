using Diagnostics.Simulation.Wires;

namespace Diagnostics.Tests.Simulation;

/// <summary>A bare wire with controllers A, B, … at 125 kbit/s, one bit = 8 µs.</summary>
internal sealed class WireBench
{
    public const long Bit = 8_000;

    public WireBench(int controllers, bool withListener = true)
    {
        Wire = new(Timeline, 125_000);
        for (int i = 0; i < controllers; i++)
        {
            Ear ear = new();
            ProtocolController controller = new(((char)('A' + i)).ToString(), ear) { HearsAll = true };
            ear.Controller = controller;
            Add(controller, ear);
        }

        if (withListener)
        {
            Listener = new();
            ProtocolController controller = new("listener", Listener) { HearsAll = true, ListenOnly = true };
            Listener.Controller = controller;
            Add(controller, Listener);
        }

        Wire.Run(20 * Bit);
    }

    public Timeline Timeline { get; } = new();

    public Wire Wire { get; }

    public List<ProtocolController> Controllers { get; } = [];

    public List<Ear> Ears { get; } = [];

    public Ear? Listener { get; }

    public long Now => Timeline.Now;

    private void Add(ProtocolController controller, Ear ear)
    {
        Wire.Attach(controller);
        Wire.PowerOn(controller);
        Controllers.Add(controller);
        Ears.Add(ear);
    }

    public void Send(int controller, uint id, params byte[] data) => Controllers[controller].Send(WireFrame.Of(id, data), Now);

    public void RunBits(long bits) => Wire.Run(Now + (bits * Bit));

    /// <summary>Notes what its controller tells.</summary>
    internal sealed class Ear : Station
    {
        public ProtocolController? Controller { get; set; }

        public List<(WireFrame Frame, long Time)> Received { get; } = [];

        public List<(WireFrame Frame, long Time)> Sent { get; } = [];

        public List<(WireError Error, FramePosition Position, bool Sending, int Transmit, int Receive)> Errors { get; } = [];

        public List<int> TransmitCounts { get; } = [];

        public long? BusOff { get; private set; }

        public long? Recovered { get; private set; }

        public override void OnReceived(in WireFrame frame, long time) => Received.Add((frame, time));

        public override void OnSent(in WireFrame frame, long time) => Sent.Add((frame, time));

        public override void OnError(WireError error, FramePosition position, bool whileSending, long time) =>
            Errors.Add((error, position, whileSending, Controller!.TransmitErrors, Controller.ReceiveErrors));

        public override void OnCounters(long time) => TransmitCounts.Add(Controller!.TransmitErrors);

        public override void OnBusOff(long time) => BusOff = time;

        public override void OnRecovered(long time) => Recovered = time;
    }

    /// <summary>Inverts the bits that a test picks, for the controllers that it picks.</summary>
    internal sealed class Picked(Func<long, bool> hits, Func<ProtocolController, bool> reaches) : Disturbance
    {
        public override bool MayHit(ProtocolController sender, long start, long end, int bits) => true;

        public override bool Hits(Wire wire, long bitStart) => hits(bitStart);

        public override bool Reaches(ProtocolController controller) => reaches(controller);
    }
}
