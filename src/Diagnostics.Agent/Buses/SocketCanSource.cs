using System.Globalization;
using System.Runtime.InteropServices;
using Diagnostics.Can;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;
using static Diagnostics.Core.Wording.Wordings;

namespace Diagnostics.Agent.Buses;

/// <summary>
/// Reads SocketCAN interfaces: one thread for all of them, no logic beyond getting everything and saying what was not got. An interface that
/// goes down, comes back or doesn't exist yet is normal life: it is told as not seen (<see cref="NotSeenKind.InterfaceDown"/>) once a second
/// while it lasts, each span continuing the one before, and read again when it is back.
/// <para>
/// Order: frames of all interfaces of one reading are merged by their stamps; where a frame of one interface was still under way while another's
/// was read, its time is lifted to the latest one given out, by less than one reading (<see cref="SocketCanOptions.GatherTime"/>).
/// A span <see cref="NotSeenKind.AgentLate"/> or <see cref="NotSeenKind.ClockStep"/> comes before the frames that were waiting meanwhile.
/// </para>
/// </summary>
public sealed class SocketCanSource : IDisposable
{
    /// <summary>The longest wait: a quarter of <see cref="BoardClock.LateLimit"/>.</summary>
    private const int WaitMilliseconds = 500;

    /// <summary>Messages taken from one interface before the others have their turn: a full receive buffer is read in three rounds.</summary>
    private const int RoundCapacity = 1024;

    /// <summary>Rounds before everything else has its turn, should a bus outrun the board.</summary>
    private const int MaxRounds = 16;

    private const long TickNanoseconds = 1_000_000_000;

    /// <summary>Changes of a controller's state and counters are not announced by the kernel, so they are asked for.</summary>
    private const long AskNanoseconds = 5_000_000_000;

    private static readonly string Missing = Say($"the interface does not exist").English;
    private static readonly string Removed = Say($"the interface was removed").English;
    private static readonly string Down = Say($"the interface is down").English;

    private readonly BusQueue _queue;
    private readonly SocketCanOptions _options;
    private readonly ILogger _logger;
    private readonly List<Slot> _slots;
    private readonly WakeLine _wake = new();
    private readonly TaskCompletionSource _completion = new(TaskCreationOptions.RunContinuationsAsynchronously);
    private readonly Thread _thread;
    private LinkQuery? _links;
    private BoardClock? _clock;
    private long _wallMinusLineTicks;
    private Instant _latest = Instant.MinValue;
    private long _damaged;
    private readonly HashSet<string> _refused = new(StringComparer.Ordinal);
    private bool _started;
    private int _disposed;

    /// <param name="interfaces">Names such as "can0", at least one; their order gives <see cref="CanFrame.Interface"/>.</param>
    /// <param name="queue">The source is its only producer, and completes it at the end.</param>
    /// <param name="options">How to read.</param>
    /// <param name="logger">What went wrong with an interface is said once, and again when it changes.</param>
    public SocketCanSource(IReadOnlyList<string> interfaces, BusQueue queue, SocketCanOptions? options = null, ILogger? logger = null)
    {
        ArgumentOutOfRangeException.ThrowIfZero(interfaces.Count, nameof(interfaces));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(interfaces.Count, SocketCanOptions.MaxInterfaces, nameof(interfaces));
        if (interfaces.Distinct(StringComparer.Ordinal).Count() != interfaces.Count)
        {
            throw new ArgumentException("An interface is named twice.", nameof(interfaces));
        }

        _queue = queue;
        _options = options ?? new();
        _logger = logger ?? NullLogger.Instance;
        _slots = [.. interfaces.Select((name, index) => new Slot(name, (byte)index))];
        _thread = new(Run) { IsBackground = true, Name = "bus reader" };
    }

    /// <summary>Ends when the reader has ended; faulted if it ended by a bug or because the kernel refused what every reading needs.</summary>
    public Task Completion => _completion.Task;

