using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;
using Diagnostics.Core;
using Diagnostics.Core.Reporting;
using Microsoft.Win32.SafeHandles;

namespace Diagnostics.KernelGuest;

/// <summary>
/// What the log of a bus of twenty modules writes to a card: real analysis, real log, real ext4; bytes are counted where they reach the block device. Hours are played in seconds, so what
/// the kernel does by its own clock has to be played as well, or a journal that writes every few seconds would hardly be seen: each flush touches the file's time of change as a new
/// second would, five seconds after the first change its journal is made to commit (JBD2_DEFAULT_MAX_COMMIT_AGE of linux/jbd2.h), and every half a minute what the journal left is written to its
/// place (vm.dirty_expire_centisecs). Against ten minutes of life, compared write by write, this counts a few percent too many.
/// </summary>
internal static class WearSteps
{
    private const long Cap = 512L << 20;
    private const int SecondsPerHour = 3600;
    private const int CommitSeconds = 5;
    private const int ExpireSeconds = 30;

    /// <summary>Documentation/block/stat.rst: the seventh number counts sectors written, of 512 bytes whatever the disk says.</summary>
    private const int WrittenSectors = 6;
    private const int SectorBytes = 512;

    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    /// <summary>Leaves a line for each hour: the bytes that it wrote to the device, its bytes of state (records, index, kept frames), its records and its kept frames.</summary>
    /// <param name="directory">Of the log.</param>
    /// <param name="device">As below /sys/block.</param>
    /// <param name="file">Takes the lines.</param>
    /// <param name="hours">To play.</param>
    /// <param name="mode"><c>plain</c>; <c>lazytime</c>, where the file system keeps times of change in memory and so its journal has nothing to write; <c>life</c>: no second is shortened.</param>
    internal static int Run(string directory, string device, string file, int hours, string mode)
    {
        MovedClock played = new();
        PlayedSite site = new(TimeSpan.FromHours(1));
        Analyzer analyzer = new(new() { SourceKind = "live", SourceName = "can0", BitRate = PlayedSite.BitRate });
        FrameRing ring = new(analyzer);
        HistoryRecorder recorder = new();
        CapturePlan plan = new();
        using StreamWriter tell = new(file) { AutoFlush = true };
        using StoredHistory log = StoredHistory.Open(directory, Cap, Noon, mode == "life" ? TimeProvider.System : played);
        ring.OnInterface(0, new("can0") { BitRate = PlayedSite.BitRate, ListenOnly = true });
        (long Device, long State, long Records, long Frames) before = (Written(device), StateOf(directory), log.LastSequence, 0);
        long began = Stopwatch.GetTimestamp();
        long frames = 0;
        long kept = log.KeptUpTo;
        int? firstChange = null;
        for (int second = 1; second <= hours * SecondsPerHour; second++)
        {
            Instant now = Noon + TimeSpan.FromSeconds(second);
            site.Play(ring, now - TimeSpan.FromSeconds(1), second - 1);
            analyzer.Advance(now);
            Report report = analyzer.Snapshot();
            HistoryBatch batch = recorder.OnSnapshot(report) with { Captures = Take(report, plan, ring) };
            frames += batch.FrameBytes;
            if (mode == "life")
            {
                TimeSpan rest = TimeSpan.FromSeconds(second) - Stopwatch.GetElapsedTime(began);
                Thread.Sleep(rest > TimeSpan.Zero ? rest : TimeSpan.Zero);
            }

            played.Seconds = second;
            log.Write(batch);
            if (mode == "plain")
            {
                PlayKernel(directory, device, log, second, ref kept, ref firstChange);
            }

            if (second % SecondsPerHour == 0)
            {
                (long Device, long State, long Records, long Frames) after = (Written(device), StateOf(directory), log.LastSequence, frames);
                tell.WriteLine(string.Create(
                    CultureInfo.InvariantCulture,
                    $"{after.Device - before.Device} {after.State - before.State} {after.Records - before.Records} {after.Frames - before.Frames}"));
                before = after;
            }
        }

        return 0;
    }

    private static List<(CaptureRequest Request, byte[]? Frames)> Take(Report report, CapturePlan plan, FrameRing ring)
    {
        List<(CaptureRequest, byte[]?)> taken = [];
        foreach (CaptureRequest request in plan.OnSnapshot(report))
        {
            byte[]? frames = ring.Take(request.From, request.Time + CapturePlan.After, plan.RoomFor(request));
            plan.OnTaken(request, frames?.Length ?? 0);
            taken.Add((request, frames));
        }

        return taken;
    }

    private static void PlayKernel(string directory, string device, StoredHistory log, int second, ref long kept, ref int? firstChange)
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
    private static long StateOf(string directory) => new DirectoryInfo(directory).EnumerateFiles("*", SearchOption.AllDirectories)
        .Sum(file => file.Extension == ".seg" ? SegmentFormat.Read(File.ReadAllBytes(file.FullName)).Length : file.Length);

    private sealed class MovedClock : TimeProvider
    {
        public long Seconds { get; set; }

        public override long TimestampFrequency => 1;

        public override long GetTimestamp() => Seconds;
    }
}
