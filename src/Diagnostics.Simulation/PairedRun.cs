using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>Several sites, each on an interface of its own, heard as one source in the order of their stamps.</summary>
public sealed class PairedRun
{
    private static readonly TimeSpan Slice = TimeSpan.FromMilliseconds(100);

    private readonly (SiteSimulation Simulation, Held Held)[] _parts;

    /// <exception cref="ArgumentException">Two sites use the same interface index.</exception>
    public PairedRun(params IReadOnlyList<SiteSimulation> simulations)
    {
        if (simulations.Select(simulation => simulation.Site.Observer.Interface).Distinct().Count() != simulations.Count)
        {
            throw new ArgumentException("Each site needs an interface index of its own.", nameof(simulations));
        }

        _parts = [.. simulations.Select(simulation => (simulation, new Held()))];
    }

    public void Run(IFrameSink sink, TimeSpan duration)
    {
        foreach ((SiteSimulation simulation, Held held) in _parts)
        {
            held.Sink = sink;
            simulation.Attach(held);
        }

        TimeSpan done = TimeSpan.Zero;
        while (done < duration)
        {
            TimeSpan step = duration - done < Slice ? duration - done : Slice;
            done += step;
            foreach ((SiteSimulation simulation, _) in _parts)
            {
                simulation.Step(step);
            }

            // A stamp may run ahead of true time by a frame, the clock's deviation and its jitter, so the last slice stays held.
            Instant ready = done < duration ? _parts.Min(part => part.Simulation.Now) - Slice : new(long.MaxValue);
            HandOver(sink, ready);
        }
    }

    private void HandOver(IFrameSink sink, Instant ready)
    {
        while (true)
        {
            Held? first = null;
            foreach ((_, Held held) in _parts)
            {
                if (held.Items.TryPeek(out Item item) && item.Time <= ready && (first is null || item.Time < first.Items.Peek().Time))
                {
                    first = held;
                }
            }

            if (first is null)
            {
                return;
            }

            Item next = first.Items.Dequeue();
            if (next.NotSeen is { } notSeen)
            {
                sink.OnNotSeen(notSeen);
            }
            else
            {
                sink.OnFrame(next.Frame);
            }
        }
    }

    private readonly record struct Item(Instant Time, CanFrame Frame, NotSeen? NotSeen);

    private sealed class Held : IFrameSink
    {
        public Queue<Item> Items { get; } = new();

        public IFrameSink? Sink { get; set; }

        public void OnInterface(byte index, InterfaceFacts facts) => Sink?.OnInterface(index, facts);

        public void OnFrame(in CanFrame frame) => Items.Enqueue(new(frame.Time, frame, null));

        public void OnNotSeen(in NotSeen notSeen) => Items.Enqueue(new(notSeen.Start, default, notSeen));
    }
}
