using Diagnostics.Core.Reporting;

namespace Diagnostics.Core.Comparison;

/// <summary>One device in one period.</summary>
/// <param name="Address">Of the node.</param>
/// <param name="Name">Of the as-built record, or its own; null = none is known.</param>
public sealed record ObservedNode(int Address, string? Name)
{
    /// <summary>It was still there at the end; null where its silence can't be noticed.</summary>
    public bool? IsPresent { get; init; }

    /// <summary>Null = not counted on this side.</summary>
    public long? Frames { get; init; }

    /// <summary>Damaged frames that were laid to it; null = not counted on this side.</summary>
    public long? Errors { get; init; }

    /// <summary>Restarts of any kind; null = not counted on this side.</summary>
    public int? Restarts { get; init; }

    /// <summary>s; null where its silence can't be noticed, or this side doesn't say.</summary>
    public double? SilenceNoticedWithinSeconds { get; init; }

    public string? Serial { get; init; }

    public static ObservedNode Of(NodeReport node) => new(node.Address, node.Name ?? node.Identity.Name)
    {
        IsPresent = node.Present,
        Frames = Math.Max(0, node.Frames),
        Errors = ObservedBus.Bounded(node.ErrorsOnItsFrames),
        Restarts = node.Restarts,
        SilenceNoticedWithinSeconds = node.SilenceNoticedWithinSeconds,
        Serial = node.Identity.Serial,
    };
}