    /// <summary>Messages from the kernel that were no frame, since the start. May be read from any thread.</summary>
    public long DamagedMessages => Interlocked.Read(ref _damaged);

    /// <summary>As <see cref="BoardClock.WallMinusLine"/> at the latest reading; any thread may ask.</summary>
    public TimeSpan WallMinusLine => TimeSpan.FromTicks(Volatile.Read(ref _wallMinusLineTicks));

    /// <summary>This moment on the line of the frames; any thread may ask. Null until the reader runs.</summary>
    public Instant? ThisMoment => Volatile.Read(ref _clock)?.At(LinuxCalls.SinceBoot());

    public void Start()
    {
        _thread.Start();
        _started = true;
    }

    /// <summary>Stops the reader and waits for it.</summary>
    public void Dispose()
    {
        if (Interlocked.Exchange(ref _disposed, 1) != 0)
        {
            return;
        }

        _wake.Signal();
        if (_started)
        {
            _thread.Join();
        }
        else
        {
            _queue.Complete();
            _completion.SetResult();
        }

        _wake.Dispose();
    }

    private void Run()
    {
        try
        {
            using LinkQuery links = new();
            _links = links;
            Read();
            _queue.Complete();
            _completion.SetResult();
        }
        catch (Exception error)
        {
            // The thread's end of the world: whoever waits for the source hears of it; an exception that left the thread would end the program.
            _queue.Complete(error);
            _completion.SetException(error);
        }
        finally
        {
            foreach (Slot slot in _slots)
            {
                slot.Socket?.Dispose();
            }
        }
    }

    private void Read()
    {
        (long wall, long sinceBoot) = LinuxCalls.NowOfBoth();
        Volatile.Write(ref _clock, new(wall, sinceBoot));
        Instant now = _clock.Now;
        foreach (Slot slot in _slots)
        {
            slot.NotReadSince = now;
            slot.Why = Missing;
            _queue.OnInterface(slot.Index, new(slot.Name));
        }

        Instant nextTick = now + TimeSpan.FromTicks(TickNanoseconds / 100);
        Instant nextQuestion = now + TimeSpan.FromTicks(AskNanoseconds / 100);
        AskAll();
        foreach (Slot slot in _slots)
        {
            if (slot.Why == Missing)
            {
                Log(slot);
            }
        }

        _queue.Flush();
        bool gathering = false;
        List<LinkFacts> changes = [];
        while (true)
        {
            Wait wait = WaitForWork(gathering);
            if (wait.Stop)
            {
                return;
            }

            ReadClock();
            now = _clock.Now;
            gathering = TakeFrames();
            if (wait.LinksChanged)
            {
                changes.Clear();
                bool complete = _links!.TakeChanges(changes);
                changes.ForEach(OnLink);
                if (!complete)
                {
                    AskAll();
                }
            }

            CloseThoseThatWentDown();
            if (now >= nextQuestion)
            {
                AskAll();
                nextQuestion = now + TimeSpan.FromTicks(AskNanoseconds / 100);
            }

            if (now >= nextTick)
            {
                foreach (Slot slot in _slots)
                {
                    TellNotRead(slot);
                }

                // A controller's stamp may lead to a time a little before the kernel's: it must not lie before a tick that was told.
                _latest = Instant.Max(now, _latest);
                _queue.OnTick(_latest);
                nextTick = now + TimeSpan.FromTicks(TickNanoseconds / 100);
            }
            else
            {
                _queue.Flush();
            }
        }
    }

