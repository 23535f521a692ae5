using Diagnostics.Can;

namespace Diagnostics.Agent.Activities;

/// <summary>What was heard of one input or output.</summary>
/// <param name="Point">Which.</param>
/// <param name="Changes">The latest, oldest first.</param>
/// <param name="Count">All changes since the analysis began, those that are no longer kept included.</param>
internal sealed record PointState(Point Point, IReadOnlyList<PointChange> Changes, long Count)
{
    /// <summary>As it was heard last.</summary>
    public PointChange Latest => Changes[^1];
}

/// <param name="Time">When it was heard.</param>
/// <param name="Active">What it became.</param>
/// <param name="IsReport">A node reports its own output; otherwise an output was commanded, or an input changed.</param>
internal readonly record struct PointChange(Instant Time, bool Active, bool IsReport);
