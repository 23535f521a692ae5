using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.Benchmarks.History;

/// <summary>
/// A year of one bus in the log: minute rows and coarser for the whole of it, second rows for its last week, fifty events a day. Says what it takes on the disk, how long the log
/// takes to open (as it was left, and when the index has to be made anew), how long a query of one day takes, and how much memory there is in use.
/// </summary>
internal static class LogCommand
{
    internal const int Days = 365;
    private const int DaysOfSeconds = 7;
    private const int EventsADay = 50;
    internal const long Cap = 512L << 20;

    internal static readonly Instant Start = Instant.FromDateTime(new(2026, 1, 1, 0, 0, 0, TimeSpan.Zero));

    public static int Run()
    {
        string directory = Directory.CreateTempSubdirectory("diagnostics-log-").FullName;
        try
        {
            TimeSpan written = Time(() => Fill(directory));
            GC.Collect();
            double before = AnonymousMemory.Mebibytes();
            TimeSpan asLeft = Time(() => Open(directory).Dispose());
            TimeSpan anew = Time(() =>
            {
                File.Delete(Path.Combine(directory, HistoryIndex.MarkName));
                Open(directory).Dispose();
            });
            GC.Collect();
            double after = AnonymousMemory.Mebibytes();
            using StoredHistory log = Open(directory);
            Console.WriteLine("| a year's log | |\n| --- | ---: |");
            foreach (IGrouping<string, FileInfo> kind in new DirectoryInfo(directory).GetFiles().GroupBy(file => file.Name.Split('-', '.')[0]).OrderBy(kind => kind.Key, StringComparer.Ordinal))
            {
                Row($"{kind.Key}, MiB", kind.Sum(file => file.Length) / 1048576.0);
            }

            Row("written in, s", written.TotalSeconds);
            Row("opened as it was left, s", asLeft.TotalSeconds);
            Row("opened with the index made anew, s", anew.TotalSeconds);
            Row("RssAnon before and after that, MiB", before);
            Row("", after);
            foreach (int day in new[] { Days - 1, Days - 60, Days / 2, 3 })
            {
                Instant from = Start + TimeSpan.FromDays(day);
                IReadOnlyList<TrafficRow> rows = [];
                TimeSpan first = Time(() => rows = log.ReadRows(StoreSeries.Quarters, from, from + TimeSpan.FromDays(1)));
                Row($"day {day}: {rows.Count} quarter rows, ms", first.TotalMilliseconds);
                TimeSpan minutes = Time(() => rows = log.ReadRows(StoreSeries.Minutes, from, from + TimeSpan.FromDays(1)));
                Row($"day {day}: {rows.Count} minute rows, ms", minutes.TotalMilliseconds);
            }

            Row("all node events, ms", Time(() => log.ReadNodeEvents(Start, Start + TimeSpan.FromDays(Days))).TotalMilliseconds);
            return 0;
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }

        static void Row(string name, double value) => Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {value:0.00} |"));
    }

    private static StoredHistory Open(string directory) => StoredHistory.Open(directory, Cap, Start + TimeSpan.FromDays(Days), TimeProvider.System);

    internal static void Fill(string directory)
    {
        using StoredHistory log = StoredHistory.Open(directory, Cap, Start, TimeProvider.System);
        Random random = new(1);
        for (int minute = 0; minute < Days * 1440; minute++)
        {
            Instant time = Start + TimeSpan.FromMinutes(minute);
            List<(StoreSeries, TrafficRow)> rows = [];
            for (int second = 0; minute >= (Days - DaysOfSeconds) * 1440 && second < 60; second++)
            {
                rows.Add((StoreSeries.Seconds, Row(time + TimeSpan.FromSeconds(second), 1)));
            }

            rows.Add((StoreSeries.Minutes, Row(time, 60)));
            if (minute % 15 == 14)
            {
                rows.Add((StoreSeries.Quarters, Row(time - TimeSpan.FromMinutes(14), 900)));
            }

            if (minute % 60 == 59)
            {
                rows.Add((StoreSeries.Hours, Row(time - TimeSpan.FromMinutes(59), 3600)));
            }

            NodeEvent[] events = minute % (1440 / EventsADay) == 0 ? [new(time, "can0", (minute % 20) + 1, NodeEventKind.Restarted, "1")] : [];
            log.Write(new([], rows, events));
        }

        TrafficRow Row(Instant start, double seconds) => new(start, seconds, "can0", random.NextDouble(), random.NextDouble(), (long)(seconds * 180), random.Next(3), 20);
    }

    internal static TimeSpan Time(Action action)
    {
        long began = Stopwatch.GetTimestamp();
        action();
        return Stopwatch.GetElapsedTime(began);
    }
}
