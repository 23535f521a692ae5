using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Benchmarks.Traffic;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;

namespace Diagnostics.Benchmarks.History;

/// <summary>
/// Days of a saturated bus of 125 kbit/s through all that the service does with them but the kernel and the page: ring of frames, analysis, a snapshot each second, rows, changes of
/// inputs, kept frames, the log with its flushes and hourly feeding, on a clock that goes as fast as the machine can. Says what it takes on the disk, the highest memory, how long
/// the log takes to open, and the slowest query of any day.
/// </summary>
internal static class WeekCommand
{
    private const int BitRate = 125_000;
    private const int UsualDays = 7;

    /// <summary>Twice the ordinary pace of 32 nodes is more than this bit rate carries, so the wire is never free.</summary>
    private const double Pace = 2;

    private const long Cap = 512L << 20;

    public static int Run(string[] arguments)
    {
        int days = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : UsualDays;
        string directory = Directory.CreateTempSubdirectory("diagnostics-week-").FullName;
        try
        {
            SyntheticTraffic traffic = new(BitRate, Pace);
            Played played = Play(directory, traffic, days);
            MovedClock clock = new();
            TimeSpan asLeft = LogCommand.Time(() => Open(directory, played.End, clock).Dispose());
            TimeSpan anew = LogCommand.Time(() =>
            {
                File.Delete(Path.Combine(directory, HistoryIndex.MarkName));
                Open(directory, played.End, clock).Dispose();
            });
            using StoredHistory log = Open(directory, played.End, clock);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {days} days at {played.Load:0 %} of {BitRate:N0} bit/s, {played.Frames:N0} frames | |\n| --- | ---: |"));
            foreach (IGrouping<string, FileInfo> kind in new DirectoryInfo(directory).GetFiles("*", SearchOption.AllDirectories).GroupBy(Kind).OrderBy(kind => kind.Key, StringComparer.Ordinal))
            {
                Row($"{kind.Key}, MiB", kind.Sum(file => file.Length) / 1048576.0);
            }

            Row("on the disk in all, MiB", new DirectoryInfo(directory).GetFiles("*", SearchOption.AllDirectories).Sum(file => file.Length) / 1048576.0);
            Row("played in, s", played.Took.TotalSeconds);
            Row("highest RssAnon meanwhile, MiB", played.HighestMemory);
            Row("RssAnon after the first day, MiB", played.MemoryAfterADay);
            Row("RssAnon at the end, MiB", played.MemoryAtTheEnd);
            Row("opened as it was left, s", asLeft.TotalSeconds);
            Row("opened with the index made anew, s", anew.TotalSeconds);
            foreach (StoreSeries tier in new[] { StoreSeries.Seconds, StoreSeries.Minutes, StoreSeries.Quarters, StoreSeries.Hours })
            {
                double slowest = 0;
                int rows = 0;
                for (int day = 0; day < days; day++)
                {
                    Instant from = traffic.Start + TimeSpan.FromDays(day);
                    slowest = Math.Max(slowest, LogCommand.Time(() => rows += log.ReadRows(tier, from, from + TimeSpan.FromDays(1)).Count).TotalMilliseconds);
                }

                Row($"{tier.ToString().ToLowerInvariant()} of any day ({rows} rows in all), slowest, ms", slowest);
            }

            Row("changes of inputs of a day, ms", LogCommand.Time(() => log.ReadInputEvents(traffic.Start, traffic.Start + TimeSpan.FromDays(1))).TotalMilliseconds);
            Row("all findings, ms", LogCommand.Time(() => log.ReadFindings()).TotalMilliseconds);
            return 0;
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }

        static void Row(string name, double value) => Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {value:0.00} |"));

        static string Kind(FileInfo file) => file.Name.EndsWith(CaptureFiles.Suffix, StringComparison.Ordinal) ? "kept frames" : file.Name.Split('-', '.')[0];
    }

    private sealed record Played(Instant End, long Frames, double Load, TimeSpan Took, double HighestMemory, double MemoryAfterADay, double MemoryAtTheEnd);

    private static StoredHistory Open(string directory, Instant now, TimeProvider clock) => StoredHistory.Open(directory, Cap, now, clock);

    private static Played Play(string directory, SyntheticTraffic traffic, int days)
    {
        long began = Stopwatch.GetTimestamp();
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = BitRate });
        FrameRing ring = new(analyzer);
        IFrameSink sink = ring;
        sink.OnInterface(0, new("can0") { ErrorReporting = true, ListenOnly = true });
        HistoryRecorder recorder = new();
        InputRecorder inputs = new();
        CapturePlan plan = new();
        MovedClock clock = new();
        using StoredHistory log = Open(directory, traffic.Start, clock);
        Instant end = traffic.Start + TimeSpan.FromDays(days);
        long nextSecond = traffic.Start.Nanoseconds + 1_000_000_000;
        long frames = 0;
        long events = 0;
        double highest = 0;
        double afterADay = 0;
        int second = 0;
        while (true)
        {
            ref readonly CanFrame frame = ref traffic.Next();
            while (frame.Time.Nanoseconds >= nextSecond)
            {
                OnSecond(new(nextSecond));
                nextSecond += 1_000_000_000;
            }

            if (frame.Time >= end)
            {
                break;
            }

            sink.OnFrame(frame);
            frames++;
        }

        double load = traffic.Bits / (double)BitRate / end.SecondsSince(traffic.Start);
        return new(end, frames, load, Stopwatch.GetElapsedTime(began), highest, afterADay, AnonymousMemory.Mebibytes());

        void OnSecond(Instant now)
        {
            analyzer.Advance(now);
            Report report = analyzer.Snapshot();
            HistoryBatch batch = recorder.OnSnapshot(report) with { Inputs = inputs.OnEvents(analyzer.EventsFrom(events)) };
            events = analyzer.EventCount;
            if (plan.OnSnapshot(report) is [_, ..] requests)
            {
                batch = batch with { Captures = [.. requests.Select(request => (request, ring.Take(request.From, request.Time + CapturePlan.After, CaptureFiles.MostBytes)))] };
            }

            clock.Now += TimeSpan.FromSeconds(1);
            log.Write(batch);
            second++;
            if (second % 600 == 0)
            {
                highest = Math.Max(highest, AnonymousMemory.Mebibytes());
            }

            if (second == 86_400)
            {
                afterADay = AnonymousMemory.Mebibytes();
            }

            if (second % 86_400 == 0)
            {
                // What is in use after a full collection must not grow from day to day; RssAnon also holds what the collector has not given back.
                Console.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"day {second / 86_400} of {days}, {GC.GetTotalMemory(forceFullCollection: true) / 1048576.0:0.0} MiB in use after a collection"));
            }
        }
    }

    private sealed class MovedClock : TimeProvider
    {
        public TimeSpan Now { get; set; }

        public override long TimestampFrequency => TimeSpan.TicksPerSecond;

        public override long GetTimestamp() => Now.Ticks;
    }
}
