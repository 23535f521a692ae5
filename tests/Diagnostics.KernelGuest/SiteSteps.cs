using System.Diagnostics;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>Sends the bus of twenty modules on a virtual interface, second by second as they pass, until it is ended; or stands by as an adapter on a serial line.</summary>
internal static class SiteSteps
{
    private static readonly TimeSpan NoFaults = TimeSpan.FromDays(1000);

    private static readonly Instant Start = new(0);

    internal static int Send(string name)
    {
        using FrameSender sender = new(name);
        PlayedSite site = new(NoFaults);
        Sending sink = new(sender);
        for (int second = 0; ; second++)
        {
            sink.Begin();
            site.Play(sink, Start, second);
        }
    }

    /// <summary>Leaves what the kernel asked of the adapter, and stays.</summary>
    internal static int Adapt(string file)
    {
        SerialAdapter adapter = new();
        while (true)
        {
            Thread.Sleep(TimeSpan.FromSeconds(1));
            File.WriteAllText(file, string.Join('\n', adapter.Commands));
        }
    }

    /// <summary>Each frame leaves at its time within the second, so far as the guest's clock allows.</summary>
    private sealed class Sending(FrameSender sender) : IFrameSink
    {
        private readonly long _start = Stopwatch.GetTimestamp();
        private int _seconds = -1;

        public void Begin() => _seconds++;

        public void OnFrame(in CanFrame frame)
        {
            TimeSpan wait = TimeSpan.FromSeconds(_seconds) + TimeSpan.FromSeconds(frame.Time.SecondsSince(Start)) - Stopwatch.GetElapsedTime(_start);
            if (wait > TimeSpan.Zero)
            {
                Thread.Sleep(wait);
            }

            sender.Send(frame.Id.Value, frame.Bytes);
        }

        public void OnInterface(byte index, InterfaceFacts facts)
        {
        }

        public void OnNotSeen(in NotSeen notSeen)
        {
        }
    }
}
