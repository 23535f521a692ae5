using System.Text.Json;
using Diagnostics.Agent.Captures;
using Diagnostics.Agent.History;
using Diagnostics.Agent.History.Store;

namespace Diagnostics.Agent.Bundles;

/// <summary>
/// Takes out of the store what shows when people were present, for a bundle that is to go without it: the series of input changes, and what is told around each mark, which names
/// changes of inputs one by one. Findings stay as they are, those about inputs with their evidence: without it nobody could say what is wrong.
/// </summary>
internal static class PresenceFilter
{
    /// <summary>Whether a segment file stays behind altogether.</summary>
    public static bool LeavesOut(string name) => name.StartsWith(RecordStore.NamePrefix(StoreSeries.Inputs), StringComparison.Ordinal);

    /// <summary>A segment made anew from its whole records, so that nothing goes out that can't be read here.</summary>
    /// <returns>Null where the file isn't readable at all, or is one that stays behind under a false name.</returns>
    public static byte[]? Apply(ReadOnlyMemory<byte> segment)
    {
        SegmentContent content = SegmentFormat.Read(segment);
        if (content.IsHeaderDamaged || content.Version > SegmentFormat.Version || content.Series == StoreSeries.Inputs)
        {
            return null;
        }

        List<StoreRecord> records = [.. content.Records.Select(record => record.Kind == RecordKind.Capture ? WithoutStory(record) : record).OfType<StoreRecord>()];
        byte[] bytes = new byte[SegmentFormat.HeaderBytes + records.Sum(record => SegmentFormat.SizeOf(record.Payload.Length))];
        SegmentFormat.WriteHeader(bytes, content.Series, content.FirstSequence);
        int position = SegmentFormat.HeaderBytes;
        foreach (StoreRecord record in records)
        {
            int size = SegmentFormat.SizeOf(record.Payload.Length);
            SegmentFormat.WriteRecord(bytes.AsSpan(position, size), record);
            position += size;
        }

        return bytes;
    }

    private static StoreRecord? WithoutStory(StoreRecord record)
    {
        try
        {
            return JsonSerializer.Deserialize(record.Payload.Span, HistoryJson.Default.Capture) is { } capture
                ? record with { Payload = JsonSerializer.SerializeToUtf8Bytes(capture with { Story = null }, HistoryJson.Default.Capture) }
                : null;
        }
        catch (JsonException)
        {
            return null;
        }
    }
}
