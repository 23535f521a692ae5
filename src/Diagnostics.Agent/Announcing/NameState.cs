namespace Diagnostics.Agent.Announcing;

/// <summary>How a name stands on a link.</summary>
internal enum NameState
{
    /// <summary>It is asked whether somebody has it.</summary>
    Probing,

    /// <summary>It is ours.</summary>
    Held,

    /// <summary>It is another device's.</summary>
    Taken,
}
