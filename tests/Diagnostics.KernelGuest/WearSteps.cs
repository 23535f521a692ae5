using System.Globalization;
using Diagnostics.Agent;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Microsoft.Extensions.Logging.Abstractions;
using Microsoft.Win32.SafeHandles;

namespace Diagnostics.KernelGuest;

/// <summary>
/// What the log of a bus of twenty modules writes to a card: the service's own analysis and log on a real ext4; bytes are counted where they reach the block device. Hours are played in
/// seconds, so what the kernel does by its own clock has to be played as well, or a journal that writes every few seconds would hardly be seen: each flush moves the file's time of change as a
/// new second would, five seconds after the first such change the journal is made to commit (JBD2_DEFAULT_MAX_COMMIT_AGE of linux/jbd2.h), and every half a minute what the journal left is
/// written to its place (vm.dirty_expire_centisecs). Against ten minutes of life, compared write by write, this counts a few percent too many.
/// </summary>
internal static class WearSteps
{
    private const long Cap = 512L << 20;
    private const int SecondsPerHour = 3600;

    /// <summary>The first minutes make the files of all series, which then last for days: they aren't counted.</summary>
    private const int FirstSeconds = 300;
    private const int CommitSeconds = 5;
    private const int ExpireSeconds = 30;

    /// <summary>Documentation/block/stat.rst: the seventh number counts sectors written, of 512 bytes whatever the disk says.</summary>
    private const int WrittenSectors = 6;
    private const int SectorBytes = 512;

    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    /// <summary>Leaves a line for each hour: the bytes that it wrote to the device, its bytes of state (records, index, kept frames), its records and how many of those bytes are kept frames.</summary>
    /// <param name="directory">Of the log.</param>
    /// <param name="device">As below /sys/block.</param>
    /// <param name="file">Takes the lines.</param>
    /// <param name="hours">To play.</param>
    /// <param name="mode"><c>plain</c>; <c>lazytime</c>, where the file system keeps times of change in memory and so its journal has nothing to write; <c>life</c>: no second is shortened.</param>
    internal static int Run(string directory, string device, string file, int hours, string mode)
    {
        PlayedClock played = new();
        TimeProvider clock = mode == "life" ? TimeProvider.System : played;
        using StreamWriter tell = new(file) { AutoFlush = true };
        using StoredHistory log = StoredHistory.Open(directory, Cap, Noon, clock);
        TrafficRow first = new(Noon, 1, "can0", 0, 0, 0, 0, 0);
        log.Write(new([], [.. new[] { StoreSeries.Seconds, StoreSeries.Minutes, StoreSeries.Quarters, StoreSeries.Hours }.Select(tier => (tier, first))], []) { Inputs = [new(Noon, "can0", 1, 1, true)] });
        using PlayedSource source = new(mode == "life" ? null : played, Noon, FirstSeconds + (hours * SecondsPerHour));
        (long Device, long State, long Records, long Frames) before = default;
        long kept = log.KeptUpTo;
        long? firstChange = null;
        AgentState state = new() { KeepsLog = true };
        HistoryWriter writer = new(() => new PlayedLog(log, OnWritten), state, clock, NullLogger<HistoryWriter>.Instance);
        AnalysisService analysis = new(
            source, new() { BitRate = PlayedSite.BitRate }, state, writer, new(null, clock, null), clock, NullLogger<AnalysisService>.Instance);
        writer.StartAsync(CancellationToken.None).GetAwaiter().GetResult();
        analysis.StartAsync(CancellationToken.None).GetAwaiter().GetResult();
        source.Over.Wait();
        analysis.StopAsync(CancellationToken.None).GetAwaiter().GetResult();
        writer.StopAsync(CancellationToken.None).GetAwaiter().GetResult();
        return writer.Lost == 0 && state.Troubles.IsEmpty ? 0 : throw new IOException($"{writer.Lost} batches lost; {string.Join(' ', state.Troubles)}");

        void OnWritten(HistoryBatch batch)
        {
            long second = (long)batch.Time.SecondsSince(Noon);
            if (mode == "plain")
            {
                PlayKernel(directory, device, log, second, ref kept, ref firstChange);
            }

            if (second >= FirstSeconds && (second - FirstSeconds) % SecondsPerHour == 0)
            {
                (long Device, long State, long Records, long Frames) after = (Written(device), StateOf(directory), log.LastSequence, StateOf(Path.Combine(directory, "captures")));
                if (second > FirstSeconds)
                {
                    tell.WriteLine(string.Create(
                        CultureInfo.InvariantCulture,
                        $"{after.Device - before.Device} {after.State - before.State} {after.Records - before.Records} {after.Frames - before.Frames}"));
                }

                before = after;
            }

            source.OnWritten(batch.Time);
        }
    }

    private static void PlayKernel(string directory, string device, StoredHistory log, long second, ref long kept, ref long? firstChange)
    {
        string newest = Directory.EnumerateFiles(directory, "seconds-*").Max(StringComparer.Ordinal) ?? Path.Combine(directory, "lock");
        if (log.KeptUpTo != kept)
        {
            kept = log.KeptUpTo;
            firstChange ??= second;
            File.SetLastWriteTimeUtc(newest, DateTime.UnixEpoch.AddSeconds(second));
        }

        if (firstChange is { } first && second >= first + CommitSeconds)
        {
            firstChange = null;
            Flush(newest);
        }

        if (second % ExpireSeconds == 0)
        {
            Flush("/dev/" + device);
        }
    }

    private static void Flush(string path)
    {
        using SafeFileHandle file = File.OpenHandle(path, FileMode.Open, FileAccess.ReadWrite, FileShare.ReadWrite);
        RandomAccess.FlushToDisk(file);
    }

    private static long Written(string device) => SectorBytes * long.Parse(
        File.ReadAllText($"/sys/block/{device}/stat").Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries)[WrittenSectors], CultureInfo.InvariantCulture);

    /// <summary>Segments by what stands in them, everything else by its length.</summary>
    private static long StateOf(string directory) => !Directory.Exists(directory) ? 0 : new DirectoryInfo(directory).EnumerateFiles("*", SearchOption.AllDirectories)
        .Sum(file => file.Extension == ".seg" ? SegmentFormat.Read(File.ReadAllBytes(file.FullName)).Length : file.Length);
}
