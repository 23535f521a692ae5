using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent;
using Diagnostics.Agent.Commands;

namespace Diagnostics.Benchmarks.Live;

/// <summary>
/// What the simulated site on a saturated bus of 1 Mbit/s costs while the whole service listens to it: queue, analysis, log and page in one host, as <c>listen</c> starts them; only the
/// kernel's part in receiving is missing. Somebody has the page open: it and the report document are fetched every five seconds, and that client's
/// cost counts too. Memory is RssAnon of /proc/self/status at the end.
/// </summary>
internal static class LiveCommand
{
    private static readonly TimeSpan PageInterval = TimeSpan.FromSeconds(5);

    /// <summary>A service runs for months: what compiling costs in its first minutes isn't its price.</summary>
    private static readonly TimeSpan WarmUp = TimeSpan.FromSeconds(120);

    /// <param name="words">Seconds behind the warm-up, 60 unless given.</param>
    public static async Task<int> RunAsync(IReadOnlyList<string> words)
    {
        TimeSpan length = TimeSpan.FromSeconds(words.Count > 0 ? double.Parse(words[0], CultureInfo.InvariantCulture) : 60);
        string log = Directory.CreateTempSubdirectory("diagnostics-live-").FullName;

        using SiteTraffic traffic = SiteTraffic.Create(Path.Combine(log, "site"), WarmUp + length);

        // The service disposes of it, as of any source.
        PacedSource source = new(traffic, WarmUp + length);
        using AddressCatcher printed = new();
        using CancellationTokenSource stop = new();
        CommandContext context = new()
        {
            Input = Stream.Null,
            Output = printed,
            Error = Stream.Null,
            Sources = RealSources.Create(),
        };
        try
        {
            Task<int> service = ServiceHost.RunAsync(new() { BitRate = SiteTraffic.BitRate, Port = 0, LogDirectory = Path.Combine(log, "log") }, _ => source, context, stop.Token);
            Uri page = await printed.Address.ConfigureAwait(false);
            using HttpClient client = new() { BaseAddress = page };
            Process process = Process.GetCurrentProcess();
            TimeSpan beforeWarmUp = process.TotalProcessorTime;
            (int _, long _) = await LookAsync(client, WarmUp).ConfigureAwait(false);
            process.Refresh();
            TimeSpan before = process.TotalProcessorTime;
            long allocatedBefore = GC.GetTotalAllocatedBytes(precise: true);
            long began = Stopwatch.GetTimestamp();
            (int looks, long bytes) = await LookAsync(client, length).ConfigureAwait(false);
            TimeSpan wall = Stopwatch.GetElapsedTime(began);
            process.Refresh();
            TimeSpan busy = process.TotalProcessorTime - before;
            long allocated = GC.GetTotalAllocatedBytes(precise: true) - allocatedBefore;
            double memory = AnonymousMemory.Mebibytes();
            source.Over.Wait();
            await stop.CancelAsync().ConfigureAwait(false);
            await service.ConfigureAwait(false);

            double seconds = (WarmUp + length).TotalSeconds;
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"""
                | live cost at 1 Mbit/s | |
                | --- | ---: |
                | frames per second | {source.Frames / seconds:0} |
                | load of the bus | {traffic.Bits / (seconds * SiteTraffic.BitRate):0.0 %} |
                | frames lost by the queue | {source.FramesDropped} |
                | page and report fetched | {looks} times, {bytes / Math.Max(1, looks) / 1024} KiB each time |
                | share of one core | {busy / wall:0.00 %} |
                | processor time of the first {WarmUp.TotalSeconds:0} s, compiling included | {(before - beforeWarmUp).TotalSeconds:0.00} s |
                | allocated per second | {allocated / wall.TotalSeconds / 1024:0} KiB |
                | RssAnon | {memory:0.0} MiB |
                """));
            return source.FramesDropped == 0 ? 0 : 1;
        }
        finally
        {
            Directory.Delete(log, recursive: true);
        }
    }

    private static async Task<(int Looks, long Bytes)> LookAsync(HttpClient client, TimeSpan length)
    {
        int looks = 0;
        long bytes = 0;
        using PeriodicTimer timer = new(PageInterval);
        for (long began = Stopwatch.GetTimestamp(); Stopwatch.GetElapsedTime(began) < length; looks++)
        {
            await timer.WaitForNextTickAsync().ConfigureAwait(false);
            bytes += (await client.GetByteArrayAsync(new Uri("/", UriKind.Relative)).ConfigureAwait(false)).Length;
            bytes += (await client.GetByteArrayAsync(new Uri("/report.json", UriKind.Relative)).ConfigureAwait(false)).Length;
        }

        return (looks, bytes);
    }

    /// <summary>Standard output of the service, in which the page's address stands.</summary>
    private sealed class AddressCatcher : MemoryStream
    {
        private readonly TaskCompletionSource<Uri> _address = new(TaskCreationOptions.RunContinuationsAsynchronously);

        public Task<Uri> Address => _address.Task;

        public override void Write(ReadOnlySpan<byte> buffer)
        {
            base.Write(buffer);
            Find();
        }

        public override void Write(byte[] buffer, int offset, int count)
        {
            base.Write(buffer, offset, count);
            Find();
        }

        private void Find()
        {
            string text = System.Text.Encoding.UTF8.GetString(GetBuffer(), 0, (int)Length);
            int start = text.IndexOf("http://", StringComparison.Ordinal);
            if (start >= 0 && text.IndexOf('\n', start) is var end and > 0)
            {
                _address.TrySetResult(new(text[start..end].Trim()));
            }
        }
    }
}
