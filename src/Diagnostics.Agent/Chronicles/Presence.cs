namespace Diagnostics.Agent.Chronicles;

/// <summary>What is known of a node in a stretch of time; where several hold, the later one here is what counts.</summary>
internal enum Presence : byte
{
    /// <summary>Nothing: it hadn't been heard yet, or nobody listened.</summary>
    Nothing,

    /// <summary>Heard within its time.</summary>
    Heard,

    /// <summary>It has nothing by which its silence would be noticed.</summary>
    CannotTell,

    /// <summary>It should have been heard and wasn't.</summary>
    Silent,
}
