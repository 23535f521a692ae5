using System.Diagnostics;
using System.Globalization;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>
/// A log on a disk whose power is cut at any moment. What was promised is told to a witness outside of this kernel, line by line: "run FIRST MILLISECONDS SECONDS REMARKS" when the log was
/// opened (its latest record, how long opening took, how much of the time before the cut is missing), "kept SEQUENCE of SEQUENCE SECOND" whenever more of it is on the disk. The next run
/// opens the log and compares.
/// </summary>
internal static class LogSteps
{
    internal const long Cap = 64L << 20;

    /// <summary>Every so many seconds an hour passes, so that the index is fed: about once in a life that is cut short.</summary>
    private const int SecondsToTheHour = 2_000;

    /// <summary>Where every write is recorded: twice in a recording.</summary>
    private const int RecordedSecondsToTheHour = 300;

    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    /// <summary>Judges what is there, then writes until the power goes, or ends as it should.</summary>
    internal static int Run(string directory, string witness, bool writes)
    {
        string[] lines = File.Exists(witness) ? File.ReadAllLines(witness) : [];

        // Each run has a day of its own.
        int day = lines.Count(line => line.StartsWith("run ", StringComparison.Ordinal));
        Instant start = Noon + TimeSpan.FromDays(day);
        using StreamWriter tell = new(witness, append: true) { AutoFlush = true };
        (List<StoreRecord> stored, StoreRecovery recovery, long oldest) = ReadStore(directory);
        PlayedClock clock = new();
        long began = Stopwatch.GetTimestamp();
        using StoredHistory log = StoredHistory.Open(directory, Cap, start, clock);
        TimeSpan opening = Stopwatch.GetElapsedTime(began);
        string[] problems = [.. Compare(stored, oldest, log, lines), .. CompareEnd(recovery, lines, start - TimeSpan.FromDays(1), out double missing)];
        foreach (string problem in problems)
        {
            tell.WriteLine("problem " + problem);
        }

        tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"run {log.LastSequence} {opening.TotalMilliseconds:0} {missing:0} {string.Join(' ', log.Remarks)}"));
        for (int step = 0; writes; step++)
        {
            log.Write(BatchOf(start, step));
            clock.Seconds += step % SecondsToTheHour == SecondsToTheHour - 1 ? 3600 : 1;
            tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"kept {log.KeptUpTo} of {log.LastSequence} {step}"));
        }

        return 0;
    }

    /// <summary>Writes for some seconds onto a disk that remembers every write (dm-log-writes), and sets a mark there with each promise: "kept-SEQUENCE".</summary>
    internal static int Record(string directory, string device, int seconds)
    {
        PlayedClock clock = new();
        using StoredHistory log = StoredHistory.Open(directory, Cap, Noon, clock);
        long kept = 0;
        for (int step = 0; step < seconds; step++)
        {
            log.Write(BatchOf(Noon, step));
            clock.Seconds += step % RecordedSecondsToTheHour == RecordedSecondsToTheHour - 1 ? 3600 : 1;
            if (log.KeptUpTo > kept)
            {
                kept = log.KeptUpTo;
                DeviceMapper.Message(device, string.Create(CultureInfo.InvariantCulture, $"mark kept-{kept}"));
            }
        }

        return 0;
    }

    /// <summary>Mounts each of many disks, opens the log on it, and leaves a line for each: its name, then what is wrong, or "sound" and what the log itself says.</summary>
    /// <param name="folder">Files named NAME-PROMISED.img.</param>
    /// <param name="result">Takes the lines.</param>
    internal static int Judge(string folder, string result)
    {
        using StreamWriter tell = new(result) { AutoFlush = true };
        foreach (string disk in Directory.GetFiles(folder, "*.img").Order(StringComparer.Ordinal))
        {
            string name = Path.GetFileNameWithoutExtension(disk);
            tell.WriteLine($"{name}: {JudgeDisk(disk, name[(name.LastIndexOf('-') + 1)..])}");
        }

        return 0;
    }

    private static string JudgeDisk(string disk, string promised)
    {
        const string Mounted = "/run/disk";
        if (Programs.TryRun("mount", "-t", "ext4", "-o", "loop", disk, Mounted) is { } refused)
        {
            return "problem " + refused;
        }

        try
        {
            string directory = Path.Combine(Mounted, "log");
            (List<StoreRecord> stored, _, long oldest) = ReadStore(directory);
            using StoredHistory log = StoredHistory.Open(directory, Cap, Noon + TimeSpan.FromDays(1), new PlayedClock());
            string problems = string.Join("; ", Compare(stored, oldest, log, ["run 0", "kept " + promised]).Take(3));
            return problems.Length > 0 ? "problem " + problems : $"sound {string.Join(' ', log.Remarks)}";
        }
        catch (Exception problem) when (problem is HistoryException or IOException)
        {
            return "problem " + problem.Message;
        }
        finally
        {
            Programs.Run("umount", Mounted);
        }
    }

    /// <summary>A second row each second, a minute row each minute, and now and then an event, which must be on the disk at once.</summary>
    internal static HistoryBatch BatchOf(Instant start, int step)
    {
        TrafficRow row = new(start + TimeSpan.FromSeconds(step), 1, "can0", 0.25, 0.5, step, 0, 14);
        return new(
            [],
            step % 60 == 0 ? [(StoreSeries.Seconds, row), (StoreSeries.Minutes, row with { Seconds = 60 })] : [(StoreSeries.Seconds, row)],
            step % 17 == 0 ? [new(row.Start, "can0", (step % 14) + 1, NodeEventKind.Restarted, "1")] : []);
    }

    /// <summary>The index must equal the store, so the store is read by itself first. What is older than its oldest second row may have gone with those, which is no loss.</summary>
    internal static (List<StoreRecord> Records, StoreRecovery Recovery, long Oldest) ReadStore(string directory)
    {
        if (!Directory.Exists(directory))
        {
            return ([], new(null, false, 0, []), 0);
        }

        using RecordStore store = RecordStore.Open(new DiskStoreFiles(directory), StoreBudget.Of(Cap));
        return ([.. store.ReadAfter(0)], store.Recovery, store.FirstSequence(StoreSeries.Seconds));
    }

    private static IEnumerable<string> Compare(List<StoreRecord> stored, long oldest, StoredHistory log, string[] witness)
    {
        HashSet<long> there = [.. stored.Select(record => record.Sequence)];
        long first = 0;
        long kept = 0;
        foreach (string[] words in witness.Select(line => line.Split(' ')).Append(["run", "0"]))
        {
            if (words[0] == "run")
            {
                for (long sequence = first + 1; sequence <= kept; sequence++)
                {
                    if (sequence >= oldest && !there.Contains(sequence))
                    {
                        yield return string.Create(CultureInfo.InvariantCulture, $"record {sequence} had been kept and is gone");
                    }
                }

                first = kept = Number(words, 1);
            }
            else if (words[0] == "kept")
            {
                kept = Number(words, 1);
            }
        }

        foreach (StoreSeries tier in new[] { StoreSeries.Seconds, StoreSeries.Minutes })
        {
            int shown = log.ReadRows(tier, Noon - TimeSpan.FromDays(1), Noon + TimeSpan.FromDays(1000)).Count;
            int raw = stored.Count(record => record.Series == tier);
            if (shown != raw)
            {
                yield return string.Create(CultureInfo.InvariantCulture, $"{tier}: the log shows {shown} rows, the store has {raw}");
            }
        }
    }

    /// <summary>What the log says about when it was cut off must be so: the witness knows the last second that was written.</summary>
    private static string[] CompareEnd(StoreRecovery recovery, string[] witness, Instant start, out double missing)
    {
        string[] last = witness.Length > 0 && witness[^1].StartsWith("kept ", StringComparison.Ordinal) ? witness[^1].Split(' ') : [];
        if (last.Length < 5 || recovery.LastTime is not { } said)
        {
            missing = 0;
            return [];
        }

        Instant cut = start + TimeSpan.FromSeconds(Number(last, 4) + 1);
        missing = Math.Max(0, cut.SecondsSince(said));
        return recovery.IsCutOff && missing <= StoredHistory.LongestUnkept.TotalSeconds
            ? []
            : [string.Create(CultureInfo.InvariantCulture, $"cut off at {cut}, while the log says {said} (cut off: {recovery.IsCutOff})")];
    }

    /// <summary>A torn last line of the witness is no promise.</summary>
    private static long Number(string[] words, int place) => words.Length > place && long.TryParse(words[place], NumberStyles.None, CultureInfo.InvariantCulture, out long number) ? number : 0;
}
