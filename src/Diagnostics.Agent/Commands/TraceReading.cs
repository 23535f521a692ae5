using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Commands;

/// <summary>Recorded traffic through an analysis, from its first frame to its last: the same for every command that takes a trace.</summary>
internal static class TraceReading
{
    /// <summary>Hands everything over, then prints what a reader should know about how it was read.</summary>
    public static void ToEnd(IBusSource source, IFrameSink sink, CommandContext context, CancellationToken cancellation)
    {
        while (source.Read(sink, Timeout.InfiniteTimeSpan, cancellation))
        {
            cancellation.ThrowIfCancellationRequested();
        }

        foreach (Sentence remark in source.Remarks)
        {
            context.PrintError("note: " + SettingException.OneLine(remark.English));
        }
    }
}
