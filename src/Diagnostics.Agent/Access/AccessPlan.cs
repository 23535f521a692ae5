using System.Net;
using Diagnostics.Core.Wording;

namespace Diagnostics.Agent.Access;

/// <summary>Where other devices are served at this moment, and why not everywhere that was asked for.</summary>
/// <param name="ListenOn">Addresses; empty = none.</param>
/// <param name="Obstacle">What is in the way and what to do; null = nothing.</param>
internal sealed record AccessPlan(IReadOnlyList<IPAddress> ListenOn, Sentence? Obstacle)
{
    public static readonly AccessPlan LoopbackOnly = new([], null);

    public bool Equals(AccessPlan? other) => other is not null && ListenOn.SequenceEqual(other.ListenOn) && Equals(Obstacle, other.Obstacle);

    public override int GetHashCode() => HashCode.Combine(ListenOn.Count, Obstacle);
}
