using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.History.Store;

/// <summary>What opening the store found.</summary>
/// <param name="LastTime">Time of the last whole record, on the line of the run that wrote it; null for an empty store.</param>
/// <param name="IsCutOff">The last run didn't end as it should: what it had heard up to <see cref="RecordStore.FlushInterval"/> before its end may be missing.</param>
/// <param name="TornBytes">Bytes of writes that were cut in the middle.</param>
/// <param name="Damaged">Files, or stretches of files, that hold something which is no record; each as a sentence's part.</param>
internal sealed record StoreRecovery(Instant? LastTime, bool IsCutOff, long TornBytes, IReadOnlyList<Sentence> Damaged);
