using Diagnostics.Agent.Boards;
using Diagnostics.Agent.Captures;
using Diagnostics.Can;
using Diagnostics.Core.Soak;

namespace Diagnostics.Agent.Chronicles;

/// <summary>What happened between two moments, in columns of one length. All times are those of the wall.</summary>
/// <param name="From">Beginning of the first column.</param>
/// <param name="Step">Length of a column.</param>
/// <param name="Count">How many there are.</param>
internal sealed record Stretch(Instant From, TimeSpan Step, int Count)
{
    public Instant To => From + (Step * Count);

    /// <summary>The first and the last moment that anything at all is known of.</summary>
    public (Instant? First, Instant? Last) Reach { get; init; }

    public IReadOnlyList<BusStretch> Buses { get; init; } = [];

    /// <summary>What sensors measured; empty where nothing was in this stretch.</summary>
    public IReadOnlyList<MeasuredStretch> Measured { get; init; } = [];

    /// <summary>By interface and address.</summary>
    public IReadOnlyList<NodeStretch> Nodes { get; init; } = [];

    /// <summary>Worst first, then in order of time.</summary>
    public IReadOnlyList<FindingEpisode> Findings { get; init; } = [];

    /// <summary>Marks, and frames that were kept.</summary>
    public IReadOnlyList<Capture> Captures { get; init; } = [];

    public IReadOnlyList<BoardEvent> Board { get; init; } = [];

    public IReadOnlyList<SoakRecord> Soaks { get; init; } = [];

    /// <summary>The service began.</summary>
    public IReadOnlyList<Instant> Starts { get; init; } = [];

    /// <summary>Spans of which nothing is known, within what the log reaches over.</summary>
    public IEnumerable<(Instant From, Instant To)> BlindSpans() =>
        Reach is { First: { } first, Last: { } last }
            ? NotSeen().Select(span => (Instant.Max(StartOf(span.First), first), Instant.Min(StartOf(span.Last + 1), last)))
            : [];

    /// <summary>The same as columns.</summary>
    public IEnumerable<(int First, int Last)> NotSeen()
    {
        int? begin = null;
        for (int column = 0; column <= Count; column++)
        {
            bool isBlind = column < Count && IsWithinReach(column) && Buses.All(bus => !bus.Columns[column].IsSeen);
            if (isBlind)
            {
                begin ??= column;
            }
            else if (begin is { } first)
            {
                yield return (first, column - 1);
                begin = null;
            }
        }
    }

    public Instant StartOf(int column) => From + (Step * column);

    /// <summary>The column that a moment lies in, or the nearest.</summary>
    public int ColumnOf(Instant time) => (int)Math.Clamp(Math.Floor(time.SecondsSince(From) / Step.TotalSeconds), 0, Count - 1);

    public bool IsWithinReach(int column) => Reach is { First: { } first, Last: { } last } && StartOf(column + 1) > first && StartOf(column) < last;
}
