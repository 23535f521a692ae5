using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.Buses;
using Diagnostics.Benchmarks.Traffic;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Benchmarks.Live;

/// <summary>
/// What a saturated bus of 1 Mbit/s costs while it is being listened to. A producer paced by the clock hands over what a real reader would have gathered
/// in 10 ms; one consumer analyses it and writes the report's JSON once a second, as the service does. Both threads' time counts, the
/// kernel's part in receiving does not. Memory is RssAnon of /proc/self/status at the end.
/// </summary>
internal static class LiveCommand
{
    private const int BitRate = 1_000_000;

    /// <summary>As the reader of interfaces gathers before it hands over.</summary>
    private static readonly TimeSpan GatherTime = TimeSpan.FromMilliseconds(10);

    private static readonly TimeSpan Patience = TimeSpan.FromMilliseconds(200);

    /// <summary>A service runs for months: what compiling costs in its first seconds isn't its price.</summary>
    private static readonly TimeSpan WarmUp = TimeSpan.FromSeconds(20);

    /// <param name="words">Seconds behind the warm-up, 60 unless given.</param>
    public static int Run(IReadOnlyList<string> words)
    {
        TimeSpan length = TimeSpan.FromSeconds(words.Count > 0 ? double.Parse(words[0], CultureInfo.InvariantCulture) : 60);

        // Twelve times the ordinary traffic is more than the wire carries: it is full.
        SyntheticTraffic traffic = new(BitRate, pace: 12);
        BusQueue queue = new(WhenFull.Count);
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = BitRate });
        Process process = Process.GetCurrentProcess();
        using ManualResetEvent pause = new(initialState: false);
        long frames = 0;
        Thread producer = new(() => frames = Produce(queue, traffic, WarmUp + length, pause)) { Name = "bus reader" };
        TimeSpan before = TimeSpan.Zero;
        TimeSpan beforeWarmUp = process.TotalProcessorTime;
        long allocatedBefore = 0;
        long began = 0;
        int snapshots = 0;
        long bytes = 0;
        producer.Start();

        // As the service does: one thread that waits for batches and, once a second, lets time go on and takes a snapshot.
        bool isOver = false;
        while (!isOver)
        {
            if (queue.Read(Patience, CancellationToken.None, out isOver) is not { } batch)
            {
                continue;
            }

            batch.DrainTo(analyzer);
            Instant? tick = batch.Tick;
            queue.Recycle(batch);
            if (tick is { } now)
            {
                analyzer.Advance(now);
                bytes += ReportJson.ToUtf8(analyzer.Snapshot()).Length;
                if (++snapshots == (int)WarmUp.TotalSeconds)
                {
                    process.Refresh();
                    before = process.TotalProcessorTime;
                    allocatedBefore = GC.GetTotalAllocatedBytes(precise: true);
                    began = Stopwatch.GetTimestamp();
                }
            }
        }

        producer.Join();
        TimeSpan wall = Stopwatch.GetElapsedTime(began);
        process.Refresh();
        TimeSpan busy = process.TotalProcessorTime - before;
        long allocated = GC.GetTotalAllocatedBytes(precise: true) - allocatedBefore;
        double seconds = (WarmUp + length).TotalSeconds;
        double load = traffic.Bits / (seconds * BitRate);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"""
            | live cost at 1 Mbit/s | |
            | --- | ---: |
            | frames per second | {frames / seconds:0} |
            | load of the bus | {load:0.0 %} |
            | frames lost by the queue | {queue.FramesDropped} |
            | reports written | {snapshots} of {bytes / Math.Max(1, snapshots) / 1024} KiB |
            | share of one core | {busy / wall:0.00 %} |
            | processor time of the first {WarmUp.TotalSeconds:0} s, compiling included | {(before - beforeWarmUp).TotalSeconds:0.00} s |
            | allocated per second | {allocated / wall.TotalSeconds / 1024:0} KiB |
            | RssAnon | {AnonymousKibibytes() / 1024.0:0.0} MiB |
            """));
        return 0;
    }

    private static long Produce(BusQueue queue, SyntheticTraffic traffic, TimeSpan length, ManualResetEvent pause)
    {
        long frames = 0;
        long began = Stopwatch.GetTimestamp();
        long nextTick = 1;
        CanFrame pending = traffic.Next();
        while (true)
        {
            TimeSpan passed = Stopwatch.GetElapsedTime(began);
            bool last = passed >= length;
            Instant now = traffic.Start + (last ? length : passed);
            while (pending.Time <= now)
            {
                queue.OnFrame(in pending);
                frames++;
                pending = traffic.Next();
            }

            queue.Flush();
            if ((now - traffic.Start).TotalSeconds >= nextTick)
            {
                queue.OnTick(now);
                nextTick++;
            }

            if (last)
            {
                queue.Complete();
                return frames;
            }

            pause.WaitOne(GatherTime);
        }
    }

    private static long AnonymousKibibytes()
    {
        string line = File.ReadLines("/proc/self/status").First(line => line.StartsWith("RssAnon:", StringComparison.Ordinal));
        return long.Parse(line.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)[1], CultureInfo.InvariantCulture);
    }
}
