using Diagnostics.Can;

namespace Diagnostics.Simulation;

/// <summary>Several sites, each on an interface of its own, heard as one source in the order of their stamps.</summary>
public sealed class PairedRun
{
    private static readonly TimeSpan Slice = TimeSpan.FromMilliseconds(100);

    private readonly (SiteSimulation Simulation, Held Held)[] _parts;
    private Instant _last = Instant.MinValue;

    /// <exception cref="ArgumentException">Two sites use the same interface index, or their stamps come from clocks that differ: one host stamps all its interfaces by one clock.</exception>
    public PairedRun(params IReadOnlyList<SiteSimulation> simulations)
    {
        if (simulations.Select(simulation => simulation.Site.Observer.Interface).Distinct().Count() != simulations.Count)
        {
            throw new ArgumentException("Each site needs an interface index of its own.", nameof(simulations));
        }

        if (simulations.Select(simulation => simulation.Site.Observer.PartsPerMillion).Distinct().Count() > 1)
        {
            throw new ArgumentException("All interfaces of a host are stamped by one clock.", nameof(simulations));
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

            // The next frame of another site may bear a stamp that is earlier by the jitter, so the last slice stays held.
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
                CanFrame frame = next.Frame;
                _last = frame.Time = Instant.Max(_last, frame.Time);
                sink.OnFrame(frame);
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
