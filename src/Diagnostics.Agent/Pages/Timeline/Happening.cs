using Diagnostics.Can;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Pages.Timeline;

/// <summary>One row of what happened.</summary>
/// <param name="Time">When.</param>
/// <param name="Rank">What is told first where there is no room for all; 0 is the weightiest.</param>
/// <param name="Shape">A sign before it.</param>
/// <param name="What">In words.</param>
internal sealed record Happening(Instant Time, int Rank, string Shape, Sentence What)
{
    /// <summary>Kept frames around it, that can be looked at.</summary>
    public bool HasFrames { get; init; }

    /// <summary>Where more of it stands; null = nowhere.</summary>
    public string? Card { get; init; }
}
