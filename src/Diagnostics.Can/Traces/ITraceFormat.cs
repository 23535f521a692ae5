namespace Diagnostics.Can.Traces;

/// <summary>One format's reader. <see cref="TraceParser"/> keeps the bytes that weren't consumed and offers them again with more behind.</summary>
internal interface ITraceFormat
{
    /// <summary>Bytes that must be on offer before the next call can get anywhere; at most <see cref="TraceLimits.BlockBytes"/>.</summary>
    int Needed { get; }

    /// <summary>Reads what is complete and returns how many bytes were consumed; with <paramref name="end"/> nothing follows.</summary>
    int Consume(ReadOnlySpan<byte> bytes, bool end);

    /// <summary>All bytes were offered; so many could not be consumed.</summary>
    void Complete(int left);
}
