using Diagnostics.Can;

namespace Diagnostics.Agent.History;

/// <summary>What the log remembers of a node. The names are stored, so none is ever renamed.</summary>
internal enum NodeEventKind
{
    /// <summary>Heard for the first time.</summary>
    Appeared,

    /// <summary>Its state changed; the detail is the new one.</summary>
    State,

    /// <summary>It announced restarts; the detail is how many since the start of the analysis.</summary>
    Restarted,

    /// <summary>Not heard within its time.</summary>
    Silent,

    /// <summary>Heard again.</summary>
    Returned,

    /// <summary>From here on its silence would not be noticed: it never had a rhythm, or that holds no longer.</summary>
    CannotTell,

    /// <summary>It has a rhythm after all, or again.</summary>
    CanTell,
}

/// <summary>One event in the life of a node, at the end of the second in which it was noticed, or at the frame that shows it.</summary>
internal sealed record NodeEvent(Instant Time, string Interface, int Address, NodeEventKind Kind, string? Detail);
