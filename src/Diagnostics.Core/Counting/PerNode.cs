using Diagnostics.Can;

namespace Diagnostics.Core.Counting;

/// <summary>Tables with a place for each CANopen address, 0–127.</summary>
internal static class PerNode
{
    public const int Count = 128;

    /// <summary>A time for each node, none of which has come yet.</summary>
    public static Instant[] Never(int each = 1)
    {
        Instant[] times = new Instant[Count * each];
        Array.Fill(times, Instant.MinValue);
        return times;
    }
}
