using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>A change of an input. It shows that somebody was there, so it is kept apart, for a time of its own.</summary>
/// <param name="Time">When.</param>
/// <param name="Interface">Name of the interface.</param>
/// <param name="Node">The board that it sits on.</param>
/// <param name="Input">Its number, as the object dictionary counts.</param>
/// <param name="Active">What it became.</param>
internal sealed record InputEvent(Instant Time, string Interface, int Node, int Input, bool Active)
{
    /// <summary>Further changes of the same minute that aren't kept one by one: an input that flutters would fill the card.</summary>
    public int? More { get; init; }
}
