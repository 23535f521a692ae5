using System.Globalization;
using Diagnostics.Agent.Boards;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>
/// A log on a card that lies or dies for a while (dm-flakey): writes are reported as done and dropped, or fail. What was promised before and behind that must be there, and whatever became of
/// the rest, the log opens.
/// </summary>
internal static class FlakySteps
{
    private const string Device = "card";
    private const string Mounted = "/run/disk";
    private const string Directory = Mounted + "/log";

    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    /// <summary>Leaves lines: what happened, in its order.</summary>
    /// <param name="lower">The device below.</param>
    /// <param name="sectors">Its size.</param>
    /// <param name="file">Takes the lines.</param>
    internal static int Run(string lower, string sectors, string file)
    {
        using StreamWriter tell = new(file) { AutoFlush = true };
        string sound = $"0 {sectors} linear {lower} 0";
        Programs.Run("dmsetup", "--noudevsync", "create", Device, "--table", sound);
        Mount();
        DropWrites(tell, sound, $"0 {sectors} flakey {lower} 0 0 3600 1 drop_writes");
        FailWrites(tell, sound, $"0 {sectors} flakey {lower} 0 0 3600 1 error_writes");
        Programs.Run("mount", "-o", "remount,ro", Mounted);
        tell.WriteLine($"read-only: the disk can only be read {new BoardFiles("/", Directory).Read().DiskIsReadOnly}");
        Programs.Run("umount", Mounted);
        return 0;
    }

    /// <summary>A card that says "written" and isn't: nothing can be noticed while the kernel still has it in memory.</summary>
    private static void DropWrites(StreamWriter tell, string sound, string dropping)
    {
        long before;
        long behind;
        PlayedClock clock = new();
        using (StoredHistory log = StoredHistory.Open(Directory, LogSteps.Cap, Noon, clock))
        {
            Write(log, clock, 0, 300);
            before = log.KeptUpTo;
            DeviceMapper.Load(Device, dropping);

            // Longer than a block of second rows.
            Write(log, clock, 300, 400);
            DeviceMapper.Load(Device, sound);
            behind = log.KeptUpTo;
            Write(log, clock, 700, 300);
        }

        // What the kernel has in memory goes, and the card is asked.
        Programs.Run("umount", Mounted);
        Mount();
        (List<StoreRecord> stored, _, _) = LogSteps.ReadStore(Directory);
        HashSet<long> there = [.. stored.Select(record => record.Sequence)];
        using StoredHistory again = StoredHistory.Open(Directory, LogSteps.Cap, Noon + TimeSpan.FromDays(1), new PlayedClock());
        Count(tell, "dropped writes: missing before", Sequences(1, before), there);
        Count(tell, "dropped writes: missing meanwhile", Sequences(before + 1, behind - before), there);
        Count(tell, "dropped writes: missing behind", Sequences(behind + 1, again.LastSequence - 1 - behind), there);
        tell.WriteLine("dropped writes: the log says " + string.Join(' ', again.Remarks));
    }

    /// <summary>A card that fails, comes back, fails again until the file system gives up, and is mounted anew.</summary>
    private static void FailWrites(StreamWriter tell, string sound, string failing)
    {
        long before;
        PlayedClock clock = new();
        using (StoredHistory log = StoredHistory.Open(Directory, LogSteps.Cap, Noon + TimeSpan.FromDays(2), clock))
        {
            Write(log, clock, 0, 100);
            tell.WriteLine($"before: the disk can only be read {new BoardFiles("/", Directory).Read().DiskIsReadOnly}");
            DeviceMapper.Load(Device, failing);
            tell.WriteLine("failing writes: told " + (Write(log, clock, 100, 20) ?? "nothing"));
            DeviceMapper.Load(Device, sound);
            Write(log, clock, 120, 10);
            tell.WriteLine("failing writes: when it is well again, told " + (Write(log, clock, 130, 100) ?? "nothing"));
            before = log.KeptUpTo;
            tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"failing writes: not kept {log.LastSequence - before}"));

            // Its journal can't be written either, so the file system gives up.
            DeviceMapper.Load(Device, failing);
            Programs.TryRun("sync");
            Programs.TryRun("touch", Mounted + "/anything");
            Programs.TryRun("sync");
            tell.WriteLine("given up: told " + (Write(log, clock, 230, 30) ?? "nothing"));
            DeviceMapper.Load(Device, sound);
            tell.WriteLine("given up: when the card is well again, told " + (Write(log, clock, 260, 30) ?? "nothing"));
        }

        Programs.Run("umount", Mounted);
        Mount();
        (List<StoreRecord> stored, _, long oldest) = LogSteps.ReadStore(Directory);
        using StoredHistory again = StoredHistory.Open(Directory, LogSteps.Cap, Noon + TimeSpan.FromDays(3), new PlayedClock());
        long first = stored.Last(record => record.Kind == RecordKind.Started).Sequence;
        Count(tell, "given up: missing of what was kept", Sequences(first, before - first + 1), [.. stored.Select(record => record.Sequence)]);
        tell.WriteLine("given up: the log says " + string.Join(' ', again.Remarks));
    }

    private static IEnumerable<long> Sequences(long first, long count) => Enumerable.Range(0, (int)count).Select(n => first + n);

    private static void Count(StreamWriter tell, string what, IEnumerable<long> sequences, HashSet<long> there) =>
        tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{what} {sequences.Count(sequence => !there.Contains(sequence))} of {sequences.Count()}"));

    /// <returns>What the log told last; null where all was well.</returns>
    private static string? Write(StoredHistory log, PlayedClock clock, int first, int seconds)
    {
        string? told = null;
        for (int step = first; step < first + seconds; step++)
        {
            try
            {
                log.Write(LogSteps.BatchOf(Noon, step));
            }
            catch (HistoryException problem)
            {
                told = problem.Message.ReplaceLineEndings(" ");
            }

            clock.Seconds++;
        }

        return told;
    }

    private static void Mount() => Programs.Run("mount", "-t", "ext4", "/dev/dm-0", Mounted);
}