    /// <summary>While gathering, sockets aren't waited for: their frames come together after a short time, already stamped by the kernel.</summary>
    private unsafe Wait WaitForWork(bool gathering)
    {
        LinuxCalls.PollEntry* entries = stackalloc LinuxCalls.PollEntry[2 + SocketCanOptions.MaxInterfaces];
        entries[0] = new() { Descriptor = _wake.Descriptor, Events = LinuxCalls.PollIn };
        entries[1] = new() { Descriptor = _links!.ChangeDescriptor, Events = LinuxCalls.PollIn };
        int count = 2;
        if (!gathering)
        {
            foreach (Slot slot in _slots)
            {
                if (slot.Socket is { } socket)
                {
                    entries[count++] = new() { Descriptor = socket.Descriptor, Events = LinuxCalls.PollIn };
                }
            }
        }

        int ready = LinuxCalls.poll(entries, (nuint)count, gathering ? (int)_options.GatherTime.TotalMilliseconds : WaitMilliseconds);
        if (ready < 0)
        {
            int error = Marshal.GetLastPInvokeError();
            return error == SystemCallException.InterruptedCall ? default : throw new SystemCallException("poll", "interfaces", error);
        }

        return new(entries[0].Returned != 0, entries[1].Returned != 0);
    }

    private void ReadClock()
    {
        (long wall, long sinceBoot) = LinuxCalls.NowOfBoth();
        ClockReading reading = _clock!.Read(wall, sinceBoot);
        Volatile.Write(ref _wallMinusLineTicks, _clock.WallMinusLine.Ticks);
        if (reading.LateNanoseconds != 0)
        {
            Tell(NotSeen.Because(NotSeenKind.AgentLate, NotSeen.AllInterfaces, reading.Since, reading.Now, 0,
                $"the agent did not run for {reading.LateNanoseconds / 1e9:0.0} s: the board slept or was too busy"));
        }

        if (reading.SteppedNanoseconds != 0)
        {
            double seconds = Math.Abs(reading.SteppedNanoseconds) / 1e9;
            Tell(reading.SteppedNanoseconds > 0
                ? NotSeen.Because(NotSeenKind.ClockStep, NotSeen.AllInterfaces, reading.Since, reading.Now, 0,
                    $"the board's clock was set forward by {seconds:0.000} s; times here are told by the new time, those before it as well")
                : NotSeen.Because(NotSeenKind.ClockStep, NotSeen.AllInterfaces, reading.Since, reading.Now, 0,
                    $"the board's clock was set back by {seconds:0.000} s; times here are told by the new time, those before it as well"));
        }
    }

    /// <summary>Takes what the kernel has, merges it by time, passes it on. Whether there was anything.</summary>
    private bool TakeFrames()
    {
        bool any = false;
        bool more;
        int rounds = 0;
        do
        {
            more = false;
            foreach (Slot slot in _slots)
            {
                if (slot.Socket is not null)
                {
                    more |= TakeFrames(slot);
                    any |= slot.Taken > 0;
                }
            }

            Merge();
        }
        while (more && ++rounds < MaxRounds);
        return any;
    }

    /// <summary>Whether more may be waiting.</summary>
    private bool TakeFrames(Slot slot)
    {
        slot.Taken = 0;
        slot.Given = 0;
        bool toldDown = false;
        while (slot.Taken + CanSocket.BatchSize <= RoundCapacity)
        {
            int received;
            try
            {
                received = slot.Socket!.Receive();
            }
            catch (SystemCallException error)
            {
                Said(slot, error.Message);
                slot.WentDown = true;
                return false;
            }

            if (received < 0)
            {
                // Said once; frames from before it went down may still follow.
                slot.WentDown = true;
                if (toldDown)
                {
                    return false;
                }

                toldDown = true;
                continue;
            }

            for (int i = 0; i < received; i++)
            {
                Take(slot, i);
            }

            if (received < CanSocket.BatchSize)
            {
                return false;
            }
        }

        return true;
    }

