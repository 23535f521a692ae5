using System.Globalization;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;
using Diagnostics.Can;

namespace Diagnostics.KernelGuest;

/// <summary>
/// A log on a disk whose power is cut at any moment. What was promised is told to a witness outside of this kernel, line by line: "run FIRST" when the log was opened,
/// "kept SEQUENCE" whenever more of it is on the disk. The next run opens the log and compares.
/// </summary>
internal static class LogSteps
{
    private const long Cap = 64L << 20;

    private static readonly Instant Noon = Instant.FromDateTime(new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));

    /// <summary>Judges what is there, then writes until the power goes, or ends as it should.</summary>
    internal static int Run(string directory, string witness, bool writes)
    {
        // The index must equal the store, and the store is read by itself first.
        List<StoreRecord> stored = [];
        long oldest = 0;
        if (Directory.Exists(directory))
        {
            using RecordStore store = RecordStore.Open(new DiskStoreFiles(directory), StoreBudget.Of(Cap));
            stored.AddRange(store.ReadAfter(0));

            // What is older may have gone with the oldest second rows, which is no loss.
            oldest = store.FirstSequence(StoreSeries.Seconds);
        }

        using StoredHistory log = StoredHistory.Open(directory, Cap, Noon, new FastClock());
        string[] lines = File.Exists(witness) ? File.ReadAllLines(witness) : [];
        using StreamWriter tell = new(witness, append: true) { AutoFlush = true };
        foreach (string problem in Compare(stored, oldest, log, lines))
        {
            tell.WriteLine("problem " + problem);
        }

        tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"run {log.LastSequence} {string.Join(' ', log.Remarks)}"));
        for (int step = 0; writes; step++)
        {
            TrafficRow row = new(Noon + TimeSpan.FromSeconds(step), 1, "can0", 0.25, 0.5, step, 0, 14);
            log.Write(new(
                [],
                step % 60 == 0 ? [(StoreSeries.Seconds, row), (StoreSeries.Minutes, row with { Seconds = 60 })] : [(StoreSeries.Seconds, row)],
                step % 17 == 0 ? [new(row.Start, "can0", (step % 14) + 1, NodeEventKind.Restarted, "1")] : []));
            tell.WriteLine(string.Create(CultureInfo.InvariantCulture, $"kept {log.KeptUpTo} of {log.LastSequence}"));
        }

        return 0;
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

                first = kept = Number(words);
            }
            else if (words[0] == "kept")
            {
                kept = Number(words);
            }
        }

        foreach (StoreSeries tier in new[] { StoreSeries.Seconds, StoreSeries.Minutes })
        {
            int indexed = log.ReadRows(tier, Noon - TimeSpan.FromDays(1), Noon + TimeSpan.FromDays(30)).Count;
            int raw = stored.Count(record => record.Series == tier);
            if (indexed != raw)
            {
                yield return string.Create(CultureInfo.InvariantCulture, $"{tier}: the index has {indexed} rows, the store {raw}");
            }
        }

        // A torn last line of the witness is no promise.
        static long Number(string[] words) => words.Length > 1 && long.TryParse(words[1], NumberStyles.None, CultureInfo.InvariantCulture, out long number) ? number : 0;
    }

    /// <summary>A hundred times as fast as life, so that an hour's feeding of the index comes every 36 seconds.</summary>
    private sealed class FastClock : TimeProvider
    {
        public override long TimestampFrequency => System.TimestampFrequency / 100;

        public override long GetTimestamp() => System.GetTimestamp();
    }
}
