using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.Pages;
using Diagnostics.Can;
using Diagnostics.Core.Reporting;
using Microsoft.Extensions.Logging.Abstractions;

namespace Diagnostics.Benchmarks.History;

/// <summary>
/// How fast a year opens: the log of <see cref="LogCommand"/>, with findings, served by the service's own page, against a file of the same size from the same server, turn about in one
/// run. The page may take three times as long as the file (median). Told besides: the very first opening, a year that nobody has asked for before, and what a browser fetches for the first view.
/// </summary>
internal static class TimeCommand
{
    private const int Rounds = 300;
    private const double MostTimes = 3;
    private const int MostFirstBytes = 100_000;
    private const string WholeName = "20261231T000001.pcapng";
    private const string FileName = "20261231T000000.pcapng";

    public static async Task<int> RunAsync()
    {
        string directory = Directory.CreateTempSubdirectory("diagnostics-time-").FullName;
        try
        {
            LogCommand.Fill(directory);
            Instant end = LogCommand.Start + TimeSpan.FromDays(LogCommand.Days);
            AgentState state = new() { KeepsLog = true, Report = new(Report.CurrentSchema, new("live", "can0", LogCommand.Start, end, new(0, 0, 0, [])), [], [], []) };
            StoredHistory Open()
            {
                StoredHistory log = StoredHistory.Open(directory, LogCommand.Cap, end, TimeProvider.System);
                log.Write(new([.. Findings()], [], []) { Time = end });
                return log;
            }

            using HistoryWriter writer = new(Open, state, TimeProvider.System, NullLogger<HistoryWriter>.Instance);
            TaskCompletionSource<string> address = new(TaskCreationOptions.RunContinuationsAsynchronously);
            CaptureFiles captures = StoredHistory.CapturesOf(directory, LogCommand.Cap);
            using PageService page = new(0, new(state, TimeProvider.System) { Captures = captures, Log = writer }, address.SetResult, NullLogger<PageService>.Instance);
            await writer.StartAsync(CancellationToken.None).ConfigureAwait(false);
            await page.StartAsync(CancellationToken.None).ConfigureAwait(false);
            using HttpClient client = new() { BaseAddress = new(await address.Task.ConfigureAwait(false)) };

            // The server's own code is compiled by other pages first: what is measured is the year.
            for (int round = 0; round < Rounds; round++)
            {
                await client.GetByteArrayAsync(new Uri("/report.json", UriKind.Relative)).ConfigureAwait(false);
            }

            // The log is opened and read ahead by its own thread, as at the start of the service.
            await writer.ReadAsync(LogCommand.Start, end, 2, CancellationToken.None).ConfigureAwait(false);
            const string Year = "/time?span=year";
            (double first, byte[] html) = await GetAsync(client, Year).ConfigureAwait(false);
            Directory.CreateDirectory(Path.Combine(directory, CaptureFiles.Folder));
            await File.WriteAllBytesAsync(Path.Combine(directory, CaptureFiles.Folder, FileName), html).ConfigureAwait(false);
            string file = Marks.CaptureFolder + FileName;

            string whole = Marks.CaptureFolder + WholeName;
            long logBytes = new DirectoryInfo(directory).GetFiles("*" + Agent.History.Store.RecordStore.Suffix).Sum(part => part.Length);
            using (FileStream large = File.Create(Path.Combine(directory, CaptureFiles.Folder, WholeName)))
            {
                large.SetLength(logBytes);
            }

            List<double> logs = [];
            for (int round = 0; round < 5; round++)
            {
                logs.Add((await GetAsync(client, whole).ConfigureAwait(false)).Milliseconds);
            }

            List<double> pages = [];
            List<double> files = [];
            List<double> others = [];
            for (int round = 0; round < Rounds; round++)
            {
                pages.Add((await GetAsync(client, Year).ConfigureAwait(false)).Milliseconds);
                files.Add((await GetAsync(client, file).ConfigureAwait(false)).Milliseconds);
                Instant to = end - TimeSpan.FromHours(round + 1);
                others.Add((await GetAsync(client, string.Create(CultureInfo.InvariantCulture, $"/time?from={to - TimeSpan.FromDays(364)}&to={to}")).ConfigureAwait(false)).Milliseconds);
            }

            int bytes = html.Length + PageAssets.Style.Content.Length + PageAssets.TimeStyle.Content.Length + PageAssets.TimeScript.Content.Length;
            double times = Median(pages) / Median(files);
            Console.WriteLine("| a year's log on the time axis | |\n| --- | ---: |");
            Row("first opening of the year after the start, ms", first);
            Row("a file of the same size, median of 300, ms", Median(files));
            Row("the year, median of 300, ms", Median(pages));
            Row("the year, as many times as the file", times);
            Row("another year each time, never asked for before, median, ms", Median(others));
            Row("another year, as many times as the file", Median(others) / Median(files));
            Row("a file as large as the year's log, median of 5, ms", Median(logs));
            Row("another year, as many times as that", Median(others) / Median(logs));
            Row("the page, KB", html.Length / 1000.0);
            Row("first view with style and script, KB over the wire", bytes / 1000.0);
            await page.StopAsync(CancellationToken.None).ConfigureAwait(false);
            await writer.StopAsync(CancellationToken.None).ConfigureAwait(false);
            bool isGood = times <= MostTimes && bytes < MostFirstBytes;
            Console.WriteLine(isGood ? "Both limits are kept." : $"Too much: {MostTimes:0} times and {MostFirstBytes / 1000} KB are the limits.");
            return isGood ? 0 : 1;
        }
        finally
        {
            Directory.Delete(directory, recursive: true);
        }

        static void Row(string name, double value) => Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {value:0.00} |"));
    }

    /// <summary>One that comes and goes every few days, and one that lasts for a month.</summary>
    private static IEnumerable<FindingReport> Findings()
    {
        for (int episode = 1; episode <= 100; episode++)
        {
            Instant start = LogCommand.Start + TimeSpan.FromDays(3.5 * episode);
            yield return Finding("node.silent/can0/5", "node.silent", "fault", start, start + TimeSpan.FromHours(2), episode, "Node 5 stopped sending.");
        }

        Instant since = LogCommand.Start + TimeSpan.FromDays(LogCommand.Days - 30);
        yield return Finding("bus.error-rate/can0/", "bus.error-rate", "warning", since, null, 1, "Errors are more frequent than on a healthy bus.");
    }

    private static FindingReport Finding(string key, string name, string severity, Instant start, Instant? end, int count, string summary) => new()
    {
        Key = key,
        Finding = name,
        Severity = severity,
        Interface = "can0",
        Start = start,
        Raised = start,
        End = end,
        Count = count,
        Confidence = 0.99,
        Summary = summary,
        Measurements = [],
        Evidence = [],
        Causes = [],
    };

    private static async Task<(double Milliseconds, byte[] Content)> GetAsync(HttpClient client, string address)
    {
        long began = Stopwatch.GetTimestamp();
        byte[] content = await client.GetByteArrayAsync(new Uri(address, UriKind.Relative)).ConfigureAwait(false);
        return (Stopwatch.GetElapsedTime(began).TotalMilliseconds, content);
    }

    private static double Median(List<double> values) => values.Order().ElementAt(values.Count / 2);
}
