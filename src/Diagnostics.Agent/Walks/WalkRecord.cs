using Diagnostics.Agent.Activities;
using Diagnostics.Can;

namespace Diagnostics.Agent.Walks;

/// <summary>How a walk test stands: a person operates every input in turn, and what arrives is ticked off.</summary>
/// <param name="Start">When it began, as people read time.</param>
/// <param name="End">When it was ended; null while it goes on.</param>
/// <param name="Inputs">Those of the record and those that were heard, by interface, node and number.</param>
internal sealed record WalkRecord(Instant Start, Instant? End, IReadOnlyList<WalkedInput> Inputs)
{
    /// <summary>Frames were lost meanwhile, so that an operation may have been missed.</summary>
    public bool WasBlind { get; init; }

    public int Heard => Inputs.Count(input => input.Operations > 0);
}

/// <summary>One input in a walk test.</summary>
/// <param name="Point">Which.</param>
/// <param name="IsBuilt">It stands in the as-built record.</param>
internal sealed record WalkedInput(Point Point, bool IsBuilt)
{
    /// <summary>How often it became active.</summary>
    public int Operations { get; init; }

    /// <summary>All its changes: more than two for each operation is bounce.</summary>
    public int Changes { get; init; }

    /// <summary>When it was last operated.</summary>
    public Instant? Last { get; init; }

    /// <summary>How long it was active the last time, seconds; null while it still is.</summary>
    public double? PressSeconds { get; init; }

    /// <summary>The shortest time between two of its changes, seconds.</summary>
    public double? ShortestSeconds { get; init; }

    /// <summary>Outputs that changed soon after it, the last time each.</summary>
    public IReadOnlyList<Reaction> Reactions { get; init; } = [];
}

/// <param name="Output">What changed.</param>
/// <param name="Active">What it became.</param>
/// <param name="IsReport">The node reports it; otherwise it was commanded.</param>
/// <param name="AfterSeconds">From the input's change to this.</param>
internal readonly record struct Reaction(Point Output, bool Active, bool IsReport, double AfterSeconds)
{
    /// <summary>How many of the input's operations it came after: what only happened meanwhile comes after few.</summary>
    public int Operations { get; init; }

    /// <summary>The last of these, counted from 1: a lamp that goes on and off again after one press came once.</summary>
    public int LastOperation { get; init; }
}