    private void Take(Slot slot, int message)
    {
        CanSocket socket = slot.Socket!;
        ReceivedDefect defect = ReceivedMessage.TryReadFrame(socket.FrameBytes(message), socket.MessageFlags(message), out CanFrame frame);
        if (defect != ReceivedDefect.None)
        {
            Interlocked.Increment(ref _damaged);
            Instant now = _clock!.Now;
            Tell(new(NotSeenKind.DamagedRecords, slot.Index, now, now, 1, $"the kernel handed over a message that is no frame ({defect})"));
            return;
        }

        ReceivedControl control = ReceivedMessage.ReadControl(socket.ControlBytes(message));
        Instant time = control.SoftwareNanoseconds is { } software ? _clock!.LineOf(software) : _clock!.Now;
        if (control.HardwareNanoseconds is { } hardware)
        {
            time = new(slot.Hardware.Best(time.Nanoseconds, hardware));
        }

        frame.Interface = slot.Index;
        frame.Time = time;
        uint dropped = 0;
        if (control.DropTotal is { } total)
        {
            dropped = unchecked(total - slot.DropTotal);
            slot.DropTotal = total;
        }

        slot.Frames[slot.Taken] = frame;
        slot.DroppedBefore[slot.Taken] = dropped;
        slot.Taken++;
    }

    private void Merge()
    {
        while (true)
        {
            Slot? earliest = null;
            foreach (Slot slot in _slots)
            {
                if (slot.Given < slot.Taken && (earliest is null || slot.Frames[slot.Given].Time < earliest.Frames[earliest.Given].Time))
                {
                    earliest = slot;
                }
            }

            if (earliest is null)
            {
                return;
            }

            int place = earliest.Given++;
            ref CanFrame frame = ref earliest.Frames[place];
            frame.Time = _latest = Instant.Max(frame.Time, _latest);
            if (earliest.DroppedBefore[place] is > 0 and uint dropped)
            {
                // The kernel notes the total with each frame that it queues, so the loss lies exactly between this frame and the one before.
                Instant start = Instant.Max(earliest.LastFrame, earliest.OpenedAt);
                Tell(new(NotSeenKind.KernelDropped, earliest.Index, Instant.Min(start, frame.Time), frame.Time, dropped,
                    Say($"the kernel's receive buffer was full: the board was too busy").English));
            }

            earliest.LastFrame = frame.Time;
            _queue.OnFrame(in frame);
        }
    }

    private void AskAll()
    {
        if (_options.ReadsLaterOnes)
        {
            foreach (LinkFacts link in _links!.All())
            {
                if (_slots.TrueForAll(slot => slot.Name != link.Name))
                {
                    OnLink(link);
                }
            }
        }

        foreach (Slot slot in _slots)
        {
            if (_links!.Find(slot.Name) is { } link)
            {
                OnLink(link);
            }
            else
            {
                // Its removal may be seen here before it is heard of.
                Said(slot, slot.Told is null ? Missing : Removed);
                slot.WentDown |= slot.Socket is not null;
            }
        }

        CloseThoseThatWentDown();
    }

    private void OnLink(LinkFacts link)
    {
        Slot? slot = _slots.Find(candidate => candidate.Name == link.Name) ?? Added(link);
        if (slot is null)
        {
            return;
        }

        if (link.IsRemoved || !link.IsCan || !link.IsUp)
        {
            Said(slot, link.IsRemoved ? Removed : !link.IsCan ? "the interface is not a CAN interface" : Down);
            slot.WentDown |= slot.Socket is not null;
        }

        if (link.IsRemoved)
        {
            return;
        }

        if (link.IsCan)
        {
            InterfaceFacts facts = link.ToInterfaceFacts();
            if (facts != slot.Told)
            {
                slot.Told = facts;
                _queue.OnInterface(slot.Index, facts);
            }
        }

        // One that was removed and made anew under the same name is another interface: the old socket hears nothing.
        slot.WentDown |= slot.Socket is not null && slot.InterfaceIndex != link.Index;
        if (link.IsCan && link.IsUp && slot.Socket is not null && !slot.WentDown)
        {
            return;
        }

        CloseThoseThatWentDown();
        if (link.IsCan && link.IsUp)
        {
            Open(slot, link);
        }
    }

