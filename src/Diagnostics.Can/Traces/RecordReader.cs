namespace Diagnostics.Can.Traces;

/// <summary>One interface of a capture file: what is known of how its records are written.</summary>
internal sealed class RecordSource(byte index)
{
    public readonly byte Index = index;

    /// <summary>Bytes 5–7 of its records hold garbage.</summary>
    public bool Unreliable;

    public bool Decided;
    public bool LittleEndian;

    /// <summary>Records that only big-endian identifiers make sense of, less those that only little-endian ones do.</summary>
    public int Lead;
}

/// <summary>
/// Turns records into frames. The rule says big-endian identifiers, but some writers leave them little-endian, so the first records of
/// an interface are held back until three more speak for one order than for the other, or <see cref="TraceLimits.UndecidedRecords"/> wait.
/// </summary>
internal sealed class RecordReader(TraceOutput output)
{
    private const int LeadThatDecides = 3;
    private readonly List<(RecordSource Source, Instant Time, byte[] Bytes, RecordKind Kind, FrameFlags Extra, long Place)> _waiting = [];

    public void Read(RecordSource source, Instant time, ReadOnlySpan<byte> record, RecordKind kind, FrameFlags extra, long place)
    {
        if (source.Decided && _waiting.Count == 0)
        {
            Decode(source, time, record, kind, extra, place);
            return;
        }

        if (!source.Decided)
        {
            source.Lead += SocketCanRecord.ByteOrderEvidence(record);
            source.Decided = Math.Abs(source.Lead) >= LeadThatDecides;
        }

        _waiting.Add((source, time, record[..Math.Min(record.Length, TraceLimits.CanRecordBytes)].ToArray(), kind, extra, place));
        if (_waiting.Count >= TraceLimits.UndecidedRecords || (source.Decided && _waiting.TrueForAll(held => held.Source.Decided)))
        {
            Settle();
        }
    }

    /// <summary>Decides with what there is, and lets go what waits; without evidence the rule holds.</summary>
    public void Settle()
    {
        if (_waiting.Count == 0)
        {
            return;
        }

        foreach ((RecordSource source, Instant time, byte[] bytes, RecordKind kind, FrameFlags extra, long place) in _waiting)
        {
            source.Decided = true;
            if (!source.LittleEndian && source.Lead < 0)
            {
                source.LittleEndian = true;
                output.Remark($"The identifiers of {output.InterfaceName(source.Index)} are stored little-endian, against the rule of this link type; they were read so.");
            }

            Decode(source, time, bytes, kind, extra, place);
        }

        _waiting.Clear();
    }

    private void Decode(RecordSource source, Instant time, ReadOnlySpan<byte> record, RecordKind kind, FrameFlags extra, long place)
    {
        CanFrame frame = default;
        TraceDamage damage = SocketCanRecord.Read(record, source.LittleEndian, kind, ref source.Unreliable, ref frame);
        if (damage != TraceDamage.None)
        {
            output.Damaged(damage, place);
            return;
        }

        frame.Time = time;
        frame.Interface = source.Index;
        frame.Flags |= extra;
        output.Frame(in frame);
    }
}
