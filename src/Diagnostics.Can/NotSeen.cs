namespace Diagnostics.Can;

/// <summary>Why part of the traffic may be missing.</summary>
public enum NotSeenKind : byte
{
    /// <summary>The kernel dropped frames of this socket (SO_RXQ_OVFL), or the controller reported a receive overflow.</summary>
    KernelDropped,

    /// <summary>Our own queue between reader and analyzer was full.</summary>
    QueueDropped,

    /// <summary>Records of a trace that could not be read.</summary>
    DamagedRecords,

    /// <summary>The interface was down, absent or not being read.</summary>
    InterfaceDown,

    /// <summary>The agent itself was late or suspended.</summary>
    AgentLate,

    /// <summary>The source's clock stepped: frames are there, but how much time passed isn't known.</summary>
    ClockStep,

    /// <summary>The stamps leapt, and nobody can tell whether their clock stepped or nothing was sent for so long.</summary>
    StepOrSilence,

    /// <summary>The trace ends in the middle of a record.</summary>
    BrokenOff,

    /// <summary>Between two files of a trace: nobody says that it was listened at all.</summary>
    NotRecorded,
}

/// <summary>
/// A span of time in which frames may have been lost on our own side, so that absence proves nothing.
/// <see cref="Count"/> = frames or records lost where known, otherwise 0. <see cref="Interface"/> = <see cref="AllInterfaces"/> where all are hit.
/// </summary>
public readonly record struct NotSeen(NotSeenKind Kind, byte Interface, Instant Start, Instant End, long Count, string Why)
{
    public const byte AllInterfaces = 255;

    /// <summary>What <see cref="Why"/> is made from, to be said in another language; null where it has no parameters. It tells no two entries apart.</summary>
    public FormattableString? Wording { get; init; }

    /// <param name="why">Why, with its parameters, each a number, a name or such a text itself.</param>
    public static NotSeen Because(NotSeenKind kind, byte index, Instant start, Instant end, long count, FormattableString why) =>
        new(kind, index, start, end, count, FormattableString.Invariant(why)) { Wording = why };

    public bool Equals(NotSeen other) =>
        (Kind, Interface, Start, End, Count, Why) == (other.Kind, other.Interface, other.Start, other.End, other.Count, other.Why);

    public override int GetHashCode() => HashCode.Combine(Kind, Interface, Start, End, Count, Why);
}