    /// <summary>A place for an interface that came later, if it is to be read; one without a place is told of once.</summary>
    private Slot? Added(LinkFacts link)
    {
        if (!_options.ReadsLaterOnes || !link.IsCan || link.IsRemoved)
        {
            return null;
        }

        if (_slots.Count == SocketCanOptions.MaxInterfaces)
        {
            if (_refused.Add(link.Name))
            {
                _logger.LogWarning("{Interface}: not read, because {Count} interfaces are read already; name those that matter in the settings", link.Name, _slots.Count);
            }

            return null;
        }

        Slot slot = new(link.Name, (byte)_slots.Count) { NotReadSince = _clock!.Now, Why = Down };
        _slots.Add(slot);
        _logger.LogInformation("{Interface} has come", slot.Name);
        _queue.OnInterface(slot.Index, new(slot.Name));
        return slot;
    }

    private void Open(Slot slot, LinkFacts link)
    {
        bool first = slot.OpenedAt == Instant.MinValue && slot.NotReadSince == _clock!.Now;
        if (!first)
        {
            // Before it is opened: a frame that arrives right after must not lie in the time that is told as not seen.
            ReadClock();
        }

        try
        {
            slot.Socket = CanSocket.Open(slot.Name, _options.ReceiveBufferBytes);
        }
        catch (SystemCallException error)
        {
            Said(slot, error.Message);
            return;
        }

        if (!first)
        {
            TellNotRead(slot);
            _logger.LogInformation("{Interface} is being read", slot.Name);
        }

        slot.InterfaceIndex = link.Index;
        slot.OpenedAt = _clock!.Now;
        slot.DropTotal = 0;
        slot.Why = "";
    }

    private void CloseThoseThatWentDown()
    {
        foreach (Slot slot in _slots)
        {
            if (!slot.WentDown)
            {
                continue;
            }

            slot.WentDown = false;
            if (slot.Socket is { } socket)
            {
                // What it heard before the end is still to be had.
                bool more;
                int rounds = 0;
                do
                {
                    more = TakeFrames(slot);
                    Merge();
                }
                while (more && ++rounds < MaxRounds);
                socket.Dispose();
                slot.Socket = null;
                slot.WentDown = false;
                slot.NotReadSince = Instant.Max(_clock!.Now, slot.LastFrame);
                if (slot.Why.Length == 0)
                {
                    Said(slot, Down);
                }
            }
        }
    }

    /// <summary>An interface that is not being read: from where it was last told until now.</summary>
    private void TellNotRead(Slot slot)
    {
        Instant now = _clock!.Now;
        if (slot.Socket is not null && slot.Why.Length == 0)
        {
            return;
        }

        if (now > slot.NotReadSince)
        {
            Tell(new(NotSeenKind.InterfaceDown, slot.Index, slot.NotReadSince, now, 0, slot.Why));
            slot.NotReadSince = now;
        }
    }

    private void Tell(in NotSeen notSeen) => _queue.OnNotSeen(in notSeen);

    private void Said(Slot slot, string why)
    {
        if (slot.Why != why)
        {
            slot.Why = why;
            Log(slot);
        }
    }

    private void Log(Slot slot) => _logger.LogWarning("{Interface}: {Why}; waiting for it", slot.Name, slot.Why);

    private readonly record struct Wait(bool Stop, bool LinksChanged);

    /// <summary>One interface.</summary>
    private sealed class Slot(string name, byte index)
    {
        internal readonly string Name = name;
        internal readonly byte Index = index;
        internal readonly HardwareClock Hardware = new();
        internal readonly CanFrame[] Frames = new CanFrame[RoundCapacity];
        internal readonly uint[] DroppedBefore = new uint[RoundCapacity];
        internal CanSocket? Socket;
        internal int InterfaceIndex;
        internal uint DropTotal;
        internal int Taken;
        internal int Given;
        internal bool WentDown;
        internal Instant OpenedAt = Instant.MinValue;
        internal Instant LastFrame = Instant.MinValue;
        internal Instant NotReadSince;

        /// <summary>Why it is not being read; empty while it is.</summary>
        internal string Why = "";

        internal InterfaceFacts? Told;
    }
}
