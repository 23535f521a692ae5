using Diagnostics.Agent.Buses;
using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>Recorded traffic through an analysis, from its first frame to its last: the same for every command that takes a trace.</summary>
internal static class TraceReading
{
    /// <summary>Hands everything over, then prints what a reader should know about how it was read.</summary>
    /// <param name="source">The trace.</param>
    /// <param name="sink">The analysis.</param>
    /// <param name="context">Of the command.</param>
    /// <param name="cancellation">Ends it.</param>
    /// <param name="remedy">What to name in place of something that is no trace, where the command takes more than traces.</param>
    /// <exception cref="SettingException">It is no trace, or can't be read.</exception>
    public static void ToEnd(IBusSource source, IFrameSink sink, CommandContext context, CancellationToken cancellation, string? remedy = null)
    {
        try
        {
            while (source.Read(sink, Timeout.InfiniteTimeSpan, cancellation))
            {
                cancellation.ThrowIfCancellationRequested();
            }
        }
        catch (NotATraceException other) when (remedy is not null)
        {
            throw new SettingException(other.Which, other.Why, remedy);
        }

        foreach (Sentence remark in source.Remarks)
        {
            context.PrintError("note: " + SettingException.OneLine(remark.English));
        }
    }
}
