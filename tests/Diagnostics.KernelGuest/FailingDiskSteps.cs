using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>
/// The built program, twice, on one virtual bus: the log of one lies on a card that fails for a while (dm-flakey), that of the other on a disk that somebody else fills. What their pages say, and
/// whether the bus is heard on, is left in a file.
/// </summary>
internal static class FailingDiskSteps
{
    private const string Device = "card";
    private const string Card = "/run/disk";
    private const string Full = "/run/full";
    private const int CardPort = 8480;
    private const int FullPort = 8481;
    private const string Mark = "it just happened";
    private const int FramesASecond = 10;

    internal static int Run(string program, string lower, string sectors, string file)
    {
        using StreamWriter tell = new(file) { AutoFlush = true };
        string sound = $"0 {sectors} linear {lower} 0";
        Programs.Run("dmsetup", "--noudevsync", "create", Device, "--table", sound);

        // A file system whose journal can't be written gives up and is read-only until it is mounted anew (FlakySteps): here it has nothing to write meanwhile, as on a card that fails
        // for a moment.
        Programs.Run("mount", "-t", "ext4", "-o", "lazytime,commit=300", "/dev/dm-0", Card);
        MakeFiles();
        using CancellationTokenSource stop = new();
        Thread site = new(() => Send(stop.Token));
        site.Start();
        using Service card = new(program, Card, CardPort);
        using Service full = new(program, Full, FullPort);
        tell.WriteLine($"begin: {card.Await(page => card.Frames > 0)} {full.Await(page => full.Frames > 0)}");

        // Marked before: a log that has found the disk full refuses marks. The frames of the mark come when it is full.
        long marked = full.Frames;
        full.Mark(Mark + " 1");
        Fill();
        DeviceMapper.Load(Device, $"0 {sectors} flakey {lower} 0 0 3600 1 error_writes");
        tell.WriteLine($"card fails: told {card.Await(page => page.Contains("fdatasync failed with EIO", StringComparison.Ordinal))}");
        long frames = card.Frames;
        tell.WriteLine($"card fails: frames go on {card.Await(_ => card.Frames > frames + 10)}");
        DeviceMapper.Load(Device, sound);

        tell.WriteLine($"disk full: told {full.Await(page => page.Contains("No space left", StringComparison.Ordinal) && full.Said.Contains("No space left", StringComparison.Ordinal))}");

        // Whether rows or the frames of the mark find no room first is chance; the disk stays full until those were tried as well.
        tell.WriteLine($"disk full: frames go on {full.Await(_ => full.Frames > marked + (FramesASecond * (CapturePlan.After.TotalSeconds + 5)))}");
        File.Delete(Full + "/filler");
        tell.WriteLine($"card well: {card.Await(page => !page.Contains("The log can", StringComparison.Ordinal))}");

        // Until then a mark is refused.
        tell.WriteLine($"disk well: {full.Await(page => !page.Contains("The log can", StringComparison.Ordinal))}");
        full.Mark(Mark + " 2");
        tell.WriteLine($"room again: {full.Await(page => page.Contains(Mark + " 2", StringComparison.Ordinal))}");
        stop.Cancel();
        site.Join();
        tell.WriteLine($"ended: {card.End()} {full.End()}");

        // What the card could not take was held, and is there.
        using (StoredHistory log = Open(Card))
        {
            Instant[] rows = [.. log.ReadRows(StoreSeries.Seconds, new(0), new(long.MaxValue)).Where(row => row.Frames > 0).Select(row => row.Start)];
            double gap = rows.Zip(rows.Skip(1), (one, next) => next.SecondsSince(one)).DefaultIfEmpty(double.PositiveInfinity).Max();
            tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"card: rows {rows.Length}, longest gap {gap:0.0}"));
        }

        using (StoredHistory log = Open(Full))
        {
            tell.WriteLine("full: " + string.Join(", ", log.ReadCaptures().Where(capture => capture.IsMark).Select(capture => $"{capture.Why} {(capture.File is null ? "without" : "with")} frames")));
        }

        return 0;
    }

    private static StoredHistory Open(string mounted) => StoredHistory.Open(mounted + "/log", 512L << 20, Instant.FromDateTime(DateTimeOffset.UtcNow), TimeProvider.System);

    /// <summary>As in a run before this one: then the service has no file to make.</summary>
    private static void MakeFiles()
    {
        TrafficRow row = new(Instant.FromDateTime(DateTimeOffset.UtcNow), 1, "vcan0", 0, 0, 0, 0, 0);
        using StoredHistory log = Open(Card);
        log.Write(new([], [.. new[] { StoreSeries.Seconds, StoreSeries.Minutes, StoreSeries.Quarters, StoreSeries.Hours }.Select(tier => (tier, row))], []) { Inputs = [new(row.Start, "vcan0", 5, 1, true)] });
    }

    /// <summary>Down to the last block.</summary>
    private static void Fill()
    {
        Programs.TryRun("dd", "if=/dev/zero", "of=" + Full + "/filler", "bs=64k");
        Programs.TryRun("dd", "if=/dev/zero", "of=" + Full + "/filler", "bs=4k", "oflag=append", "conv=notrunc");
        Programs.TryRun("sync", "--file-system", Full);
    }

    private static void Send(CancellationToken stop)
    {
        using FrameSender sender = new("vcan0");
        while (!stop.WaitHandle.WaitOne(1000 / FramesASecond))
        {
            sender.Send(0x705, [5]);
        }
    }

    private sealed class Service : IDisposable
    {
        private readonly HttpClient _client = new();
        private readonly Process _process;
        private readonly string _error;
        private readonly string _address;

        public Service(string program, string mounted, int port)
        {
            _address = string.Create(CultureInfo.InvariantCulture, $"http://127.0.0.1:{port}/");
            _error = $"/run/tmp/{port}";
            _process = Process.Start(new ProcessStartInfo("/bin/sh", ["-c", string.Create(CultureInfo.InvariantCulture, $"exec dotnet '{program}' listen vcan0 --bit-rate 125000 --port {port} --log {mounted}/log >/dev/null 2>{_error}")]))!;
        }

        /// <summary>As its report has it; -1 while it doesn't answer.</summary>
        public long Frames
        {
            get
            {
                try
                {
                    using JsonDocument report = JsonDocument.Parse(_client.GetStringAsync(_address + "report.json").GetAwaiter().GetResult());
                    return report.RootElement.GetProperty("buses").EnumerateArray().Sum(bus => bus.GetProperty("frames").GetInt64());
                }
                catch (HttpRequestException)
                {
                    return -1;
                }
            }
        }

        /// <summary>Its journal.</summary>
        public string Said => File.Exists(_error) ? File.ReadAllText(_error) : "";

        /// <summary>Asks for the page until it satisfies. "yes", or what it said last.</summary>
        public string Await(Func<string, bool> satisfies)
        {
            for (int i = 0; i < 100 && !_process.HasExited; i++)
            {
                try
                {
                    if (satisfies(_client.GetStringAsync(_address).GetAwaiter().GetResult()))
                    {
                        return "yes";
                    }
                }
                catch (HttpRequestException)
                {
                    // The page isn't there yet.
                }

                Thread.Sleep(300);
            }

            return $"no; it said: {Said.ReplaceLineEndings(" ")}";
        }

        public void Mark(string note)
        {
            using HttpRequestMessage request = new(HttpMethod.Post, _address + "mark") { Content = new FormUrlEncodedContent([KeyValuePair.Create("note", note)]) };
            request.Headers.Add("Origin", _address.TrimEnd('/'));
            using HttpResponseMessage response = _client.Send(request);
        }

        public int End()
        {
            Programs.Run("kill", "-TERM", _process.Id.ToString(CultureInfo.InvariantCulture));
            _process.WaitForExit();
            return _process.ExitCode;
        }

        public void Dispose()
        {
            _client.Dispose();
            _process.Dispose();
        }
    }
}
